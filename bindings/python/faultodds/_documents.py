"""How documents and errors cross the C interface."""

import ctypes
import json
from typing import Any, Mapping, Union

from ._errors import FaultoddsError
from ._declarations import Handle, OwnedText
from ._library import library

# A dict of the JSON, or the JSON text itself, which the library gets as it is.
Document = Union[Mapping[str, Any], str, bytes]


def encoded(document: Document) -> bytes:
    """The UTF-8 text of a document."""
    if isinstance(document, bytes):
        return document
    if isinstance(document, str):
        return document.encode("utf-8")
    # allow_nan=False: NaN and Infinity are no JSON. A lone surrogate is no UTF-8: UnicodeEncodeError,
    # a ValueError like the other.
    return json.dumps(document, allow_nan=False, ensure_ascii=False).encode("utf-8")


def decoded(text: str) -> "dict[str, Any]":
    """The object of a document that the library wrote."""
    document: "dict[str, Any]" = json.loads(text)
    return document


def taken(text: OwnedText) -> str:
    """Copies a string of the library's and frees it."""
    try:
        value = ctypes.cast(text, ctypes.c_char_p).value
        return (value or b"").decode("utf-8")
    finally:
        library().faultodds_free(text)


def failure(status: int, error: Handle) -> FaultoddsError:
    """The exception of a status other than 0; frees the library's error."""
    lib = library()
    try:
        return FaultoddsError(
            lib.faultodds_status_name(status).decode("ascii"),
            lib.faultodds_error_message(error).decode("utf-8"),
            lib.faultodds_error_pointer(error).decode("utf-8"),
        )
    finally:
        lib.faultodds_error_free(error)
