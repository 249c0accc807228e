"""Ranks hydraulic suspects and next tests: a binding of the faultodds C library.

Three ways in: ``assess`` for one answer, ``Model`` for many cases of one circuit, ``Model.open_case`` for
evidence that comes one by one. ``learn_priors``, ``merge_priors``, ``diff_priors`` and ``backtest_priors``
make and judge prior packs. Documents go in as dicts, or as JSON text, and come out as dicts; nothing is
checked here that the library checks. A
program that shows a test shows its cautions.
"""

from ._cancel import Cancel
from ._case import Case, RankedTest
from ._errors import FaultoddsError
from ._model import Model, assess, library_version
from ._priors import LearnedPriors, backtest_priors, diff_priors, learn_priors, merge_priors

__all__ = [
    "Cancel",
    "Case",
    "FaultoddsError",
    "LearnedPriors",
    "Model",
    "RankedTest",
    "assess",
    "backtest_priors",
    "diff_priors",
    "learn_priors",
    "library_version",
    "merge_priors",
]
