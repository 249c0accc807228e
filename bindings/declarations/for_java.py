"""Structs, callbacks and native methods for JNA. Size and Text, of which they are made, are in Native.java."""
from .headers import NUMBERS, ONE_NUMBER, OPAQUE, camel, capitalised, texts_and_others, wrapped

TYPES = {"int32_t": "int", "uint32_t": "int", "uint64_t": "long", "size_t": "Native.Size", "double": "double",
         "void": "void", "void*": "Pointer", "char*": "Pointer"}
GIVEN = {"uint32_t*": "IntByReference", "double*": "DoubleByReference", "size_t*": "Pointer"}
ARRAYS = {"double*": "double[]", "uint32_t*": "int[]", "int32_t*": "int[]"}


def type_of(interface, function, parameter):
    kind, bare, name = parameter.kind, parameter.bare, parameter.name
    if kind == "char*":
        return "byte[]" if parameter.const else "Pointer"
    if kind in TYPES:
        return TYPES[kind]
    if parameter.const and (kind in ("char**", "size_t*") or name == "cases"):
        return "Pointer"  # arrays of addresses and of lengths
    if kind == "char**" or bare in OPAQUE:
        return "Pointer" if parameter.stars == 1 else "PointerByReference"
    if interface.is_struct(bare):
        return capitalised(bare)
    if name in ONE_NUMBER and kind in GIVEN:
        return GIVEN[kind]
    if kind in ARRAYS:
        return ARRAYS[kind]
    raise SystemExit(f"{function}: no type of JNA is known for `{kind} {name}`")


def struct(interface, name, members):
    fields = []
    for field, member in texts_and_others(members):
        if member is None:
            fields.append((camel(field), "Native.Text", " = new Native.Text()"))
        elif member.kind == "size_t":
            fields.append((camel(field), "Native.Size", " = new Native.Size()"))
        elif member.kind in NUMBERS:
            fields.append((camel(field), TYPES[member.kind], ""))
        else:
            fields.append((camel(field), capitalised(member.bare) if interface.is_callback(member.bare) else "Pointer", ""))
    order = [f'"{field}"' for field, _, _ in fields]
    return ["", f"  /** {{@code {name}}}. */",
            *wrapped("  @Structure.FieldOrder({", order, "})", "    "),
            f"  public static final class {capitalised(name)} extends Structure {{",
            *(f"    public {kind} {field}{value};" for field, kind, value in fields),
            "  }"]


def write(interface):
    lines = ["package faultodds;", "", "import com.sun.jna.Callback;", "import com.sun.jna.Pointer;",
             "import com.sun.jna.Structure;", "import com.sun.jna.ptr.DoubleByReference;",
             "import com.sun.jna.ptr.IntByReference;", "import com.sun.jna.ptr.PointerByReference;", "",
             "/** What the binding declares of the C interface. Written by bindings/declare.py; not to be edited. */",
             "final class Declarations {", "  static {",
             "    com.sun.jna.Native.register(Declarations.class, Library.find());", "  }", "",
             "  private Declarations() {}", ""]
    lines += [f"  static final int {name} = {value};" for name, value in interface.constants]
    for callback in interface.callbacks:
        parts = [f"{TYPES[p.kind]} {camel(p.name)}" for p in callback.parameters]
        lines += ["", f"  /** {{@code {callback.name}}}. */",
                  f"  public interface {capitalised(callback.name)} extends Callback {{",
                  f"    {TYPES[callback.result]} call({', '.join(parts)});", "  }"]
    for name, members in interface.structs:
        lines += struct(interface, name, members)
    for function in interface.functions:
        parts = [f"{type_of(interface, function.name, p)} {camel(p.name)}" for p in function.parameters]
        lines += ["", *wrapped(f"  static native {TYPES[function.result]} {function.name}(", parts, ");", "      ")]
    return "\n".join([*lines, "}", ""])
