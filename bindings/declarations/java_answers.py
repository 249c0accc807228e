"""Records of what is answered, for Java, and how they are read from parsed JSON. Answered.java has what both files share."""
import re

from .answers import form
from .headers import camel, capitalised, wrapped

BY_NAME = {"number": "Double", "text": "String", "any": "Object"}
RESERVED = {"class": "assetClass"}
ROOTS = ("assessment", "plan")


def name_of(member):
    return RESERVED.get(member.name, camel(member.name))


def shape(member):
    """(type, how it is read from `of`) of a member."""
    given, key = form(member), f'of, "{member.name}"'
    of = capitalised(given.of) if given.kind in ("object", "objects", "grades") else BY_NAME.get(given.of)
    if given.kind in ("object", "grades") and given.always:
        return of, f"{of}.read(of.get(\"{member.name}\"))"
    perhaps = {"object": (f"Optional<{of}>", f"object({key}, {of}::read)"), "objects": (f"List<{of}>", f"each({key}, {of}::read)"),
               "texts": ("List<String>", f"texts({key})"), "groups": ("List<List<String>>", f"groups({key})"),
               "by name": (f"Map<String, {of}>", f"byName({key}, {of}.class)"), "flag": ("boolean", f"flag({key})"),
               "number": ("OptionalDouble", f"numberIfAny({key})"), "count": ("OptionalInt", f"countIfAny({key})"),
               "text": ("Optional<String>", f"textIfAny({key})")}
    always = {"number": ("double", f"number({key})"), "count": ("int", f"count({key})"), "text": ("String", f"text({key})")}
    kind, read = always[given.kind] if given.always and given.kind in always else perhaps[given.kind]
    return kind, "Answered." + read


def javadoc(text):
    escaped = text.replace("&", "&amp;").replace("<", "&lt;").replace("{", "&#123;").replace("}", "&#125;")
    return re.sub(r"`([^`]*)`", r"{@code \1}", escaped)


def doc_of(member):
    said = member.doc or member.name.replace("_", " ")
    if shape(member)[0].startswith("Optional") and not re.search("null|absent", said):
        said += "; absent where there is none"
    return javadoc(said)


def filled(prefix, text, width=118):
    lines, line = [], prefix
    for word in text.split():
        if len(line) + 1 + len(word) > width:
            lines.append(line)
            line = prefix[:prefix.index("*") + 1] + ("     " if "@param" in prefix else " ") + word
        else:
            line += (" " if not line.endswith(" ") else "") + word
    return [*lines, line]


def declared(name, doc, members, indent, json=False):
    pad = "  " * indent
    lines = [f"{pad}/**", *filled(f"{pad} * ", javadoc(f"{doc[0].upper()}{doc[1:]}.")), f"{pad} *"]
    if json:
        lines.append(f"{pad} * @param json the document as the library wrote it")
    for one in members:
        lines += filled(f"{pad} * @param {name_of(one)} ", doc_of(one))
    parts = (["String json"] if json else []) + [f"{shape(one)[0]} {name_of(one)}" for one in members]
    lines += [f"{pad} */", *wrapped(f"{pad}public record {capitalised(name)}(", parts, ") {", pad + "    ")]
    values = (["json"] if json else []) + [shape(one)[1] for one in members]
    head = "static %s read(String json) {" if json else "static %s read(Object value) {"
    source = "Answered.document(json)" if json else "Json.object(value)"
    return [*lines, f"{pad}  {head % capitalised(name)}", f"{pad}    Map<String, Object> of = {source};",
            *wrapped(f"{pad}    return new {capitalised(name)}(", values, ");", pad + "        "), f"{pad}  }}"]


def file_of(root, types):
    """A record of a document and, within it, those that it is made of."""
    lines = ["package faultodds;", "", "import java.util.List;", "import java.util.Map;", "import java.util.Optional;",
             "import java.util.OptionalDouble;",
             "import java.util.OptionalInt;", ""]
    if root.name != "assessment":
        lines.insert(1, "")
        lines.insert(2, "import faultodds.Assessment.*;")
    lines += ["// Written by bindings/declare.py from capi/documents/answers.json; not to be edited.", ""]
    lines += declared(root.name, f'{root.doc}: "faultodds-{root.name}/1"', root.members, 0, json=True)
    for one in types:
        lines += ["", *declared(one.name, one.doc, one.members, 1), "  }"]
    if root.name == "assessment":
        lines += ["", "  /**", "   * Probabilities of the grades of a failure mode.", "   *", "   * @param sound of grade 0",
                  "   * @param worn of grade 1", "   * @param failed of grade 2", "   */",
                  "  public record Grades(double sound, double worn, double failed) {", "    static Grades read(Object value) {",
                  "      List<Object> of = Json.list(value);",
                  "      return new Grades((Double) of.get(0), (Double) of.get(1), (Double) of.get(2));", "    }", "  }"]
    return "\n".join([*lines, "}", ""])


def write(answers):
    """Texts of Assessment.java and Plan.java."""
    own = {"plan": ("plan_branch", "plan_node", "needed_part")}
    types = {one.name: one for one in answers.types}
    of_plan = [types[name] for name in own["plan"]]
    others = [one for one in answers.types if one.name not in (*ROOTS, *own["plan"])]
    return file_of(types["assessment"], others), file_of(types["plan"], of_plan)
