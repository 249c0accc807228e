"""Structs and signatures for ctypes."""
from .headers import OPAQUE, capitalised

CTYPES = {"int32_t": "ctypes.c_int32", "uint32_t": "ctypes.c_uint32", "uint64_t": "ctypes.c_uint64",
          "size_t": "ctypes.c_size_t", "double": "ctypes.c_double", "char*": "ctypes.c_char_p", "void*": "ctypes.c_void_p",
          "char**": "ctypes.POINTER(OwnedText)", "void": "None"}


def type_of(interface, kind, function="", name=""):
    if function == "faultodds_free" and kind == "char*":
        return "OwnedText"
    if kind == "char**" and name == "packs":  # the only texts that come as a list
        return "ctypes.POINTER(ctypes.c_char_p)"
    if kind in CTYPES:
        return CTYPES[kind]
    bare = kind.rstrip("*")
    stars = len(kind) - len(bare)
    if interface.is_callback(bare) and stars == 0:
        return capitalised(bare)
    if bare in OPAQUE and stars == 1:
        return "Handle"
    if bare in OPAQUE and stars == 2:
        return "ctypes.POINTER(Handle)"
    if interface.is_struct(bare) and stars == 1:
        return f"ctypes.POINTER({capitalised(bare)})"
    if bare in CTYPES and stars == 1:
        return f"ctypes.POINTER({CTYPES[bare]})"
    raise SystemExit(f"{function}: no type of ctypes is known for `{kind}`")


def write(interface):
    lines = ['"""What the binding declares of the C interface. Written by bindings/declare.py; not to be edited."""',
             "", "import ctypes", "",
             "# Strings that the caller frees: as c_void_p, since ctypes would copy a c_char_p and lose its address.",
             "OwnedText = ctypes.c_void_p", "Handle = ctypes.c_void_p"]
    for callback in interface.callbacks:
        # A text that lives during the call only has its length and no end.
        kinds = ["void*" if p.kind == "char*" else p.kind for p in callback.parameters]
        types = ", ".join(type_of(interface, kind) for kind in [callback.result, *kinds])
        lines.append(f"{capitalised(callback.name)} = ctypes.CFUNCTYPE({types})")
    for struct, members in interface.structs:
        lines += ["", "", f"class {capitalised(struct)}(ctypes.Structure):", f'    """{struct}."""', "",
                  "    _fields_ = ["]
        lines += [f'        ("{m.name}", {type_of(interface, m.kind)}),' for m in members]
        lines += ["    ]"]
    lines += ["", "", "# By name: what it returns, and what it takes.", "SIGNATURES = {"]
    for function in interface.functions:
        types = [type_of(interface, p.kind, function.name, p.name) for p in function.parameters]
        head = f'    "{function.name}": ({type_of(interface, function.result, function.name)}, ['
        whole = head + ", ".join(types) + "]),"
        if len(whole) <= 100:
            lines.append(whole)
        else:
            lines += [head, *(f"        {t}," for t in types), "    ]),"]
    lines += ["}", ""]
    return "\n".join(lines)
