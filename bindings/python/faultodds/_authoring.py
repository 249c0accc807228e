"""For who writes circuit documents: check, explain, compare, begin, draw; JSON Schemas of the documents."""

import ctypes
import json
import os
import pathlib
from typing import Any, Callable, Optional, Union

from ._cancel import Cancel, until
from ._documents import Document, encoded, failure, taken
from ._declarations import Handle, OwnedText
from ._library import library


def _answer(cancel: Optional[Cancel], call: "Callable[[Any, Any, Any], int]") -> str:
    text, error = OwnedText(), Handle()
    with until(cancel) as options:
        status = call(options, ctypes.byref(text), ctypes.byref(error))
    if status != 0:
        raise failure(status, error)
    return taken(text)


def check_circuit(circuit: Document, *, cancel: Optional[Cancel] = None) -> "dict[str, Any]":
    """Everything the author should look at: "faultodds-check/1". A document that does not load is answered too."""
    given = encoded(circuit)
    return json.loads(
        _answer(
            cancel,
            lambda end, out, error: library().faultodds_circuit_check_json(given, len(given), end, out, error),
        )
    )


def explain_observation(
    circuit: Document, observation: str, *, size: Optional[str] = None, cancel: Optional[Cancel] = None
) -> "dict[str, Any]":
    """Why an observation shows what it shows: "faultodds-explanation/1", with figures at ``size`` ("300 mL/min")."""
    given, name = encoded(circuit), observation.encode("utf-8")
    at = None if size is None else size.encode("utf-8")
    return json.loads(
        _answer(
            cancel,
            lambda end, out, error: library().faultodds_circuit_explain_json(
                given, len(given), name, len(name), at, len(at or b""), end, out, error
            ),
        )
    )


def diff_circuits(
    before: Document, after: Document, case: Optional[Document] = None, *, cancel: Optional[Cancel] = None
) -> "dict[str, Any]":
    """What changes from one circuit to another, and with a case in its answer: "faultodds-circuit-diff/1"."""
    old, new = encoded(before), encoded(after)
    of = None if case is None else encoded(case)
    return json.loads(
        _answer(
            cancel,
            lambda end, out, error: library().faultodds_circuit_diff_json(
                old, len(old), new, len(new), of, len(of or b""), end, out, error
            ),
        )
    )


def new_circuit(parts: Document, *, cancel: Optional[Cancel] = None) -> "dict[str, Any]":
    """A circuit document from a list of parts, "faultodds-parts/1", to be checked."""
    given = encoded(parts)
    return json.loads(
        _answer(
            cancel,
            lambda end, out, error: library().faultodds_circuit_new_json(given, len(given), end, out, error),
        )
    )


def draw_circuit(circuit: Document, case: Optional[Document] = None, *, cancel: Optional[Cancel] = None) -> str:
    """The circuit as SVG; with a case its suspects are shaded and the next test is marked, its cautions beside it."""
    given = encoded(circuit)
    of = None if case is None else encoded(case)
    return _answer(
        cancel,
        lambda end, out, error: library().faultodds_circuit_draw_svg(
            given, len(given), of, len(of or b""), end, out, error
        ),
    )


def expand_circuit(circuit: Document, *, cancel: Optional[Cancel] = None) -> "dict[str, Any]":
    """The document that a variant or one with assemblies stands for, written out."""
    given = encoded(circuit)
    return json.loads(
        _answer(
            cancel,
            lambda end, out, error: library().faultodds_circuit_expand_json(given, len(given), end, out, error),
        )
    )


def read_circuit(path: "Union[str, os.PathLike[str]]") -> "dict[str, Any]":
    """The circuit document of a file; where it extends another by name, with that one, from beside it, in it."""
    file = pathlib.Path(path)

    def once(members: "list[tuple[str, Any]]") -> "dict[str, Any]":
        out = dict(members)
        if len(out) < len(members):
            raise ValueError(f"{file}: a key is said twice in one object")
        return out

    document = outermost = json.loads(file.read_text(encoding="utf-8"), object_pairs_hook=once)
    names: "set[str]" = set()
    while isinstance(document, dict) and isinstance(document.get("extends"), str):
        name = document["extends"]
        if name in names or len(names) == 16:
            raise ValueError(f"{path}: circuits extend one another in a circle or too deep, at {name!r}")
        names.add(name)
        file = pathlib.Path(path).parent / f"{name}.json"
        if "/" in name or not file.exists():
            raise ValueError(f"{path}: there is no {name}.json beside it to extend")
        document["extends"] = json.loads(file.read_text(encoding="utf-8"), object_pairs_hook=once)
        document = document["extends"]
    return outermost


def json_schema(format: str) -> "dict[str, Any]":
    """JSON Schema (2020-12) of a document such as "faultodds-circuit/1"."""
    name = format.encode("utf-8")
    return json.loads(
        _answer(None, lambda end, out, error: library().faultodds_schema_json(name, len(name), end, out, error))
    )
