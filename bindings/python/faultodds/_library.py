"""Finds the shared library and declares its functions."""

import ctypes
import os
import sys
import threading
from pathlib import Path
from typing import Optional

from ._declarations import SIGNATURES

_SOVERSION = 2
_loaded: Optional[ctypes.CDLL] = None
_lock = threading.Lock()


def whole(name: str, value: int, least: int, bits: int) -> int:
    """A number for C, which would take another silently."""
    if not least <= value < 2**bits:
        raise ValueError(f"{name} is {value}; expected {least} to 2**{bits} - 1")
    return value


def file_name(platform: str = sys.platform) -> str:
    """What the library is called on this platform, or another that Python knows."""
    if platform == "win32":
        return f"faultodds-{_SOVERSION}.dll"
    if platform == "darwin":
        return f"libfaultodds.{_SOVERSION}.dylib"
    return f"libfaultodds.so.{_SOVERSION}"


def _where() -> str:
    named = os.environ.get("FAULTODDS_LIBRARY")
    if named:
        return named
    beside = Path(__file__).resolve().parent / file_name()
    return str(beside) if beside.exists() else file_name()


def _declare(lib: ctypes.CDLL) -> None:
    for name, (result, arguments) in SIGNATURES.items():
        function = getattr(lib, name)
        function.restype = result
        function.argtypes = arguments


def library() -> ctypes.CDLL:
    """The library, loaded on first use. ctypes releases the interpreter's lock during its calls."""
    global _loaded
    with _lock:
        if _loaded is None:
            path = _where()
            try:
                lib = ctypes.CDLL(path)
            except OSError as problem:
                raise ImportError(
                    f"the faultodds library could not be loaded from {path!r}: {problem}; "
                    "set FAULTODDS_LIBRARY to its path"
                ) from problem
            _declare(lib)
            _loaded = lib
        return _loaded
