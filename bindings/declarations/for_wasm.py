"""What faultodds.wasm exports: the functions that the binding's sources name, their types for TypeScript, and the
structs that they pass, as they lie in memory of 32 bits."""
import re

from .headers import NUMBERS, wrapped

SIZES = {"int32_t": 4, "uint32_t": 4, "uint64_t": 8, "size_t": 4, "double": 8}
# What the sources, and tests (sbrk tells how much memory is in use), call beside them.
MEMORY = ["malloc", "free", "sbrk"]


def named(interface, sources):
    """The functions and the numbers that the sources name, in the order of the headers."""
    text = "".join(path.read_text(encoding="utf-8") for path in sources)
    words = set(re.findall(r"faultodds_\w+|(?<=CONSTANTS\.)\w+", text))
    return [f for f in interface.functions if f.name in words], [c for c in interface.constants if c[0] in words]


def exports(functions):
    return "\n".join(["# The functions that faultodds.wasm exports: those that src/ calls, and memory for them. Written by",
                      "# bindings/declare.py; not to be edited.", *MEMORY, *(f.name for f in functions), ""])


def layout(interface, struct):
    """Its size, and where each member is."""
    members = next(m for name, m in interface.structs if name == struct)
    at, widest, places = 0, 4, []
    for member in members:
        size = SIZES.get(member.kind, 4)
        at = -(-at // size) * size
        places.append((member.name, at))
        at, widest = at + size, max(widest, size)
    return [("size", -(-at // widest) * widest), *places]


def write(interface, functions, constants):
    passed = [name for name, _ in interface.structs
              if any(p.kind == name + "*" and not p.name == "evidence" for f in functions for p in f.parameters)]
    lines = ["/** What faultodds.wasm exports. Written by bindings/declare.py; not to be edited. */", "",
             "/** Numbers with names, without FAULTODDS_. */", "export const CONSTANTS = {"]
    lines += [f"  {name}: {value}," for name, value in constants]
    lines += ["} as const;"]
    for struct in passed:
        parts = [f"{name}: {value}" for name, value in layout(interface, struct)]
        lines += ["", f"/** Where members of {struct} are, in 32 bits. */",
                  *wrapped(f"export const {struct.removeprefix('faultodds_').upper()} = {{ ", parts, " } as const;", "  ")]
    lines += ["", "/** Addresses and sizes are numbers. */", "export interface Exports {", "  memory: WebAssembly.Memory;",
              "  _initialize(): void;", "  malloc(size: number): number;", "  free(address: number): void;"]
    for function in functions:
        parts = [f"{p.name}: {'bigint' if p.kind == 'uint64_t' else 'number'}" for p in function.parameters]
        result = "void" if function.result == "void" else "number"
        lines += wrapped(f"  {function.name}(", parts, f"): {result};", "    ")
    return "\n".join([*lines, "}", ""])


assert set(SIZES) == NUMBERS
