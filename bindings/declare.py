#!/usr/bin/env python3
"""Writes what the bindings declare of the C interface, from its headers, which are its only description:

    bindings/python/faultodds/_declarations.py   structs and signatures for ctypes
    bindings/node/src/declarations.ts            structs and prototypes for koffi

usage: declare.py [--check]     --check writes nothing and fails where a file is not what would be written.

It reads C as the headers are written and no other: structs by typedef, FAULTODDS_API before each function, a
comment after a member. What it does not know it refuses.
"""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
HEADERS = ["faultodds.h", "faultodds_circuit.h", "faultodds_network.h"]
OPAQUE = {"faultodds_error", "faultodds_model", "faultodds_case", "faultodds_cancel", "faultodds_network",
          "faultodds_network_case"}
INTEGERS = {"faultodds_status": "int32_t", "faultodds_kind": "int32_t", "faultodds_network_format": "int32_t"}
CALLBACKS = {"faultodds_progress", "faultodds_write"}


def declarations():
    """[(struct, [(type, member)])], [(type, function, [(type, parameter)])], in the order of the headers."""
    structs, functions = [], []
    for name in HEADERS:
        text = re.sub(r"/\*.*?\*/", "", (ROOT / "capi" / name).read_text(encoding="utf-8"), flags=re.DOTALL)
        text = re.sub(r"^\s*#.*$", "", text, flags=re.MULTILINE)
        for members, struct in re.findall(r"typedef struct \w+ \{(.*?)\} (\w+);", text, re.DOTALL):
            structs.append((struct, [declared(m) for m in members.split(";") if m.strip()]))
        for line in re.findall(r"FAULTODDS_API ([^;]*);", text):
            begin, parameters = " ".join(line.split()).rstrip(")").split("(", 1)
            result, function = declared(begin)
            listed = [] if parameters == "void" else [declared(p) for p in parameters.split(",")]
            functions.append((result, function, listed))
    return structs, functions


def declared(text):
    """"const char* id" as its type and name; an array is a pointer, const says nothing to a binding."""
    text = " ".join(re.sub(r"\bconst\b", "", re.sub(r"(\w+)\[\d*\]", r"* \1", text)).split())
    stars = text.count("*")
    words = text.replace("*", " ").split()
    if len(words) != 2:
        raise SystemExit(f"cannot read the declaration `{text}`")
    return INTEGERS.get(words[0], words[0]) + "*" * stars, words[1]


def class_name(struct):
    return "".join(word.capitalize() for word in struct.removeprefix("faultodds_").split("_"))


def is_struct(kind, structs):
    return kind in {name for name, _ in structs}


# ---- Python ---------------------------------------------------------------------------------------

CTYPES = {"int32_t": "ctypes.c_int32", "uint32_t": "ctypes.c_uint32", "uint64_t": "ctypes.c_uint64",
          "size_t": "ctypes.c_size_t", "double": "ctypes.c_double", "char*": "ctypes.c_char_p", "void*": "ctypes.c_void_p",
          "char**": "ctypes.POINTER(OwnedText)", "void": "None"}


def python_type(kind, structs, function="", name=""):
    if function == "faultodds_free" and kind == "char*":
        return "OwnedText"
    if kind == "char**" and name == "packs":  # the only texts that come as a list
        return "ctypes.POINTER(ctypes.c_char_p)"
    if kind in CTYPES:
        return CTYPES[kind]
    bare = kind.rstrip("*")
    stars = len(kind) - len(bare)
    if bare in CALLBACKS and stars == 0:
        return class_name(bare)
    if bare in OPAQUE and stars == 1:
        return "Handle"
    if bare in OPAQUE and stars == 2:
        return "ctypes.POINTER(Handle)"
    if is_struct(bare, structs) and stars == 1:
        return f"ctypes.POINTER({class_name(bare)})"
    if bare in CTYPES and stars == 1:
        return f"ctypes.POINTER({CTYPES[bare]})"
    raise SystemExit(f"{function}: no type of ctypes is known for `{kind}`")


def python(structs, functions):
    lines = ['"""What the binding declares of the C interface. Written by bindings/declare.py; not to be edited."""',
             "", "import ctypes", "",
             "# Strings that the caller frees: as c_void_p, since ctypes would copy a c_char_p and lose its address.",
             "OwnedText = ctypes.c_void_p", "Handle = ctypes.c_void_p",
             "Progress = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_uint64)",
             "Write = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t)"]
    for struct, members in structs:
        lines += ["", "", f"class {class_name(struct)}(ctypes.Structure):", f'    """{struct}."""', "",
                  "    _fields_ = ["]
        lines += [f'        ("{name}", {python_type(kind, structs)}),' for kind, name in members]
        lines += ["    ]"]
    lines += ["", "", "# By name: what it returns, and what it takes.", "SIGNATURES = {"]
    for result, function, parameters in functions:
        types = [python_type(kind, structs, function, name) for kind, name in parameters]
        head = f'    "{function}": ({python_type(result, structs, function)}, ['
        whole = head + ", ".join(types) + "]),"
        if len(whole) <= 100:
            lines.append(whole)
        else:
            lines += [head, *(f"        {t}," for t in types), "    ]),"]
    lines += ["}", ""]
    return "\n".join(lines)


# ---- Node -----------------------------------------------------------------------------------------

# Bytes go in as they are, without a terminator.
def koffi_type(kind, structs, function="", name=""):
    bare = kind.rstrip("*")
    stars = len(kind) - len(bare)
    if function and kind == "char*" and function != "faultodds_free":
        return "uint8_t*"
    if kind == "char*":
        return "void*" if function else "uint8_t*"
    if kind == "char**":
        return "uint8_t**" if name == "packs" else "_Out_ void**"
    if bare in CALLBACKS:
        return f"{bare}*"
    if bare in OPAQUE:
        if name == "cases":
            return "void**"
        return "void*" if stars == 1 else "_Out_ void**"
    if is_struct(bare, structs):
        filled = name in {"counters", "summary", "causes", "test", "statistics"}
        return ("_Inout_ " if filled else "") + kind
    if stars == 1 and name in {"index", "count", "written", "log_evidence", "state", "statuses"} or name == "variable" and stars:
        return f"_Out_ {kind}"
    return kind


def node(structs, functions):
    lines = ["/** What the binding declares of the C interface. Written by bindings/declare.py; not to be edited. */",
             'import koffi from "koffi";', "",
             'koffi.proto("int32_t faultodds_progress(void* context, uint64_t done)");',
             'koffi.proto("int32_t faultodds_write(void* context, void* text, size_t text_len)");']
    for struct, members in structs:
        lines += ["", f'const {struct.removeprefix("faultodds_")} = koffi.struct("{struct}", {{']
        lines += [f'  {name}: "{koffi_type(kind, structs)}",' for kind, name in members]
        lines += ["});"]
    lines += ["", "/** Sizes of the structs, for their `struct_size`. */", "export const SIZES = {"]
    lines += [f"  {s.removeprefix('faultodds_')}: koffi.sizeof({s.removeprefix('faultodds_')})," for s, _ in structs]
    lines += ["};", "", "/** Prototypes as koffi reads them. */", "export const PROTOTYPES = ["]
    for result, function, parameters in functions:
        returned = "const char*" if result == "char*" else result
        listed = ", ".join(f"{koffi_type(kind, structs, function, name)} {name}" for kind, name in parameters)
        lines.append(f'  "{returned} {function}({listed})",')
    lines += ["];", ""]
    return "\n".join(lines)


def main():
    structs, functions = declarations()
    files = {"bindings/python/faultodds/_declarations.py": python(structs, functions),
             "bindings/node/src/declarations.ts": node(structs, functions)}
    stale = []
    for name, text in files.items():
        path = ROOT / name
        if "--check" in sys.argv[1:]:
            if not path.exists() or path.read_text(encoding="utf-8") != text:
                stale.append(name)
        else:
            path.write_text(text, encoding="utf-8")
    if stale:
        sys.exit(f"not as the headers say: {', '.join(stale)}; run bindings/declare.py")


if __name__ == "__main__":
    main()
