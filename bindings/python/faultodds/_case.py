"""Evidence that comes one by one."""

import ctypes
import threading
from typing import Any, Dict, List, NamedTuple, Optional, Sequence, Tuple

from ._cancel import Cancel, until
from ._closing import Closing
from ._documents import Document, decoded, encoded, failure, taken
from ._errors import FaultoddsError
from ._declarations import CaseSummary, Handle, OwnedText
from ._library import library, whole
from ._declarations import Causes as _Causes
from ._declarations import RankedTest as _RankedTest


class Share(NamedTuple):
    """Components that together may be the cause, and with what probability they are."""

    components: Tuple[str, ...]
    probability: float


class Causes(NamedTuple):
    """Why an observation is as it is. The shares and the three numbers after them sum to 1."""

    observation: str
    shares: Tuple[Share, ...]  # most probable first
    by_design: float  # what leaks although all is sound
    elsewhere: float  # something that the circuit document does not describe
    nothing: float  # nothing wrong: a false report


class RankedTest(NamedTuple):
    """One line of the ranking. Its title, cautions and reason are in ``Case.answer``."""

    observation: str
    energised: bool  # needs power on or a load left up
    information_bits: float
    cause_bits: float  # about the cause of the complaint
    minutes: float  # setup not yet done included
    bits_per_minute: float


class Case(Closing):
    """The evidence of one work order. Made by ``Model.open_case``; it keeps its model alive.

    Threads that share a case take turns. ``close`` (or the end of a ``with``) frees it; using it
    afterwards raises ValueError. After every change call ``assess`` before asking for results.
    """

    def __init__(
        self, model: Handle, modes: List[str], observations: List[str], components: List[str]
    ) -> None:
        """Use ``Model.open_case``."""
        self._handle: Optional[Handle] = None
        self._turn = threading.RLock()
        self._model = _Names(modes, observations, components)
        handle, error = Handle(), Handle()
        lib = library()
        status = lib.faultodds_case_open(model, ctypes.byref(handle), ctypes.byref(error))
        if status != 0:
            raise failure(status, error)
        self._handle = handle

    def observe(self, observation: str, outcome: str) -> None:
        """Adds an outcome. Repeating an observation adds to what is known of it."""
        self.observe_entry({"observation": observation, "outcome": outcome})

    def observe_likelihood(self, observation: str, likelihood: Sequence[float]) -> None:
        """Adds a likelihood over the grades sound, worn, failed: three numbers >= 0, not all 0."""
        if len(likelihood) != 3:
            raise ValueError(f"likelihood has {len(likelihood)} numbers; expected 3")
        numbers = (ctypes.c_double * 3)(*likelihood)
        index = self._model.observation(observation)
        self._call(library().faultodds_case_observe_likelihood, index, numbers)

    def observe_entry(self, entry: Document) -> None:
        """Adds one entry of a case document's ``observations``: an outcome, a reading, a repair."""
        text = encoded(entry)
        self._call(library().faultodds_case_observe_json, text, len(text), None)

    def repaired(self, *components: str) -> None:
        """Says that these components were replaced by new ones."""
        self.observe_entry({"repaired": list(components)})

    def retract(self, observation: str) -> None:
        """Takes back all that was said of an observation; nothing happens if nothing was."""
        self._call(library().faultodds_case_retract, self._model.observation(observation))

    def setup_done(self, step: str) -> None:
        """Says that a setup step (an id from a test's ``setup``) is done and costs nothing more."""
        text = step.encode("utf-8")
        self._call(library().faultodds_case_setup_done, text, len(text))

    def assess(self, *, cancel: Optional[Cancel] = None) -> None:
        """Computes what the methods below give, from what the case now holds."""
        with until(cancel) as options:
            self._call(library().faultodds_case_assess, options)

    def log_evidence(self) -> float:
        """Natural logarithm of the probability (density, for readings) of the evidence."""
        return float(self._summary().log_evidence)

    def error_bound(self) -> float:
        """The most by which a number of the answer can be wrong; 0 unless the model's memory budget
        was too small for an exact one."""
        return float(self._summary().error_bound)

    def _summary(self) -> CaseSummary:
        summary = CaseSummary(ctypes.sizeof(CaseSummary))
        self._call(library().faultodds_case_read_summary, ctypes.byref(summary))
        return summary

    def posteriors(self) -> Dict[str, Tuple[float, float, float]]:
        """P(sound), P(worn), P(failed) of every failure mode."""
        modes = self._model.modes
        room = (ctypes.c_double * (3 * len(modes)))()
        count = ctypes.c_size_t()
        self._call(library().faultodds_case_posteriors, room, len(room), ctypes.byref(count))
        return {
            mode: (room[3 * i], room[3 * i + 1], room[3 * i + 2]) for i, mode in enumerate(modes)
        }

    def causes(self) -> List[Causes]:
        """What is probably behind each abnormal symptom, the complaint first."""
        lib, every = library(), []
        with self._turn:
            for rank in range(self._summary().cause_count):
                of = _Causes(ctypes.sizeof(_Causes))
                self._call(lib.faultodds_case_causes, rank, ctypes.byref(of))
                probabilities = (ctypes.c_double * of.share_count)()
                ends = (ctypes.c_uint32 * of.share_count)()
                room = (ctypes.c_uint32 * of.component_count)()
                self._call(
                    lib.faultodds_case_shares,
                    rank, probabilities, ends, len(ends), room, len(room),
                )
                names = [self._model.components[component] for component in room]
                shares = tuple(
                    Share(tuple(names[begin:end]), probability)
                    for probability, begin, end in zip(probabilities, [0, *ends], ends)
                )
                observation = self._model.observations[of.observation]
                every.append(Causes(observation, shares, of.by_design, of.elsewhere, of.nothing))
        return every

    def tests(self) -> List[RankedTest]:
        """The ranking, best first by what each tells; the answer puts the advice's test first."""
        lib, ranking = library(), []
        with self._turn:
            for rank in range(self._summary().test_count):
                test = _RankedTest(ctypes.sizeof(_RankedTest))
                self._call(lib.faultodds_case_test, rank, ctypes.byref(test))
                ranking.append(
                    RankedTest(
                        self._model.observations[test.observation],
                        bool(test.energised),
                        test.information_bits,
                        test.cause_bits,
                        test.minutes,
                        test.bits_per_minute,
                    )
                )
        return ranking

    def answer(self, *, cancel: Optional[Cancel] = None) -> "dict[str, Any]":
        """The whole assessment document, with the cautions of every test."""
        answer = OwnedText()
        call = library().faultodds_case_answer_json
        with until(cancel) as options:
            self._call(call, options, ctypes.byref(answer))
        return decoded(taken(answer))

    def close(self) -> None:
        """Frees the case. May be called again."""
        with self._turn:
            handle, self._handle = self._handle, None
            if handle is not None:
                library().faultodds_case_free(handle)

    def _call(self, function: Any, *arguments: Any) -> None:
        with self._turn:
            if self._handle is None:
                raise ValueError("the case is closed")
            error = Handle()
            status = function(self._handle, *arguments, ctypes.byref(error))
            if status != 0:
                raise failure(status, error)

    def __del__(self) -> None:
        # Nobody refers to the case any more, so no call is running on it.
        handle = getattr(self, "_handle", None)
        if handle is not None:
            self._handle = None
            library().faultodds_case_free(handle)


def assess_cases(
    cases: Sequence[Case], *, threads: int = 1, cancel: Optional[Cancel] = None
) -> None:
    """Assesses cases of one model at once, as ``Case.assess`` does each but faster: those with evidence on
    the same observations are computed side by side, and ``threads`` share the work.

    Raises for the first that cannot be assessed, with a pointer that begins with "/cases/" and its index; the
    others are assessed all the same. No case may occur twice, and no other thread use one meanwhile.
    """
    whole("threads", threads, 1, 32)
    handles = [case._handle for case in cases]
    if None in handles:
        raise ValueError("a case is closed")
    values = [handle.value for handle in handles if handle is not None]
    error = Handle()
    with until(cancel) as options:
        status = library().faultodds_cases_assess(
            (Handle * len(values))(*values), len(values), threads, options, None, ctypes.byref(error)
        )
    if status != 0:
        raise failure(status, error)


class _Names:
    """Ids of a model by index."""

    def __init__(self, modes: List[str], observations: List[str], components: List[str]) -> None:
        self.components = components
        self.modes = modes
        self.observations = observations

    def observation(self, name: str) -> int:
        try:
            return self.observations.index(name)
        except ValueError:
            raise FaultoddsError(
                "invalid_argument", f"observation is `{name}`; this circuit has no such observation"
            ) from None
