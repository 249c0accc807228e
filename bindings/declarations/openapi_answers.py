"""Schemas of what is answered, for the adapter's OpenAPI document: those of capi/documents/answers.json, the last of its components."""
import json

from .headers import capitalised

FIRST = '      "Assessment": '


def in_openapi(schema, kinds):
    if isinstance(schema, list):
        return [in_openapi(one, kinds) for one in schema]
    if not isinstance(schema, dict):
        return schema
    if "$observation_kind" in schema:
        return {"enum": kinds}
    return {key: "#/components/schemas/" + capitalised(value.rsplit("/", 1)[1]) if key == "$ref" else in_openapi(value, kinds)
            for key, value in schema.items()}


def write(text, root, kinds):
    """`text` as it stands, with what is answered from Assessment on written anew."""
    given, answered = (json.loads((root / "capi/documents" / name).read_text(encoding="utf-8"))["$defs"]
                       for name in ("schemas.json", "answers.json"))
    named = {name: answered[name] for name in sorted(answered, key=lambda name: name != "assessment")}
    named["grades"] = given["grades"]
    lines = [f'      "{capitalised(name)}": {json.dumps(in_openapi(schema, kinds), ensure_ascii=False)}' for name, schema in named.items()]
    return text[:text.index(FIRST)] + ",\n".join(lines) + "\n    }\n  }\n}\n"
