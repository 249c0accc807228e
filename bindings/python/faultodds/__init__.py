"""Ranks hydraulic suspects and next tests: a binding of the faultodds C library.

Two ways in: ``assess`` for one answer, ``Model`` for many cases of one circuit. Documents go
in as dicts, or as JSON text, and come out as dicts; nothing is checked here that the library checks. A
program that shows a test shows its cautions.
"""

from ._errors import FaultoddsError
from ._model import Model, assess, library_version

__all__ = ["FaultoddsError", "Model", "assess", "library_version"]
