"""Records from where people keep them: spreadsheets, Parquet files, and rows of pandas, Arrow or plain Python, as the CSV
that the library reads. What columns mean is the mapping's; nothing is converted but the notation of days and numbers.
"""

import csv
import io
import math
import os
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, Iterable, Iterator, List, Mapping, Optional, Sequence

_SHEETS = (".xlsx", ".xlsm")
_PARQUET = (".parquet", ".pq")


def read_table(source: Any, *, sheet: Optional[str] = None) -> str:
    """Records as CSV text, for ``learn_priors`` and ``backtest_priors``, which also take such a source themselves.

    ``source``: a path of a spreadsheet (.xlsx, with openpyxl) or a Parquet file (.parquet, with pyarrow), a pandas
    DataFrame, an Arrow table or record batch, or a list of dictionaries. ``sheet``: of a spreadsheet, where it has
    several. Days become 2023-02-28, numbers have a decimal point, what is missing is empty.
    """
    text = table_text(source, sheet)
    if text is None:
        raise TypeError(
            f"source is {type(source).__name__}; expected a path ending in .xlsx or .parquet, a DataFrame, an Arrow "
            "table or a list of dictionaries"
        )
    return text


def table_text(source: Any, sheet: Optional[str] = None) -> Optional[str]:
    """As read_table; None where the source is none of these."""
    if isinstance(source, (str, bytes)):
        return None
    if isinstance(source, os.PathLike):
        path = os.fspath(source)
        name = os.fsdecode(path).lower()
        if name.endswith(_SHEETS):
            return _text(_sheet_rows(path, sheet))
        if name.endswith(_PARQUET):
            return _text(_parquet_rows(path))
        return None
    if hasattr(source, "itertuples") and hasattr(source, "columns"):  # pandas
        return _text(_frame_rows(source))
    if hasattr(source, "to_batches") or hasattr(source, "to_pylist"):  # pyarrow
        return _text(_arrow_rows(source))
    if isinstance(source, Sequence) and source and all(isinstance(row, Mapping) for row in source):
        return _text(_dictionary_rows(source))
    return None


def _text(rows: Iterable[Sequence[Any]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    for row in rows:
        cells = [_cell(value) for value in row]
        if not any(cells):  # a spreadsheet has many beyond its end
            continue
        writer.writerow(cells)
    return text.getvalue()


def _cell(value: Any) -> str:
    # pandas' NA has no truth; NaN and NaT are not themselves.
    if value is None or type(value).__name__ == "NAType" or value != value:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bytes):
        return value.decode("utf-8")
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        if value.time().replace(microsecond=0) == time():
            return value.date().isoformat()
        return value.replace(microsecond=0, tzinfo=None).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    number = getattr(value, "item", None)  # numpy's own numbers
    if number is not None and not isinstance(value, (int, float)):
        return _cell(number())
    if isinstance(value, float):
        if math.isinf(value):
            return ""
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(float(value))
    return str(value)


def _needs(package: str, what: str) -> ImportError:
    return ImportError(f"{what} needs {package}; install it (pip install 'faultodds[tables]') or save the table as CSV")


def _sheet_rows(path: Any, sheet: Optional[str]) -> Iterator[Sequence[Any]]:
    try:
        from openpyxl import load_workbook
    except ImportError:
        raise _needs("openpyxl", "a spreadsheet") from None
    book = load_workbook(path, read_only=True, data_only=True)
    try:
        names: List[str] = book.sheetnames
        if sheet is None:
            filled = [name for name in names if any(any(cell is not None for cell in row)
                                                    for row in book[name].iter_rows(max_row=50, values_only=True))]
            if len(filled) > 1:
                raise ValueError(f"the spreadsheet has the sheets {', '.join(map(repr, filled))}; expected `sheet` to "
                                 "name one, as in read_table(path, sheet=...)")
            sheet = filled[0] if filled else names[0]
        elif sheet not in names:
            raise ValueError(f"sheet is {sheet!r}; expected one of {', '.join(map(repr, names))}")
        yield from book[sheet].iter_rows(values_only=True)
    finally:
        book.close()


def _parquet_rows(path: Any) -> Iterator[Sequence[Any]]:
    try:
        from pyarrow.parquet import ParquetFile
    except ImportError:
        raise _needs("pyarrow", "a Parquet file") from None
    with ParquetFile(path) as file:
        yield file.schema_arrow.names
        for batch in file.iter_batches():
            yield from zip(*(column.to_pylist() for column in batch.columns))


def _arrow_rows(table: Any) -> Iterator[Sequence[Any]]:
    yield table.schema.names
    batches = table.to_batches() if hasattr(table, "to_batches") else [table]
    for batch in batches:
        yield from zip(*(column.to_pylist() for column in batch.columns))


def _frame_rows(frame: Any) -> Iterator[Sequence[Any]]:
    yield [str(name) for name in frame.columns]
    yield from frame.itertuples(index=False, name=None)


def _dictionary_rows(rows: Sequence["Mapping[str, Any]"]) -> Iterator[Sequence[Any]]:
    names = list(dict.fromkeys(name for row in rows for name in row))
    yield names
    for row in rows:
        yield [row.get(name) for name in names]
