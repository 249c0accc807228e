"""Documents in, documents out."""

import ctypes
import json
import threading
from types import TracebackType
from typing import Any, Mapping, Optional, Type, Union

from ._errors import FaultoddsError
from ._library import Handle, ModelOptions, OwnedText, library

# A dict of the JSON, or the JSON text itself, which the library gets as it is.
Document = Union[Mapping[str, Any], str, bytes]


def _encoded(document: Document) -> bytes:
    if isinstance(document, bytes):
        return document
    if isinstance(document, str):
        return document.encode("utf-8")
    # allow_nan=False: NaN and Infinity are no JSON. A lone surrogate is no UTF-8: UnicodeEncodeError,
    # a ValueError like the other.
    return json.dumps(document, allow_nan=False, ensure_ascii=False).encode("utf-8")


def _taken(text: OwnedText) -> str:
    """Copies a string of the library's and frees it."""
    try:
        value = ctypes.cast(text, ctypes.c_char_p).value
        return (value or b"").decode("utf-8")
    finally:
        library().faultodds_free(text)


def _failure(status: int, error: Handle) -> FaultoddsError:
    lib = library()
    try:
        return FaultoddsError(
            lib.faultodds_status_name(status).decode("ascii"),
            lib.faultodds_error_message(error).decode("utf-8"),
            lib.faultodds_error_pointer(error).decode("utf-8"),
        )
    finally:
        lib.faultodds_error_free(error)


def library_version() -> str:
    """Version of the loaded library."""
    return library().faultodds_version().decode("ascii")


def assess(circuit: Document, case: Document, priors: Optional[Document] = None) -> "dict[str, Any]":
    """Assesses one case against one circuit. ``priors``: a prior pack, else the shipped one."""
    lib = library()
    circuit_text, case_text = _encoded(circuit), _encoded(case)
    priors_text = None if priors is None else _encoded(priors)
    answer, error = OwnedText(), OwnedText()
    status = lib.faultodds_assess_json(
        circuit_text,
        len(circuit_text),
        case_text,
        len(case_text),
        priors_text,
        len(priors_text or b""),
        ctypes.byref(answer),
        ctypes.byref(error),
    )
    if status != 0:
        if not error.value:
            raise FaultoddsError(lib.faultodds_status_name(status).decode("ascii"), "", "")
        told = json.loads(_taken(error))
        raise FaultoddsError(told["code"], told["message"], told["pointer"])
    return json.loads(_taken(answer))


class Model:
    """A compiled circuit. Immutable: any number of threads may assess with one model at once.

    ``close`` (or the end of a ``with``) frees it; assessing afterwards raises ValueError.
    """

    def __init__(
        self,
        circuit: Document,
        priors: Optional[Document] = None,
        *,
        asset_class: str = "",
        memory_budget: int = 0,
    ) -> None:
        """``memory_budget``: bytes of inference tables, 0 for the library's default."""
        self._handle: Optional[Handle] = None
        self._changing = threading.Condition()
        self._calls = 0  # running on the handle
        if not 0 <= memory_budget < 2**64:
            raise ValueError(f"memory_budget is {memory_budget}; expected 0 to 2**64 - 1")
        circuit_text = _encoded(circuit)
        priors_text = None if priors is None else _encoded(priors)
        class_text = asset_class.encode("utf-8")
        options = ModelOptions(
            ctypes.sizeof(ModelOptions), memory_budget, class_text or None, len(class_text)
        )
        handle, error = Handle(), Handle()
        status = library().faultodds_model_load(
            circuit_text,
            len(circuit_text),
            priors_text,
            len(priors_text or b""),
            ctypes.byref(options),
            ctypes.byref(handle),
            ctypes.byref(error),
        )
        if status != 0:
            raise _failure(status, error)
        self._handle = handle

    def assess(self, case: Document) -> "dict[str, Any]":
        """The assessment document of a case document."""
        text = _encoded(case)
        return self._call(library().faultodds_model_assess_json, text, len(text))

    def describe(self) -> "dict[str, Any]":
        """What the circuit can show: modes, observations, setup steps, ambiguity groups."""
        return self._call(library().faultodds_model_describe_json)

    def close(self) -> None:
        """Frees the model once calls in other threads have returned. May be called again."""
        with self._changing:
            handle, self._handle = self._handle, None
            self._changing.wait_for(lambda: self._calls == 0)
        if handle is not None:
            library().faultodds_model_free(handle)

    def _call(self, function: Any, *arguments: Any) -> "dict[str, Any]":
        with self._changing:
            handle = self._handle
            if handle is None:
                raise ValueError("the model is closed")
            self._calls += 1
        try:
            answer, error = OwnedText(), Handle()
            status = function(handle, *arguments, ctypes.byref(answer), ctypes.byref(error))
            if status != 0:
                raise _failure(status, error)
            return json.loads(_taken(answer))
        finally:
            with self._changing:
                self._calls -= 1
                self._changing.notify_all()

    def __enter__(self) -> "Model":
        return self

    def __exit__(
        self,
        kind: Optional[Type[BaseException]],
        value: Optional[BaseException],
        trace: Optional[TracebackType],
    ) -> None:
        self.close()

    def __del__(self) -> None:
        # Nobody refers to the model any more, so no call is running on it.
        handle = getattr(self, "_handle", None)
        if handle is not None:
            self._handle = None
            library().faultodds_model_free(handle)
