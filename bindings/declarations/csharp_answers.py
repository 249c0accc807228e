"""Classes of what is answered, for C#, and how they are read from parsed JSON. Members.cs has what they share."""
import re

from .answers import form
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
BY_NAME = {"number": "double", "text": "string", "any": "object"}


def shape(member):
    """(type, how it is read from `of`) of a member."""
    given, key = form(member), f'"{member.name}"'
    of = capitalised(given.of) if given.kind in ("object", "objects", "grades") else BY_NAME.get(given.of)
    if given.kind == "object" and given.always:
        return of, f"new {of}(of.Object({key}))"
    perhaps = {"object": (of, f"Maybe({key}, one => new {of}(one))"), "grades": ("Grades", f"Grades({key})"),
               "objects": (f"IReadOnlyList<{of}>", f"Each({key}, one => new {of}(one))"), "texts": ("IReadOnlyList<string>", f"Texts({key})"),
               "groups": ("IReadOnlyList<IReadOnlyList<string>>", f"Groups({key})"), "flag": ("bool", f"Flag({key})"),
               "by name": (f"IReadOnlyDictionary<string, {of}>", f"ByName<{of}>({key})"), "text": ("string", f"Text({key})"),
               "number": ("double?", f"NumberIfAny({key})"), "count": ("int?", f"CountIfAny({key})")}
    always = {"number": ("double", f"Number({key})"), "count": ("int", f"Count({key})")}
    kind, read = always[given.kind] if given.always and given.kind in always else perhaps[given.kind]
    return kind, "of." + read


def summary(text, pad):
    text = (text[0].upper() + text[1:]).replace("absent", "null").replace("`", "").replace("&", "&amp;").replace("<", "&lt;")
    lines, line = [], f"{pad}/// <summary>"
    for word in (text + ".</summary>").split():
        if len(line) + 1 + len(word) > 118:
            lines.append(line)
            line = f"{pad}/// {word}"
        else:
            line += word if line.endswith(">") else " " + word
    return [*lines, line]


def doc_of(member):
    said, given = member.doc or member.name.replace("_", " "), form(member)
    if not given.always and given.kind in ("object", "number", "count", "text") and not re.search("null|absent", said):
        said += "; null where there is none"
    return summary(said, "        ")


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
        lines += ["", *doc_of(m), f"        public {shape(m)[0]} {capitalised(m.name)} {{ get; }}"]
    return [*lines, "    }"]


def write(answers):
    lines = ["// Written by bindings/declare.py from capi/documents/answers.json; not to be edited.", "",
             "using System.Collections.Generic;", "", "namespace Faultodds", "{"]
    whole = []
    for one in answers.types:
        whole += declared(one, one.name in ("assessment", "plan"))
    return "\n".join([*lines, *whole[1:], *GRADES.splitlines(), "}", ""])
