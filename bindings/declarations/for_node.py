"""Structs and prototypes for koffi, and their types for TypeScript."""
from .headers import NUMBERS, ONE_NUMBER, OPAQUE, capitalised, wrapped


# Bytes go in as they are, without a terminator.
def koffi_type(interface, kind, function="", name=""):
    bare = kind.rstrip("*")
    stars = len(kind) - len(bare)
    if function and kind == "char*" and function != "faultodds_free":
        return "uint8_t*"
    if kind == "char*":
        return "void*" if function else "uint8_t*"
    if kind == "char**":
        return "uint8_t**" if name == "packs" else "_Out_ void**"
    if interface.is_callback(bare):
        return f"{bare}*"
    if bare in OPAQUE:
        if name == "cases":
            return "void**"
        return "void*" if stars == 1 else "_Out_ void**"
    if interface.is_struct(bare):
        return ("_Inout_ " if interface.is_filled(bare) else "") + kind
    if stars == 1 and (name in ONE_NUMBER or name == "statuses"):
        return f"_Out_ {kind}"
    return kind


ARRAYS = {"double": "Float64Array", "uint32_t": "Uint32Array", "int32_t": "Int32Array", "size_t": "number[]"}


def member_type(interface, struct, member):
    if member.kind in NUMBERS:
        return "number"
    if member.kind == "char*" and not interface.is_filled(struct):
        return "Bytes"
    if member.bare in ARRAYS:
        return f"{ARRAYS[member.bare]} | null"
    return "unknown" if interface.is_callback(member.bare) else "Handle | null"


def parameter_type(interface, parameter):
    kind, bare, stars = parameter.kind, parameter.bare, parameter.stars
    if kind in NUMBERS:
        return "number"
    if kind == "char*":
        return "Bytes" if parameter.const else "Handle | null"
    if kind == "char**":
        return "Bytes[]" if parameter.const else "Out<Handle>"
    if bare in OPAQUE:
        if parameter.name == "cases":
            return "Handle[]"
        return "Out<Handle>" if stars == 2 else "Handle | null"
    if interface.is_struct(bare):
        line = f"{capitalised(bare)}Line"
        return f"{line}[] | {line} | null" if parameter.name == "evidence" else f"{line} | null"
    if parameter.name in ONE_NUMBER:
        return "Out<number>"
    if bare in ARRAYS:
        return ARRAYS[bare] + (" | null" if parameter.name == "statuses" else "")
    raise SystemExit(f"no type of TypeScript is known for `{kind} {parameter.name}`")


def write(interface):
    lines = ["/** What the binding declares of the C interface. Written by bindings/declare.py; not to be edited. */",
             'import koffi from "koffi";', ""]
    for callback in interface.callbacks:
        # A text that lives during the call only has its length and no end.
        listed = ", ".join(f"{'void*' if p.kind == 'char*' else p.kind} {p.name}" for p in callback.parameters)
        lines.append(f'koffi.proto("{callback.result} {callback.name}({listed})");')
    for struct, members in interface.structs:
        lines += ["", f'const {struct.removeprefix("faultodds_")} = koffi.struct("{struct}", {{']
        lines += [f'  {m.name}: "{koffi_type(interface, m.kind)}",' for m in members]
        lines += ["});"]
    names = [s.removeprefix("faultodds_") for s, _ in interface.structs]
    lines += ["", "/** Sizes of the structs, for their `struct_size`. */", "export const SIZES = {"]
    lines += [f"  {name}: koffi.sizeof({name})," for name in names]
    lines += ["};", "", "/** Prototypes as koffi reads them. */", "export const PROTOTYPES = ["]
    for function in interface.functions:
        returned = "const char*" if function.result == "char*" else function.result
        listed = ", ".join(f"{koffi_type(interface, p.kind, function.name, p.name)} {p.name}" for p in function.parameters)
        lines.append(f'  "{returned} {function.name}({listed})",')
    lines += ["];", "", "/** Numbers with names, without FAULTODDS_. */", "export const CONSTANTS = {"]
    lines += [f"  {name}: {value}," for name, value in interface.constants]
    lines += ["} as const;", "", "/** Address of an object of the library. */", "export type Handle = bigint;", "",
              "/** An out-parameter. */", "export type Out<T> = [T | null];", "",
              "/** A text, or NULL. */", "export type Bytes = Uint8Array | null;", "",
              "/** A call; `async` makes it on another thread. */",
              "export interface Call<A extends unknown[], R> {",
              "  (...parameters: A): R;",
              "  async: (...parameters: [...A, (problem: unknown, result: R) => void]) => void;", "}"]
    for struct, members in interface.structs:
        lines += ["", f"/** {struct} */", f"export interface {capitalised(struct)}Line {{"]
        lines += [f"  {m.name}: {member_type(interface, struct, m)};" for m in members]
        lines += ["}"]
    lines += ["", "/** The functions, without faultodds_. */", "export interface Functions {"]
    for function in interface.functions:
        result = {"char*": "string", "void": "void"}.get(function.result, "number")
        parts = [f"{p.name}: {parameter_type(interface, p)}" for p in function.parameters]
        lines += wrapped(f"  {function.short}: Call<[", parts, f"], {result}>;", "    ")
    lines += ["}", ""]
    return "\n".join(lines)
