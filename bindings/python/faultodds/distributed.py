"""Learning and assessing on Apache Spark or Dask, for records and fleets that one process is too small for.

``learn`` gives what ``learn_priors`` gives, bit for bit: orders are put together by work order, each partition becomes a pack of its own where it lies, and packs are merged, which is pooling their records.
``through_circuit``, each partition reads its orders and takes off what counts twice where it lies, and hands out each
different order with how many say it. These counts are added up, whole numbers in one order, and expectation-maximisation
runs over them on the driver, with ``threads``.

``assess`` assesses cases of one circuit, a row each. Both take a DataFrame of Spark or of Dask.

The engines are the caller's: ``pip install pyspark pyarrow`` or ``dask[dataframe]``; the library has to be installed
where their workers run. A program that shows a test shows its cautions, which come with each test of an assessment.
"""

import csv
import io
import json
from collections import Counter
from itertools import groupby
from operator import itemgetter
from typing import Any, Callable, Dict, Iterable, Iterator, List, NamedTuple, Optional, Sequence, Tuple

from ._documents import Document, encoded
from ._errors import FaultoddsError
from ._model import Model
from ._priors import LearnedPriors, RecordsLike, count_distinct, learn_priors, merge_priors
from ._tables import _cell, table_text

PART_COLUMNS = ("partition", "pack", "summary")
ANSWER_COLUMNS = ("id", "assessment", "causes", "probability", "code", "message")


_ROW = "faultodds row"  # the number of a row, while rows are spread


class _How(NamedTuple):
    """How every partition learns; it travels to the workers."""

    source: str
    title: str
    mapping: Optional[str]
    circuit: Optional[str]
    judgement: Optional[str]
    worth_jobs: float
    pool_classes: bool
    through_circuit: bool
    threads: int


class _Part(NamedTuple):
    partition: int
    pack: Optional[str]  # None where no row could be used; through the circuit its distinct orders, CSV
    summary: str


def learn(
    orders: Any,
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
    threads: int = 1,
    partitions: Optional[int] = None,
) -> LearnedPriors:
    """As ``learn_priors``, on a DataFrame of orders, of Spark or, with the scheduler that is set, of Dask. ``exposure``,
    which is small, is read on the driver's behalf with one of the partitions. ``partitions``: how many; each has to fit
    into a worker's memory."""
    how = _how(source, title, mapping, circuit, judgement, worth_jobs, pool_classes, through_circuit, threads)
    exposed = None if exposure is None else _text(exposure)
    spread = _spread_by_spark if _of_spark(orders) else _spread_by_dask
    return _pooled(spread(orders, mapping, partitions, how, exposed), how, exposed)


def assess(cases: Any, circuit: Document, *, priors: Optional[Document] = None, asset_class: str = "") -> Any:
    """Assesses a DataFrame of cases, of Spark or Dask, ``id`` and ``case`` (a case document as JSON text), as one of
    ``id``, ``assessment`` (the whole answer as JSON text), ``causes`` (components that may be at fault together, the
    likeliest, with a blank between) and their ``probability``; or where a case is refused ``code`` and ``message``."""
    texts = (_json(circuit), None if priors is None else _json(priors), asset_class)
    return (_assess_by_spark if _of_spark(cases) else _assess_by_dask)(cases, texts)


# ---- what the driver does: by Spark, or by Dask --------------------------------------------------

# What learns from all partitions, or from one of them with the exposure.
_Run = Callable[[Optional[int]], List[_Part]]


def _of_spark(frame: Any) -> bool:
    return hasattr(frame, "sparkSession")


def _spread_by_spark(
    orders: Any, mapping: Optional[Document], partitions: Optional[int], how: _How, exposed: Optional[str]
) -> _Run:
    # All rows of a machine in one partition, in their order: only there is a row that was said twice found, and a failure
    # that was one before.
    from pyspark.sql import functions

    count = partitions or max(orders.rdd.getNumPartitions(), orders.sparkSession.sparkContext.defaultParallelism)
    spread = (
        orders.withColumn(_ROW, functions.monotonically_increasing_id())
        .repartition(count, orders[_together(mapping, orders.columns)])
        .sortWithinPartitions(_ROW)
        .drop(_ROW)
    )

    def run(chosen: Optional[int]) -> List[_Part]:
        def learned(batches: Iterator[Any]) -> Iterator[Any]:
            import pyarrow
            from pyspark import TaskContext

            number = TaskContext.get().partitionId()
            held = list(batches)
            if not held or (chosen is not None and number != chosen):
                return
            part = _learn_part(number, pyarrow.Table.from_batches(held), how, exposed if chosen is not None else None)
            yield pyarrow.RecordBatch.from_pylist([part._asdict()], schema=_part_schema())

        rows = spread.mapInArrow(learned, "partition int, pack string, summary string").collect()
        return [_Part(row.partition, row.pack, row.summary) for row in rows]

    return run


def _spread_by_dask(
    orders: Any, mapping: Optional[Document], partitions: Optional[int], how: _How, exposed: Optional[str]
) -> _Run:
    import dask

    numbered = orders.assign(**{_ROW: 1})
    numbered[_ROW] = numbered[_ROW].cumsum()
    spread = numbered.shuffle(
        on=_together(mapping, list(orders.columns)), npartitions=partitions or orders.npartitions
    )
    parts = spread.to_delayed()

    def run(chosen: Optional[int]) -> List[_Part]:
        wanted = range(len(parts)) if chosen is None else [chosen]
        return list(dask.compute(*(
            dask.delayed(_learn_frame)(number, parts[number], how, exposed if chosen is not None else None)
            for number in wanted
        )))

    return run


def _assess_by_spark(cases: Any, texts: Tuple[str, Optional[str], str]) -> Any:
    def answered(batches: Iterator[Any]) -> Iterator[Any]:
        import pyarrow

        with _model(texts) as model:
            for batch in batches:
                rows = _answers(model, zip(batch.column("id").to_pylist(), batch.column("case").to_pylist()))
                yield pyarrow.RecordBatch.from_pylist(
                    [dict(zip(ANSWER_COLUMNS, row)) for row in rows], schema=_answer_schema()
                )

    types = "id string, assessment string, causes string, probability double, code string, message string"
    return cases.select(cases["id"].cast("string").alias("id"), "case").mapInArrow(answered, types)


def _assess_by_dask(cases: Any, texts: Tuple[str, Optional[str], str]) -> Any:
    import pandas

    empty = pandas.DataFrame({
        name: pandas.Series(dtype="float64" if name == "probability" else "object") for name in ANSWER_COLUMNS
    })
    return cases[["id", "case"]].map_partitions(_answer_frame, texts, meta=empty)


# ---- what a worker does --------------------------------------------------------------------------


def _learn_frame(number: int, frame: Any, how: _How, exposure: Optional[str]) -> _Part:
    import pyarrow

    rows = frame.sort_values(_ROW).drop(columns=_ROW)
    return _learn_part(number, pyarrow.Table.from_pandas(rows, preserve_index=False), how, exposure)


def _learn_part(number: int, table: Any, how: _How, exposure: Optional[str]) -> _Part:
    rejected: "Counter[str]" = Counter()

    def reject(row: str) -> None:
        rejected[next(csv.reader(io.StringIO(row)))[2]] += 1

    try:
        if how.through_circuit:
            distinct, summary = count_distinct(_csv(table), circuit=how.circuit or "", mapping=how.mapping, reject=reject)
            return _Part(number, distinct, json.dumps(summary))
        pack, summary = learn_priors(
            _csv(table),
            source=f"{how.source}.{number}",
            exposure=exposure,
            title=how.title,
            mapping=how.mapping,
            circuit=how.circuit,
            judgement=how.judgement,
            worth_jobs=how.worth_jobs,
            pool_classes=how.pool_classes,
            reject=reject,
        )
    except FaultoddsError as error:
        # A partition without a usable row is no mistake as long as another has one.
        if error.code != "invalid_argument" or sum(rejected.values()) < table.num_rows:
            raise
        summary = {"work_orders": {"rows": table.num_rows, "used": 0, "rejected": table.num_rows,
                                   "reasons": dict(rejected)}}
        return _Part(number, None, json.dumps(summary))
    return _Part(number, json.dumps(pack), json.dumps(summary))


def _csv(table: Any) -> bytes:
    """An Arrow table as table_text writes it, columns of words and whole numbers without Python touching each cell."""
    import pyarrow
    from pyarrow import csv as arrow_csv
    from pyarrow import types

    columns = []
    for column in table.columns:
        kind = column.type
        if not (types.is_string(kind) or types.is_large_string(kind) or types.is_integer(kind) or types.is_date(kind)):
            column = pyarrow.array([_cell(value) for value in column.to_pylist()], pyarrow.string())
        columns.append(column)
    text = io.BytesIO()
    arrow_csv.write_csv(pyarrow.table(columns, names=table.column_names), text)
    return text.getvalue()


def _model(texts: Tuple[str, Optional[str], str]) -> Model:
    circuit, priors, asset_class = texts
    return Model(circuit, priors, asset_class=asset_class)


def _answers(model: Model, cases: Iterable[Tuple[Any, str]]) -> Iterator[Tuple[Any, ...]]:
    for name, text in cases:
        try:
            answer = model.assess(text)
        except FaultoddsError as error:
            yield str(name), None, None, None, error.code, str(error)
            continue
        first = next(iter(answer["causes"]), None)
        likeliest = first["shares"][0] if first is not None and first["shares"] else None
        yield (
            str(name),
            json.dumps(answer, ensure_ascii=False, separators=(",", ":")),
            None if likeliest is None else " ".join(likeliest["components"]),
            None if likeliest is None else likeliest["probability"],
            None,
            None,
        )


def _answer_frame(frame: Any, texts: Tuple[str, Optional[str], str]) -> Any:
    import pandas

    with _model(texts) as model:
        rows = list(_answers(model, zip(frame["id"], frame["case"])))
    answers = pandas.DataFrame(rows, columns=list(ANSWER_COLUMNS), dtype="object")
    answers["probability"] = answers["probability"].astype("float64")
    return answers


def _part_schema() -> Any:
    import pyarrow

    return pyarrow.schema([("partition", pyarrow.int32()), ("pack", pyarrow.string()), ("summary", pyarrow.string())])


def _answer_schema() -> Any:
    import pyarrow

    return pyarrow.schema([
        (name, pyarrow.float64() if name == "probability" else pyarrow.string()) for name in ANSWER_COLUMNS
    ])


# ---- what the driver does ------------------------------------------------------------------------


def _pooled(run: Any, how: _How, exposure: Optional[str]) -> LearnedPriors:
    parts = {part.partition: part for part in run(None)}
    usable = sorted(number for number, part in parts.items() if part.pack is not None)
    summaries = [json.loads(part.summary) for part in parts.values()]
    if not usable:
        rows = sum(summary["work_orders"]["rows"] for summary in summaries)
        raise ValueError(f"no row of the orders was used, of {rows}; expected one at least: "
                         f"{dict(_reasons(summaries, 'work_orders'))}")
    if how.through_circuit:
        return _through_circuit([parts[number].pack or "" for number in usable], summaries, how, exposure)
    if exposure is not None:  # with one partition, and so once
        part, = run(usable[0])
        parts[part.partition] = part
        summaries = [json.loads(part.summary) for part in parts.values()]
    packs = [json.loads(parts[number].pack or "") for number in usable]
    return LearnedPriors(_one_source(packs, summaries, how), _one_summary(summaries))


def _through_circuit(
    tables: List[str], summaries: "List[dict[str, Any]]", how: _How, exposure: Optional[str]
) -> LearnedPriors:
    """What one process learns of all orders, from the distinct ones of the partitions."""
    table, findings = _added_up(tables)
    mapping: "Dict[str, Any]" = {} if how.mapping is None else json.loads(how.mapping)
    known = {name: mapping[name] for name in ("earliest", "latest") if name in mapping}
    orders, summary = learn_priors(
        table, source=how.source, title=how.title, mapping=dict(known, format="faultodds-records/1", findings=findings),
        exposure=exposure, circuit=how.circuit, judgement=how.judgement, worth_jobs=how.worth_jobs,
        pool_classes=how.pool_classes, through_circuit=True, threads=how.threads,
    )
    total = _one_summary(summaries)
    for name in ("not_understood", "said_before", "repeats"):
        summary[name] = sum(one.get(name, 0) for one in summaries)
    source = orders["learning"]["sources"][-1]
    reasons = _reasons([summary], "exposure") + _reasons(summaries, "work_orders")
    source["rows_used"] += total["work_orders"]["used"] - summary["work_orders"]["used"]
    source["rows_rejected"] = sum(reasons.values())
    if reasons:
        days = {name: source.pop(name) for name in ("first", "last") if name in source}
        source["rejected"] = dict(sorted(reasons.items()))
        source.update(days)
    closed = [one["closed"] for one in summaries if "closed" in one]
    source["first"], source["last"] = min(day["first"] for day in closed), max(day["last"] for day in closed)
    orders["date"] = source["last"]
    summary["work_orders"] = total["work_orders"]
    return LearnedPriors(_written_anew(orders), summary)


def _added_up(tables: List[str]) -> "Tuple[str, Dict[str, List[str]]]":
    """Distinct orders of several tables as one, and what their findings of several modes mean."""
    alike: "Counter[Tuple[Tuple[str, ...], ...]]" = Counter()
    header: List[str] = []
    findings: "Dict[str, List[str]]" = {}
    for text in tables:
        rows = csv.reader(io.StringIO(text, newline=""))
        header = next(rows)
        finding = header.index("finding")
        for _, of_order in groupby(rows, key=itemgetter(0)):
            lines = list(of_order)
            alike[tuple(tuple(line[2:-1]) for line in lines)] += int(lines[0][-1])
            for line in lines:
                if "+" in line[finding]:
                    findings[line[finding]] = line[finding].split("+")
    table = io.StringIO(newline="")
    writer = csv.writer(table)
    writer.writerow(header)
    for number, order in enumerate(sorted(alike), 1):
        for place, line in enumerate(order, 1):
            writer.writerow((number, place, *line, alike[order]))
    return table.getvalue(), findings


def _one_source(packs: "List[dict[str, Any]]", summaries: "List[dict[str, Any]]", how: _How) -> "dict[str, Any]":
    """The partitions' packs as if their records had been one source."""
    pack = merge_priors(packs) if len(packs) > 1 else packs[0]
    sources = pack["learning"]["sources"]
    one: "Dict[str, Any]" = dict(sources[0], id=how.source, title=how.title)
    reasons = _reasons(summaries, "work_orders") + _reasons(summaries, "exposure")
    one["rows_used"] = sum(source["rows_used"] for source in sources)
    one["rows_rejected"] = sum(reasons.values())
    one.pop("rejected", None)
    if reasons:
        one["rejected"] = dict(sorted(reasons.items()))
    for name, of in (("first", min), ("last", max)):
        days = [source[name] for source in sources if name in source]
        if days:
            one[name] = of(days)
    pack["id"] = how.source
    pack["title"] = how.title or f"Learned from {how.source}"
    pack["learning"]["sources"] = [one]
    return _written_anew(pack)


def _written_anew(pack: "dict[str, Any]") -> "dict[str, Any]":
    """What is derived, as its statistics and sources have it."""
    nothing = json.loads(json.dumps(pack))
    nothing["learning"]["sources"] = []
    nothing["learning"]["statistics"] = []
    return merge_priors([pack, nothing])


def _reasons(summaries: "List[dict[str, Any]]", table: str) -> "Counter[str]":
    reasons: "Counter[str]" = Counter()
    for summary in summaries:
        reasons.update(summary.get(table, {}).get("reasons", {}))
    return reasons


def _one_summary(summaries: "List[dict[str, Any]]") -> "dict[str, Any]":
    total: "Dict[str, Any]" = {"format": "faultodds-records-summary/1"}
    for table in ("work_orders", "exposure"):
        given = [summary[table] for summary in summaries if table in summary]
        if not given:
            continue
        total[table] = {name: sum(one[name] for one in given) for name in ("rows", "used", "rejected")}
        total[table]["reasons"] = dict(sorted(_reasons(summaries, table).items()))
    return total


def _how(
    source: str,
    title: str,
    mapping: Optional[Document],
    circuit: Optional[Document],
    judgement: Optional[Document],
    worth_jobs: float,
    pool_classes: bool,
    through_circuit: bool,
    threads: int,
) -> _How:
    if through_circuit and circuit is None:
        raise ValueError("there is no circuit to learn through; expected a circuit document")
    if judgement is not None and _object(judgement).get("learning", {}).get("sources"):
        raise ValueError("judgement holds records already, which every partition would count; expected a pack without, and "
                         "merge_priors of what is learned with it afterwards")
    mapped, drawn, judged = (None if document is None else _json(document) for document in (mapping, circuit, judgement))
    return _How(source, title, mapped, drawn, judged, worth_jobs, pool_classes, through_circuit, threads)


def _json(document: Document) -> str:
    return encoded(document).decode("utf-8")


def _object(document: Document) -> "dict[str, Any]":
    value: "dict[str, Any]" = json.loads(encoded(document))
    return value


def _text(records: RecordsLike) -> str:
    """Records that travel to a worker, as text."""
    table = table_text(records)
    if table is not None:
        return table
    if isinstance(records, str):
        return records
    if isinstance(records, bytes):
        return records.decode("utf-8")
    with open(records, encoding="utf-8", newline="") as file:
        return file.read()


def _together(mapping: Optional[Document], there: Sequence[str]) -> str:
    """The column whose rows of one value have to be read together: the machine's, or where there is none the order's."""
    columns = {} if mapping is None else _object(mapping).get("columns", {})
    machine = columns.get("asset", "asset")
    return machine if machine in there else columns.get("work_order", "work_order")
