"""Prior packs from closed work orders: learn, merge, compare, backtest."""

import ctypes
import json
import os
from typing import Any, Callable, List, NamedTuple, Optional, Sequence, Tuple, Union

from ._cancel import Cancel, ending
from ._documents import Document, encoded, failure, taken
from ._declarations import BacktestOptions, Handle, LearnOptions, OwnedText, Progress, Records, Write
from ._library import library, whole
from ._tables import table_text

# CSV: a path object names a file, which is read at constant memory; str and bytes are the text itself. A path that ends in
# .xlsx or .parquet, a DataFrame, an Arrow table and a list of dictionaries are read as read_table reads them.
RecordsLike = Union["os.PathLike[str]", str, bytes, Any]


class LearnedPriors(NamedTuple):
    """A prior pack, and an account of every row of the records."""

    pack: "dict[str, Any]"
    summary: "dict[str, Any]"


class _Callbacks:
    """Callbacks as C has them. An exception in one ends the call, which then raises it."""

    def __init__(self) -> None:
        self.raised: Optional[BaseException] = None

    def _kept(self, call: Callable[[], Any]) -> int:
        try:
            return 1 if call() is False else 0
        except BaseException as problem:  # noqa: BLE001 - raised again by the caller's thread
            self.raised = problem
            return 1

    def progress(self, told: Optional[Callable[[int], Any]]) -> Any:
        if told is None:
            return Progress()
        return Progress(lambda _, done: self._kept(lambda: told(done)))

    def write(self, given: Optional[Callable[[str], Any]]) -> Any:
        if given is None:
            return Write()
        return Write(
            lambda _, text, size: self._kept(
                lambda: given(ctypes.string_at(text, size).decode("utf-8"))
            )
        )


def _records(source: RecordsLike) -> Records:
    table = table_text(source)
    if table is not None:
        source = table
    if isinstance(source, (str, bytes)):
        text = source.encode("utf-8") if isinstance(source, str) else source
        return Records(ctypes.sizeof(Records), None, 0, text, len(text))
    path = os.fsencode(source)
    return Records(ctypes.sizeof(Records), path, len(path), None, 0)


def _fill(options: ctypes.Structure, **texts: Optional[bytes]) -> None:
    for name, text in texts.items():
        setattr(options, name, text)
        setattr(options, name + "_len", len(text or b""))


def _document(document: Optional[Document]) -> Optional[bytes]:
    return None if document is None else encoded(document)


def _given(status: int, error: Handle, callbacks: Optional[_Callbacks] = None) -> None:
    if status == 0:
        return
    problem = failure(status, error)
    if callbacks is not None and callbacks.raised is not None:
        raise callbacks.raised
    raise problem


def learn_priors(
    orders: RecordsLike,
    *,
    source: str,
    exposure: Optional[RecordsLike] = None,
    title: str = "",
    mapping: Optional[Document] = None,
    circuit: Optional[Document] = None,
    judgement: Optional[Document] = None,
    worth_jobs: float = 0,
    pool_classes: bool = True,
    through_circuit: bool = False,
    learn_outcomes: bool = False,
    threads: int = 1,
    audit_orders: int = 0,
    reject: Optional[Callable[[str], Any]] = None,
    progress: Optional[Callable[[int], Any]] = None,
    cancel: Optional[Cancel] = None,
) -> LearnedPriors:
    """Learns a pack from closed work orders and exposure, CSV.

    ``source``: id of these records, which merging counts once. ``mapping``: "faultodds-records/1".
    ``circuit``: whose own component types are known too. ``judgement``: the pack to start from, else the
    shipped one, worth ``worth_jobs`` jobs (0: 20). ``through_circuit``: by expectation-maximisation
    through ``circuit``, which counts what was tested and corrects for records that exist only because of
    a complaint, ``learn_outcomes`` with the outcome statistics; such a pack cannot be merged. Without
    ``through_circuit``, ``learn_outcomes`` makes leak-rate bands of the leak rates in ``tests``, on
    ``circuit``; that pack can. ``audit_orders``: how many work orders, the latest, ``summary["audit"]`` names for
    each failure mode they say something of. ``reject`` is given a row of CSV for each row not used, ``progress`` the
    number of rows read; either ends the call by returning False or raising.
    """
    pack, summary = _learned(
        orders, source, exposure, title, mapping, circuit, judgement, worth_jobs, pool_classes, through_circuit,
        learn_outcomes, threads, audit_orders, reject, progress, cancel, False,
    )
    return LearnedPriors(json.loads(pack), summary)


def count_distinct(
    orders: RecordsLike,
    *,
    circuit: Document,
    mapping: Optional[Document] = None,
    reject: Optional[Callable[[str], Any]] = None,
) -> "Tuple[str, dict[str, Any]]":
    """The orders as learning through ``circuit`` counts them: CSV of each different one with how many say it, in
    ``orders``, and the summary. Learning from such tables put together is learning from all the orders."""
    return _learned(orders, "distinct", None, "", mapping, circuit, None, 0, True, True, False, 1, 0, reject, None, None, True)


def _learned(
    orders: RecordsLike,
    source: str,
    exposure: Optional[RecordsLike],
    title: str,
    mapping: Optional[Document],
    circuit: Optional[Document],
    judgement: Optional[Document],
    worth_jobs: float,
    pool_classes: bool,
    through_circuit: bool,
    learn_outcomes: bool,
    threads: int,
    audit_orders: int,
    reject: Optional[Callable[[str], Any]],
    progress: Optional[Callable[[int], Any]],
    cancel: Optional[Cancel],
    distinct: bool,
) -> "Tuple[str, dict[str, Any]]":
    callbacks = _Callbacks()
    options = LearnOptions(struct_size=ctypes.sizeof(LearnOptions))
    _fill(
        options,
        source=source.encode("utf-8"),
        title=title.encode("utf-8"),
        mapping=_document(mapping),
        circuit=_document(circuit),
        judgement=_document(judgement),
    )
    options.worth_jobs = worth_jobs
    options.no_pooling = 0 if pool_classes else 1
    options.through_circuit, options.learn_outcomes = int(through_circuit), int(learn_outcomes)
    options.threads = whole("threads", threads, 1, 32)
    options.audit_orders = whole("audit_orders", audit_orders, 0, 32)
    options.count_distinct = int(distinct)
    options.reject = callbacks.write(reject)
    options.progress = callbacks.progress(progress)
    exposed = None if exposure is None else ctypes.byref(_records(exposure))
    pack, summary, error = OwnedText(), OwnedText(), Handle()
    with ending(cancel) as options.cancel:
        status = library().faultodds_priors_learn(
            ctypes.byref(_records(orders)),
            exposed,
            ctypes.byref(options),
            ctypes.byref(pack),
            ctypes.byref(summary),
            ctypes.byref(error),
        )
    _given(status, error, callbacks)
    return taken(pack), json.loads(taken(summary))


def merge_priors(packs: Sequence[Document]) -> "dict[str, Any]":
    """One pack from those of several depots: what learning from all their records at once gives."""
    texts = [encoded(pack) for pack in packs]
    merged, error = OwnedText(), Handle()
    status = library().faultodds_priors_merge(
        (ctypes.c_char_p * len(texts))(*texts),
        (ctypes.c_size_t * len(texts))(*map(len, texts)),
        len(texts),
        None,
        ctypes.byref(merged),
        ctypes.byref(error),
    )
    _given(status, error)
    return json.loads(taken(merged))


def diff_priors(before: Optional[Document], after: Document) -> "List[dict[str, Any]]":
    """What changed, on how many jobs, how sure; the largest change first. ``before`` None: the shipped
    pack."""
    old, new = _document(before), encoded(after)
    difference, error = OwnedText(), Handle()
    status = library().faultodds_priors_diff_json(
        old, len(old or b""), new, len(new), None, ctypes.byref(difference), ctypes.byref(error)
    )
    _given(status, error)
    return json.loads(taken(difference))["changes"]


def backtest_priors(
    circuit: Document,
    orders: RecordsLike,
    *,
    before: Optional[Document] = None,
    after: Optional[Document] = None,
    mapping: Optional[Document] = None,
    asset_class: str = "",
    worth_jobs: float = 0,
    isolated: float = 0,
    most_jobs: int = 0,
    threads: int = 1,
    progress: Optional[Callable[[int], Any]] = None,
    cancel: Optional[Cancel] = None,
) -> "dict[str, Any]":
    """Replays closed orders in time order with two packs: "faultodds-backtest/1".

    ``before``: the present pack, else the shipped one. ``after``: the pack offered, else one that is
    learned through the circuit as the replay goes.
    """
    callbacks = _Callbacks()
    options = BacktestOptions(struct_size=ctypes.sizeof(BacktestOptions))
    _fill(
        options,
        mapping=_document(mapping),
        before=_document(before),
        after=_document(after),
        asset_class=asset_class.encode("utf-8"),
    )
    options.worth_jobs, options.isolated = worth_jobs, isolated
    options.most_jobs = whole("most_jobs", most_jobs, 0, 64)
    options.threads = whole("threads", threads, 1, 32)
    options.progress = callbacks.progress(progress)
    text = encoded(circuit)
    answer, error = OwnedText(), Handle()
    with ending(cancel) as options.cancel:
        status = library().faultodds_priors_backtest_json(
            text,
            len(text),
            ctypes.byref(_records(orders)),
            ctypes.byref(options),
            ctypes.byref(answer),
            ctypes.byref(error),
        )
    _given(status, error, callbacks)
    return json.loads(taken(answer))
