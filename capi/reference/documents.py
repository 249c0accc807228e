#!/usr/bin/env python3
"""Pages of the reference site: the documents that the library is given and those it answers, key by key, from
schemas.json and answers.json.

usage: documents.py > documents.dox
"""
import html
import json
import re
from pathlib import Path

OBSERVATION_KINDS = re.findall(r'\.name = "(\w+)"', (Path(__file__).resolve().parents[2] / "core/circuit/observation_kinds.h")
                               .read_text(encoding="utf-8"))
GIVEN, ANSWERED = (json.loads((Path(__file__).resolve().parents[1] / "documents" / name).read_text(encoding="utf-8"))
                   for name in ("schemas.json", "answers.json"))


def link(name):
    return f"@ref document_{name} \"{name.replace('_', ' ')}\""


def code(value):
    """What Doxygen shall show as it is."""
    return f"<code>{re.sub(r'([@#%])', chr(92) + chr(92) + r'1', html.escape(value.replace(chr(92), chr(92) * 2), quote=False))}</code>"


def kind(schema):
    """What a value may be, in words."""
    if "$ref" in schema:
        return link(schema["$ref"].rsplit("/", 1)[1])
    if "$quantity" in schema:
        return f"a quantity with its unit: {schema['$quantity'].replace('_', ' ')}"
    if "$observation_kind" in schema:
        return " or ".join(code(json.dumps(name)) for name in OBSERVATION_KINDS)
    if "const" in schema:
        return code(json.dumps(schema["const"]))
    if "enum" in schema:
        return " or ".join(code(json.dumps(value)) for value in schema["enum"])
    for key in ("anyOf", "oneOf"):
        if key in schema:
            return " or ".join(kind(one) for one in schema[key])
    told = schema.get("type", "anything")
    if isinstance(told, list):
        told = " or ".join(told)
    if told == "array":
        told = "list of " + kind(schema["items"]) if "items" in schema else "list"
    elif told == "object" and isinstance(schema.get("additionalProperties"), dict):
        told = "object, by name: " + kind(schema["additionalProperties"])
    elif told == "object" and "properties" in schema:
        told = "{" + ", ".join(f"{code(key)}: {kind(value)}" for key, value in schema["properties"].items()) + "}"
    limits = [f"{word} {schema[key]:g}" for key, word in
              (("minimum", "at least"), ("maximum", "at most"), ("exclusiveMinimum", "above"), ("exclusiveMaximum", "below"))
              if key in schema]
    if "pattern" in schema:
        limits.append("as " + code(schema["pattern"]))
    return told + (f", {' and '.join(limits)}" if limits else "")


def section(name, schema):
    lines = [f"@section document_{name} {name.replace('_', ' ')}", html.escape(schema.get("description", ""), quote=False), ""]
    if "properties" not in schema:
        return lines + [kind(schema), ""]
    lines += ["<table>", "<tr><th>key</th><th>what it is</th><th></th></tr>"]
    for key, value in schema["properties"].items():
        needed = "required" if key in schema.get("required", []) else ""
        words = html.escape(value.get("description", ""), quote=False)
        lines.append(f"<tr><td>{code(key)}</td><td>{kind(value)}{': ' + words if words else ''}</td><td>{needed}</td></tr>")
    return lines + ["</table>", ""]


def main():
    print("/** @page documents Documents")
    for what, schemas in (("What is given to the library", GIVEN), ("What it answers", ANSWERED)):
        print(f"{what}, as faultodds_schema_json() describes it:")
        for name, definition in schemas["roots"].items():
            print(f"- {code(name)}: {link(definition)}")
        print()
    for name, schema in {**GIVEN["$defs"], **ANSWERED["$defs"]}.items():
        print("\n".join(section(name, schema)))
    print("*/")


if __name__ == "__main__":
    main()
