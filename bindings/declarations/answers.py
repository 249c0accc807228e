"""What is answered, from capi/documents/answers.json, as the bindings type it. An answer has two forms, one for a screen and the
whole one; of what both have (`screen_test` and `test`, `screen_advice` and `full_advice`) a binding has one type, in which is
optional what either form may be without."""
import json
import re
from typing import NamedTuple


class Member(NamedTuple):
    name: str
    schema: dict
    required: bool
    doc: str


class Type(NamedTuple):
    name: str         # test
    doc: str
    members: list     # of both forms
    whole: list       # of the whole form alone; None where there is one form


class Value(NamedTuple):
    """What is one of several things."""
    name: str
    schema: dict


class Form(NamedTuple):
    """How languages without unions take a member."""
    kind: str         # object, objects, grades, flag, texts, groups, by name, number, count, text
    of: str           # objects: their type; by name: number, text or any
    always: bool      # it is in every answer, and not null


class Answers(NamedTuple):
    types: list
    kinds: list       # of observations
    values: list


def of_both(name):
    """What the type of one form is called in the bindings: screen_test and test are test."""
    return re.sub(r"^(screen|full)_", "", name)


def referred(schema):
    return of_both(schema["$ref"].rsplit("/", 1)[1])


def nullable(schema):
    """The schema without null, and whether it had it."""
    if isinstance(schema.get("type"), list):
        return {**schema, "type": schema["type"][0]}, True
    if {"type": "null"} in schema.get("anyOf", []):
        rest = [one for one in schema["anyOf"] if one != {"type": "null"}]
        return rest[0] if len(rest) == 1 else {"anyOf": rest}, True
    return schema, False


def form(member):
    inner, null = nullable(member.schema)
    always = member.required and not null
    if "anyOf" in inner:  # a name, or an object that says more
        inner, always = next(one for one in inner["anyOf"] if "$ref" in one), False
    kind = inner.get("type")
    if "$ref" in inner:
        return Form("grades" if referred(inner) == "grades" else "object", referred(inner), always)
    if kind == "array":
        items = inner["items"]
        if "$ref" in items:
            return Form("objects", referred(items), always)
        return Form("groups" if items["type"] == "array" else "texts", "", always)
    if kind == "object":
        return Form("by name", {"number": "number", "string": "text"}.get(inner["additionalProperties"].get("type"), "any"), always)
    if kind == "boolean" or inner.get("const") is True:
        return Form("flag", "", always)
    return Form({"number": "number", "integer": "count"}.get(kind, "text"), "", always)


def members(schema):
    return [Member(name, value, name in schema["required"], value.get("description", ""))
            for name, value in schema["properties"].items()]


def merged(screen, whole):
    """Members of both forms: null where either may be, required where both have it."""
    found = {}
    for these, other in ((screen, whole), (whole, screen)):
        for one in these:
            same = next((m for m in other if m.name == one.name), None)
            if one.name in found:
                continue
            schema = same.schema if same and nullable(same.schema)[1] else one.schema
            doc = one.doc if not same or same.doc == one.doc else f"{one.doc}; in the whole answer {same.doc}"
            found[one.name] = Member(one.name, schema, bool(same) and one.required and same.required, doc)
    return list(found.values())


def read(root):
    described = json.loads((root / "capi/documents/answers.json").read_text(encoding="utf-8"))["$defs"]
    kinds = re.findall(r'\.name = "(\w+)"', (root / "core/circuit/observation_kinds.h").read_text(encoding="utf-8"))
    types, values = [], []
    for name, schema in described.items():
        if "properties" not in schema:
            if not all("$ref" in one for one in schema["anyOf"]):  # the forms of an answer are types
                values.append(Value(name, schema))
            continue
        base = of_both(name)
        screen = described.get("screen_" + base)
        whole = described.get("full_" + base) or described[base]
        if screen is None:
            types.append(Type(name, schema["description"], members(schema), None))
        elif schema is screen:
            types.append(Type(base, whole["description"], merged(members(screen), members(whole)), members(whole)))
    return Answers(types, kinds, values)
