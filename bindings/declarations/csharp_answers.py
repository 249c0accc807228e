"""Classes of what is answered, for C#, and how they are read from parsed JSON. Members.cs has what they share."""
from .answers import nullable, referred
from .headers import capitalised

GRADES = """
    /// <summary>Probabilities of the grades of a failure mode.</summary>
    public sealed class Grades
    {
        internal Grades(IReadOnlyList<double> of)
        {
            Sound = of[0];
            Worn = of[1];
            Failed = of[2];
        }

        /// <summary>Of grade 0.</summary>
        public double Sound { get; }

        /// <summary>Of grade 1.</summary>
        public double Worn { get; }

        /// <summary>Of grade 2.</summary>
        public double Failed { get; }
    }"""
NUMBERS = {"number": ("double", "Number"), "integer": ("int", "Count")}


def shape(member):
    """(type, how it is read from `of`) of a member."""
    inner, null = nullable(member.schema)
    key, always = f'"{member.name}"', member.required and not null
    if "anyOf" in inner:  # a name, or an object that says more
        inner, always = next(one for one in inner["anyOf"] if "$ref" in one), False
    if "$ref" in inner:
        kind = capitalised(referred(inner))
        if kind == "Grades":
            return kind, f"new Grades(of.Numbers({key}))"
        return kind, (f"new {kind}(of.Object({key}))" if always else f"of.Maybe({key}, one => new {kind}(one))")
    if inner.get("const") is True or inner.get("type") == "boolean":
        return "bool", f"of.Flag({key})"
    if inner.get("type") == "array":
        return listed(inner, key)
    if inner.get("type") == "object":
        numbers, texts = (inner["additionalProperties"].get("type") == kind for kind in ("number", "string"))
        kind = "double" if numbers else "string" if texts else "object"
        return f"IReadOnlyDictionary<string, {kind}>", f"of.ByName<{kind}>({key})"
    if inner.get("type") in NUMBERS:
        kind, read = NUMBERS[inner["type"]]
        return (kind, f"of.{read}({key})") if always else (kind + "?", f"of.{read}IfAny({key})")
    return "string", f"of.Text({key})"


def listed(schema, key):
    items = schema["items"]
    if "$ref" in items:
        kind = capitalised(referred(items))
        return f"IReadOnlyList<{kind}>", f"of.Each({key}, one => new {kind}(one))"
    if items.get("type") == "array":
        return "IReadOnlyList<IReadOnlyList<string>>", f"of.Groups({key})"
    return "IReadOnlyList<string>", f"of.Texts({key})"


def summary(text, pad, kind=""):
    text = text[0].upper() + text[1:]
    if (kind.endswith("?") or kind == "string" or kind[:1].isupper()) and "null" not in text and "absent" not in text:
        text += "" if kind == "" or kind.startswith("IRead") or kind == "string" else "; null where there is none"
    text = text.replace("absent", "null").replace("`", "").replace("&", "&amp;").replace("<", "&lt;")
    lines, line = [], f"{pad}/// <summary>"
    for word in (text + ".</summary>").split():
        if len(line) + 1 + len(word) > 118:
            lines.append(line)
            line = f"{pad}/// {word}"
        else:
            line += word if line.endswith(">") else " " + word
    return [*lines, line]


def doc_of(member, kind):
    said = member.doc or member.name.replace("_", " ")
    always = member.required and not nullable(member.schema)[1]
    return summary(said, "        ", "" if always else kind)


def declared(one, document=None):
    name = capitalised(one.name)
    lines = ["", *summary(one.doc + (f': "faultodds-{one.name}/1"' if document else ""), "    "),
             f"    public sealed class {name}", "    {"]
    if document:
        lines += [f"        internal {name}(string json) : this(Members.OfDocument(json))", "        {", "            Json = json;",
                  "        }", ""]
    lines += [f"        {'private' if document else 'internal'} {name}(Members of)", "        {"]
    lines += [f"            {capitalised(m.name)} = {shape(m)[1]};" for m in one.members]
    lines += ["        }"]
    if document:
        lines += ["", "        /// <summary>The document as the library wrote it.</summary>", "        public string Json { get; }"]
    for m in one.members:
        kind = shape(m)[0]
        lines += ["", *doc_of(m, kind), f"        public {kind} {capitalised(m.name)} {{ get; }}"]
    return [*lines, "    }"]


def write(answers):
    lines = ["// Written by bindings/declare.py from capi/documents/answers.json; not to be edited.", "",
             "using System.Collections.Generic;", "", "namespace Faultodds", "{"]
    whole = []
    for one in answers.types:
        whole += declared(one, one.name in ("assessment", "plan"))
    return "\n".join([*lines, *whole[1:], *GRADES.splitlines(), "}", ""])
