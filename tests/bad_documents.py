"""Makes the documents of vectors/bad_documents.json; the bindings' tests replay them.

bad_documents.py OUTPUT writes the documents out for bindings that take text: a list of {name, circuit, case,
priors, code, pointer, message}. Documents that are no UTF-8 or larger than 128 KiB are left out.
"""

import copy
import json
import sys
from pathlib import Path
from typing import Any, Dict, Iterator, NamedTuple, Optional

_PATH = Path(__file__).resolve().parent / "vectors" / "bad_documents.json"


class BadInput(NamedTuple):
    name: str
    documents: Dict[str, bytes]  # circuit, case, priors; one of them bad
    bad: str  # which
    as_written: bool  # the bad one is text, not made by changing JSON values
    code: str
    pointer: Optional[str]  # of the one call; None: not told
    message: "list[str]"  # what it must contain


def _place(document: Any, pointer: str) -> "tuple[Any, Any]":
    """The container and the key that a pointer leads to."""
    keys = [key.replace("~1", "/").replace("~0", "~") for key in pointer.split("/")[1:]]
    for key in keys[:-1]:
        document = document[int(key)] if isinstance(document, list) else document[key]
    return document, int(keys[-1]) if isinstance(document, list) else keys[-1]


def _changed(document: Any, entry: "dict[str, Any]") -> bytes:
    document = copy.deepcopy(document)
    for pointer in entry.get("remove", []):
        container, key = _place(document, pointer)
        del container[key]
    for pointer, value in entry.get("set", {}).items():
        container, key = _place(document, pointer)
        if isinstance(container, list) and key == len(container):
            container.append(value)
        else:
            container[key] = value
    return json.dumps(document).encode("utf-8")


def _as_written(entry: "dict[str, Any]") -> Optional[bytes]:
    if "text" in entry:
        return entry["text"].encode("utf-8")
    if "hex" in entry:
        return bytes.fromhex(entry["hex"])
    if "repeat" in entry:
        repeated = entry["repeat"] * entry["times"]
        return (entry.get("prefix", "") + repeated + entry.get("suffix", "")).encode("utf-8")
    return None


def good_documents() -> Dict[str, bytes]:
    table = json.loads(_PATH.read_text(encoding="utf-8"))
    return {name: json.dumps(table[name]).encode("utf-8") for name in ("circuit", "case", "priors")}


def bad_inputs() -> Iterator[BadInput]:
    table = json.loads(_PATH.read_text(encoding="utf-8"))
    good = good_documents()
    for entry in table["entries"]:
        bad = entry["document"]
        written = _as_written(entry)
        text = _changed(table[bad], entry) if written is None else written
        yield BadInput(
            entry["name"],
            {**good, bad: text},
            bad,
            written is not None,
            entry["code"],
            entry.get("pointer"),
            entry["message"],
        )


def _written_out() -> "list[dict[str, Any]]":
    table = []
    for entry in bad_inputs():
        if any(len(text) > 1 << 17 for text in entry.documents.values()):
            continue
        try:
            documents = {name: text.decode("utf-8") for name, text in entry.documents.items()}
        except UnicodeDecodeError:
            continue
        table.append({"name": entry.name, **documents, "code": entry.code, "pointer": entry.pointer,
                      "message": entry.message})
    return table


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(json.dumps(_written_out()), encoding="utf-8")
