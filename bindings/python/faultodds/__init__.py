"""Ranks hydraulic suspects and next tests: a binding of the faultodds C library.

Three ways in: ``assess`` for one answer, ``Model`` for many cases of one circuit, ``Model.open_case`` for
evidence that comes one by one, ``assess_cases`` for many of those at once. ``learn_priors``,
``merge_priors``, ``diff_priors`` and ``backtest_priors`` make and judge prior packs, from records that
``read_table`` takes out of spreadsheets and data frames too; ``Network`` answers
queries of discrete Bayesian networks of any kind. ``check_circuit`` and its neighbours are for who writes
circuit documents. Documents go in as dicts, or as JSON text, and come out as
dicts; nothing is checked here that the library checks. A program that shows a test shows its cautions.
"""

from ._authoring import (
    check_circuit,
    diff_circuits,
    draw_circuit,
    expand_circuit,
    explain_observation,
    json_schema,
    new_circuit,
    read_circuit,
)
from ._answers import cautions_of
from ._cancel import Cancel
from ._case import Case, Causes, RankedTest, Share, assess_cases
from ._errors import FaultoddsError
from ._model import Model, assess, library_version
from ._network import Network, NetworkAnswer
from ._policies import compare_policies
from ._priors import LearnedPriors, backtest_priors, diff_priors, learn_priors, merge_priors
from ._tables import read_table

__all__ = [
    "Cancel",
    "Case",
    "Causes",
    "FaultoddsError",
    "LearnedPriors",
    "Model",
    "Network",
    "NetworkAnswer",
    "RankedTest",
    "Share",
    "assess",
    "assess_cases",
    "backtest_priors",
    "cautions_of",
    "check_circuit",
    "compare_policies",
    "diff_circuits",
    "diff_priors",
    "draw_circuit",
    "expand_circuit",
    "explain_observation",
    "json_schema",
    "learn_priors",
    "library_version",
    "merge_priors",
    "new_circuit",
    "read_circuit",
    "read_table",
]
