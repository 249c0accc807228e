"""Documents in, documents out: the one call, and models."""

import ctypes
from typing import Any, Callable, List, Optional, TypeVar

from ._cancel import Cancel, ending, until
from ._case import Case
from ._closing import Shared
from ._documents import Document, decoded, encoded, failure, taken
from ._errors import FaultoddsError
from ._declarations import Handle, ModelCounters, ModelOptions, OwnedText
from ._library import library, whole

Result = TypeVar("Result")

# Constants of capi/faultodds.h.
_MODE, _OBSERVATION, _COMPONENT = 1, 2, 3
_NOTE_TEXT, _NOTE_HTML = 1, 2
_PLAN_JSON, _PLAN_HTML = 1, 2
_RECORD_JSON, _RECORD_CSV, _RECORD_CSV_HEADED = 1, 2, 3


def library_version() -> str:
    """Version of the loaded library."""
    version: bytes = library().faultodds_version()
    return version.decode("ascii")


def assess(
    circuit: Document,
    case: Document,
    priors: Optional[Document] = None,
    *,
    cancel: Optional[Cancel] = None,
) -> "dict[str, Any]":
    """Assesses one case against one circuit. ``priors``: a prior pack, else the shipped one."""
    lib = library()
    circuit_text, case_text = encoded(circuit), encoded(case)
    priors_text = None if priors is None else encoded(priors)
    answer, error = OwnedText(), OwnedText()
    with until(cancel) as options:
        status = lib.faultodds_assess_json(
            circuit_text,
            len(circuit_text),
            case_text,
            len(case_text),
            priors_text,
            len(priors_text or b""),
            options,
            ctypes.byref(answer),
            ctypes.byref(error),
        )
    if status != 0:
        if not error.value:
            raise FaultoddsError(lib.faultodds_status_name(status).decode("ascii"), "", "")
        told = decoded(taken(error))
        raise FaultoddsError(told["code"], told["message"], told["pointer"])
    return decoded(taken(answer))


class Model(Shared):
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
        search_steps: int = 0,
        cancel: Optional[Cancel] = None,
    ) -> None:
        """``memory_budget``: bytes of inference tables; ``search_steps``: of the search of leak paths. 0
        is the library's default."""
        super().__init__("model", "faultodds_model_free")
        circuit_text = encoded(circuit)
        priors_text = None if priors is None else encoded(priors)
        class_text = asset_class.encode("utf-8")
        options = ModelOptions(
            struct_size=ctypes.sizeof(ModelOptions),
            memory_budget=whole("memory_budget", memory_budget, 0, 64),
            asset_class=class_text or None,
            asset_class_len=len(class_text),
            search_steps=whole("search_steps", search_steps, 0, 64),
        )
        handle, error = Handle(), Handle()
        with ending(cancel) as options.cancel:
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
            raise failure(status, error)
        self._handle = handle

    def assess(self, case: Document, *, cancel: Optional[Cancel] = None) -> "dict[str, Any]":
        """The assessment document of a case document."""
        text = encoded(case)
        call = library().faultodds_model_assess_json
        with until(cancel) as options:
            return decoded(self._text(call, text, len(text), options))

    def note(self, case: Document, *, html: bool = False, cancel: Optional[Cancel] = None) -> str:
        """A note for the work order, plain text or one HTML page: what was observed, what is suspected
        and why, what to do next, the cautions before everything they belong to."""
        text = encoded(case)
        form = _NOTE_HTML if html else _NOTE_TEXT
        with until(cancel) as options:
            return self._text(library().faultodds_model_note, text, len(text), form, options)

    def plan(self, case: Document, *, cancel: Optional[Cancel] = None) -> "dict[str, Any]":
        """The tests to make one after the other, by outcome, and what to replace at the end of each branch, a
        "faultodds-plan/1" document. ``cancel`` leaves what is ready: the rest says ``"cut": "time"``."""
        return decoded(self._plan(case, _PLAN_JSON, cancel))

    def plan_card(self, case: Document, *, cancel: Optional[Cancel] = None) -> str:
        """The same as a card to print, one HTML page, the cautions before everything."""
        return self._plan(case, _PLAN_HTML, cancel)

    def record(self, case: Document, closing: Document) -> "dict[str, Any]":
        """The record of a work order that is closed with ``closing``, a "faultodds-closing/1" document."""
        return decoded(self._record(case, closing, _RECORD_JSON))

    def record_rows(self, case: Document, closing: Document, *, header: bool = False) -> str:
        """The same as rows of a work-order file (CSV), from which prior packs are learned."""
        return self._record(case, closing, _RECORD_CSV_HEADED if header else _RECORD_CSV)

    def propose(self, text: str, language: str = "en") -> "dict[str, Any]":
        """What the words of a complaint may mean, a "faultodds-proposals/1" document: at most three symptoms
        of the circuit with an outcome each, the likeliest first, none where nothing fits. A person confirms one."""
        said, spoken = text.encode("utf-8"), language.encode("utf-8")
        call = library().faultodds_model_propose_json
        return decoded(self._text(call, said, len(said), spoken, len(spoken), None))

    def draw(
        self, case: Document, *, width: int = 0, language: str = "", cancel: Optional[Cancel] = None
    ) -> str:
        """The part of the circuit that a case concerns, as SVG that fits in ``width`` px (0: any); "" where it concerns
        none. It holds no cautions: show those of the test before it."""
        given, spoken = encoded(case), language.encode("utf-8")
        call = library().faultodds_model_draw_svg
        with until(cancel) as options:
            return self._text(call, given, len(given), width, spoken, len(spoken), options)

    def describe(self, *, detail: str = "full") -> "dict[str, Any]":
        """What the circuit can show: modes, observations, setup steps, ambiguity groups; with ``"screen"`` what a
        screen needs of it, a tenth or less."""
        if detail not in ("full", "screen"):
            raise ValueError(f"detail is {detail!r}; expected 'full' or 'screen'")
        lib = library()
        call = lib.faultodds_model_describe_screen_json if detail == "screen" else lib.faultodds_model_describe_json
        return decoded(self._text(call, None))

    def counters(self) -> "dict[str, int]":
        """Plans made, reused and kept, bytes kept, and answers by method (faultodds_model_counters)."""
        counters = ModelCounters(struct_size=ctypes.sizeof(ModelCounters))

        def read(handle: Handle) -> None:
            error = Handle()
            status = library().faultodds_model_read_counters(
                handle, ctypes.byref(counters), ctypes.byref(error)
            )
            if status != 0:
                raise failure(status, error)

        self._with_handle(read)
        return {name: getattr(counters, name) for name, _ in ModelCounters._fields_[1:]}

    def open_case(self) -> Case:
        """An empty case, for evidence that comes one by one."""
        return self._with_handle(
            lambda handle: Case(handle, self.modes(), self.observations(), self._components())
        )

    def modes(self) -> List[str]:
        """Ids of the failure modes, "component.mode", in the order of posteriors."""
        return self._ids(_MODE)

    def observations(self) -> List[str]:
        """Ids of everything that can be observed on this circuit."""
        return self._ids(_OBSERVATION)

    def _components(self) -> List[str]:
        return self._ids(_COMPONENT)

    def outcomes(self, observation: str) -> List[str]:
        """Ids of the outcomes of an observation, the normal one first."""
        lib = library()

        def look_up(handle: Handle) -> List[str]:
            index, error = ctypes.c_uint32(), Handle()
            text = observation.encode("utf-8")
            status = lib.faultodds_model_find(
                handle, _OBSERVATION, text, len(text), ctypes.byref(index), ctypes.byref(error)
            )
            if status != 0:
                raise failure(status, error)
            count = lib.faultodds_model_outcome_count(handle, index)
            return [
                lib.faultodds_model_outcome_id(handle, index, outcome).decode("utf-8")
                for outcome in range(count)
            ]

        return self._with_handle(look_up)

    def _with_handle(self, use: Callable[[Handle], Result]) -> Result:
        with self._using() as handle:
            return use(handle)

    def _plan(self, case: Document, form: int, cancel: Optional[Cancel]) -> str:
        text = encoded(case)
        with until(cancel) as options:
            return self._text(library().faultodds_model_plan, text, len(text), form, options)

    def _record(self, case: Document, closing: Document, form: int) -> str:
        text, closed = encoded(case), encoded(closing)
        lib = library()
        return self._text(lib.faultodds_model_close, text, len(text), closed, len(closed), form, None)

    def _text(self, function: Any, *arguments: Any) -> str:
        def call(handle: Handle) -> str:
            answer, error = OwnedText(), Handle()
            status = function(handle, *arguments, ctypes.byref(answer), ctypes.byref(error))
            if status != 0:
                raise failure(status, error)
            return taken(answer)

        return self._with_handle(call)

    def _ids(self, kind: int) -> List[str]:
        lib = library()
        return self._with_handle(
            lambda handle: [
                lib.faultodds_model_id(handle, kind, i).decode("utf-8")
                for i in range(lib.faultodds_model_count(handle, kind))
            ]
        )
