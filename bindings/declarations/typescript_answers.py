"""Types of what is answered, for TypeScript: of a screen's answer, and with Full before its name of the whole one."""
import json

from .answers import nullable, referred
from .headers import capitalised

PLAIN = {"string": "string", "number": "number", "integer": "number", "boolean": "boolean"}


def type_of(schema, answers, whole=frozenset()):
    inner, null = nullable(schema)
    if null:
        return type_of(inner, answers, whole) + " | null"
    if "$ref" in inner:
        name = referred(inner)
        return ("Full" if name in whole else "") + capitalised(name)
    if "$observation_kind" in inner:
        return " | ".join(json.dumps(kind) for kind in answers.kinds)
    if "const" in inner:
        return "boolean" if inner["const"] is True else json.dumps(inner["const"])
    if "enum" in inner:
        return " | ".join(json.dumps(value) for value in inner["enum"])
    if "anyOf" in inner:
        return " | ".join(type_of(one, answers, whole) for one in inner["anyOf"])
    if inner.get("type") == "array":
        item = type_of(inner["items"], answers, whole)
        return f"({item})[]" if " | " in item else item + "[]"
    if "properties" in inner:
        return "{ " + "; ".join(f"{name}{'' if name in inner['required'] else '?'}: {type_of(one, answers, whole)}"
                                for name, one in inner["properties"].items()) + " }"
    if inner.get("type") == "object":
        return f"Record<string, {type_of(inner['additionalProperties'], answers, whole)}>"
    return PLAIN[inner["type"]] if "type" in inner else "unknown"


def interface(head, doc, members, answers, whole=frozenset()):
    lines = ["", f"/** {doc[0].upper()}{doc[1:]}. */", f"export interface {head} {{"]
    for one in members:
        if one.doc:
            lines.append(f"  /** {one.doc} */")
        lines.append(f"  {one.name}{'' if one.required else '?'}: {type_of(one.schema, answers, whole)};")
    return [*lines, "}"]


def more_of_the_whole(answers):
    """By type, what its whole form has besides or for certain; without those of which it has no more."""
    more = {one.name: one.whole for one in answers.types if one.whole is not None}
    while True:
        found = {}
        for one in answers.types:
            both = {member.name: member for member in one.members}
            own = [member for member in more.get(one.name, []) if member.required and (
                not both[member.name].required
                or type_of(member.schema, answers, more) != type_of(both[member.name].schema, answers))]
            if own:
                found[one.name] = own
        if found == more:
            return more
        more = found


def write(answers):
    more = more_of_the_whole(answers)
    lines = ["/** What the library answers. Written by bindings/declare.py from capi/documents/answers.json; not to be edited. */", "",
             "/** P(sound), P(worn), P(failed). */", "export type Grades = [sound: number, worn: number, failed: number];"]
    for one in answers.values:
        doc = one.schema["description"]
        lines += ["", f"/** {doc[0].upper()}{doc[1:]}. */", f"export type {capitalised(one.name)} ="]
        lines += [f"  | {type_of(form, answers)}" for form in one.schema["anyOf"]]
        lines[-1] += ";"
    for one in answers.types:
        name = capitalised(one.name)
        lines += interface(name, one.doc, one.members, answers)
        if one.name in more:
            lines += interface(f"Full{name} extends {name}", one.doc + ": of the whole answer", more[one.name], answers, more)
    return "\n".join([*lines, ""])
