"""Structs, delegates and their binding for P/Invoke: the part of class Native that the headers say. TextOf and the
handles, of which they are made, are in Native.cs. What the library reads is a class, so that null is NULL; what it fills
is a struct, passed by reference."""
from .headers import ONE_NUMBER, OPAQUE, NUMBERS, camel, capitalised, texts_and_others, wrapped

TYPES = {"int32_t": "int", "uint32_t": "uint", "uint64_t": "ulong", "size_t": "UIntPtr", "double": "double",
         "void": "void", "void*": "IntPtr", "char*": "IntPtr"}
HANDLES = {"faultodds_model": "ModelHandle", "faultodds_case": "CaseHandle", "faultodds_network": "NetworkHandle"}
# Comes as an array.
ARRAY = "faultodds_network_evidence"


def type_of(interface, function, parameter):
    kind, bare, name = parameter.kind, parameter.bare, parameter.name
    if kind == "char*":
        return "byte[]" if parameter.const else "IntPtr"
    if kind in TYPES:
        return TYPES[kind]
    if kind == "char**" or name == "cases":
        return "IntPtr[]" if parameter.const else "out IntPtr"
    if bare in OPAQUE:
        if parameter.stars == 2:
            return "out IntPtr"
        return "IntPtr" if function.endswith("_free") else HANDLES.get(bare, "IntPtr")
    if bare == ARRAY:
        return "[In] NetworkEvidence[]"
    if interface.is_struct(bare):
        return ("ref " if interface.is_filled(bare) else "") + capitalised(bare)
    if bare in NUMBERS and parameter.stars == 1:
        if parameter.const:
            return TYPES[bare] + "[]"
        return ("out " if name in ONE_NUMBER else "[In, Out] ") + TYPES[bare] + ("" if name in ONE_NUMBER else "[]")
    raise SystemExit(f"{function}: no type of C# is known for `{kind} {name}`")


def delegate(name, result, parts):
    return ["", "        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]",
            *wrapped(f"        internal delegate {result} {name}(", parts, ");", "            ", 116)]


def struct(interface, name, members):
    kind = "struct" if interface.is_filled(name) or name == ARRAY else "sealed class"
    lines = ["", f"        /// <summary>{name}.</summary>", "        [StructLayout(LayoutKind.Sequential)]",
             f"        internal {kind} {capitalised(name)}", "        {"]
    for field, member in texts_and_others(members):
        of = "TextOf" if member is None else TYPES[member.kind] if member.kind in NUMBERS else "IntPtr"
        lines.append(f"            internal {of} {capitalised(field)};")
    return lines + ["        }"]


def write(interface):
    lines = ["using System;", "using System.Runtime.InteropServices;", "", "namespace Faultodds", "{",
             "    // What the binding declares of the C interface. Written by bindings/declare.py; not to be edited.",
             "    internal static partial class Native", "    {",
             "        // Members are written by the library, and set or read by what calls it; not all of them are.",
             "#pragma warning disable 169, 649"]
    lines += [f"        internal const int {capitalised(name)} = {value};" for name, value in interface.constants]
    for name, members in interface.structs:
        lines += struct(interface, name, members)
    lines.append("#pragma warning restore 169, 649")
    for callback in interface.callbacks:
        parts = [f"{TYPES[p.kind]} {camel(p.name)}" for p in callback.parameters]
        lines += delegate(capitalised(callback.name) + "Callback", TYPES[callback.result], parts)
    for function in interface.functions:
        parts = [f"{type_of(interface, function.name, p)} {camel(p.name)}" for p in function.parameters]
        lines += delegate(capitalised(function.name) + "Function", TYPES[function.result], parts)
    lines.append("")
    for function in interface.functions:
        name = capitalised(function.name)
        head = f"        internal static readonly {name}Function {name} ="
        bound = f'Bind<{name}Function>("{function.name}");'
        lines += [f"{head} {bound}"] if len(head + bound) < 116 else [head, f"            {bound}"]
    return "\n".join([*lines, "    }", "}", ""])
