"""Records of what is answered, for Java, and how they are read from parsed JSON. Answered.java has what both files share."""
import re

from .answers import nullable, referred
from .headers import camel, capitalised, wrapped

RESERVED = {"class": "assetClass"}
ROOTS = ("assessment", "plan")


def name_of(member):
    return RESERVED.get(member.name, camel(member.name))


def record(name):
    return capitalised(name)


def shape(member):
    """(type, how it is read from `of`) of a member."""
    inner, null = nullable(member.schema)
    key, always = f'of, "{member.name}"', member.required and not null
    if "anyOf" in inner:  # a name, or an object that says more
        inner, always = next(one for one in inner["anyOf"] if "$ref" in one), False
    if "$ref" in inner:
        kind = record(referred(inner))
        if always:
            return kind, f"{kind}.read(of.get(\"{member.name}\"))"
        return f"Optional<{kind}>", f"Answered.object({key}, {kind}::read)"
    if inner.get("const") is True or inner.get("type") == "boolean":
        return "boolean", f"Answered.flag({key})"
    if inner.get("type") == "array":
        return listed(inner, key)
    if inner.get("type") == "object":
        numbers, texts = (inner["additionalProperties"].get("type") == kind for kind in ("number", "string"))
        kind = "Double" if numbers else "String" if texts else "Object"
        return f"Map<String, {kind}>", f"Answered.byName({key}, {kind}.class)"
    if inner.get("type") == "integer":
        return ("int", f"Answered.count({key})") if always else ("OptionalInt", f"Answered.countIfAny({key})")
    if inner.get("type") == "number":
        return ("double", f"Answered.number({key})") if always else ("OptionalDouble", f"Answered.numberIfAny({key})")
    return ("String", f"Answered.text({key})") if always else ("Optional<String>", f"Answered.textIfAny({key})")


def listed(schema, key):
    items = schema["items"]
    if "$ref" in items:
        kind = record(referred(items))
        return f"List<{kind}>", f"Answered.each({key}, {kind}::read)"
    if items.get("type") == "array":
        return "List<List<String>>", f"Answered.groups({key})"
    return "List<String>", f"Answered.texts({key})"


def javadoc(text):
    escaped = text.replace("&", "&amp;").replace("<", "&lt;").replace("{", "&#123;").replace("}", "&#125;")
    return re.sub(r"`([^`]*)`", r"{@code \1}", escaped)


def doc_of(member):
    said = member.doc or member.name.replace("_", " ")
    kind = shape(member)[0]
    if kind.startswith("Optional") and "absent" not in said and "null" not in said:
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
    lines += [f"{pad} */", *wrapped(f"{pad}public record {record(name)}(", parts, ") {", pad + "    ")]
    values = (["json"] if json else []) + [shape(one)[1] for one in members]
    head = "static %s read(String json) {" if json else "static %s read(Object value) {"
    source = "Answered.document(json)" if json else "Json.object(value)"
    return [*lines, f"{pad}  {head % record(name)}", f"{pad}    Map<String, Object> of = {source};",
            *wrapped(f"{pad}    return new {record(name)}(", values, ");", pad + "        "), f"{pad}  }}"]


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
