"""The stock's list as CSV: one line for each batch with any left, and for each part without one."""

import csv
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any, Final

from needlewright.errors import RecordError
from needlewright.records.stock_import import COLUMNS, StockLine
from needlewright.records.views.stock import StockBatchView, StockPartView

MOST_BYTES: Final = 5_000_000
MOST_LINES: Final = 20_000
FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A cell that begins so is worked out by spreadsheets instead of shown (OWASP, "CSV Injection")."""
SHOWN: Final = "'"
"""Before such a cell: it is text. Taken off again on reading."""


def read_stock(path: Path) -> list[StockLine]:
    """Read a list.

    Parameters
    ----------
    path
        CSV in UTF-8 with a header line; columns of `stock_import.COLUMNS`, at least `part`.

    Returns
    -------
    list of StockLine
        Empty lines left out.

    Raises
    ------
    RecordError
        If it cannot be read, a column is not known, or a line has more cells than the header.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise RecordError(f"{path}: cannot be opened: {error.strerror or error}") from error
    return stock_lines(str(path), content)


def stock_lines(name: str, content: bytes) -> list[StockLine]:
    """The lines of a list's file; raises as `read_stock` does."""
    if len(content) > MOST_BYTES:
        raise RecordError(f"{name}: {len(content)} bytes are no list of parts")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RecordError(f"{name}: is no text in UTF-8; save it as CSV in UTF-8") from error
    rows = csv.reader(StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    try:
        header = [cell.strip().casefold() for cell in next(rows, [])]
        _refuse_header(name, header)
        lines = list(_lines(name, header, rows))
    except csv.Error as error:
        raise RecordError(f"{name}, line {rows.line_num}: is no CSV: {error}; mend it") from error
    if not lines:
        raise RecordError(f"{name}: holds no parts below its header line; add a line for each")
    return lines


def stock_csv(parts: tuple[StockPartView, ...]) -> str:
    """The list of parts, as `read_stock` reads it."""
    out = StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for part in parts:
        for batch in _left(part) or [None]:
            cells = _cells(part, batch)
            writer.writerow({name: _guarded(value) for name, value in cells.items()})
    return out.getvalue()


def _guarded(value: Any) -> Any:
    is_text = isinstance(value, str) and value.startswith((*FORMULA, SHOWN))
    return f"{SHOWN}{value}" if is_text else value


def _unguarded(cell: str) -> str:
    is_guarded = cell.startswith(SHOWN) and cell[1:].startswith((*FORMULA, SHOWN))
    return cell.removeprefix(SHOWN) if is_guarded else cell


def _delimiter(text: str) -> str:
    """Comma, or semicolon where the header has those alone, as some spreadsheets write."""
    first = text.partition("\n")[0]
    return ";" if ";" in first and "," not in first else ","


def _refuse_header(name: str, header: list[str]) -> None:
    listed = ", ".join(COLUMNS)
    for column in header:
        if column not in COLUMNS:
            raise RecordError(
                f"{name}, line 1: there is no column '{column}'; there are {listed} (needlewright "
                "stock export writes them)"
            )
    twice = [column for column in header if header.count(column) > 1]
    if twice:
        raise RecordError(f"{name}, line 1: the column '{twice[0]}' is there twice; keep one")
    if "part" not in header:
        raise RecordError(f"{name}, line 1: the column 'part' is missing; there are {listed}")


def _lines(name: str, header: list[str], rows: Any) -> Iterator[StockLine]:
    number = 0
    for row in rows:
        if not any(cell.strip() for cell in row):
            continue
        if len(row) > len(header):
            raise RecordError(
                f"{name}, line {rows.line_num}: has {len(row)} cells and the header "
                f"{len(header)}; is a comma inside a text not in quotes?"
            )
        number += 1
        if number > MOST_LINES:
            raise RecordError(f"{name}: more than {MOST_LINES} lines are no list of parts")
        cells = [_unguarded(cell) for cell in row]
        yield StockLine(rows.line_num, dict(zip(header, cells, strict=False)))


def _left(part: StockPartView) -> list[StockBatchView | None]:
    """Batches with any left; deliveries of one mark and day are one."""
    found: dict[tuple[str, str], StockBatchView] = {}
    for batch in part.batches:
        key = (batch.mark.casefold(), batch.received_on.isoformat())
        if batch.on_hand and key not in found:
            found[key] = batch
    return list(found.values())


def _cells(part: StockPartView, batch: StockBatchView | None) -> dict[str, Any]:
    cells: dict[str, Any] = {
        "part": part.code,
        "words": part.words,
        "unit": part.unit,
        "reorder_point": part.reorder_point,
        "place": part.place,
        "price": part.price,
        "currency": part.currency,
        "count": 0,
    }
    if batch is None:
        return cells
    same = [
        one.on_hand
        for one in part.batches
        if (one.mark.casefold(), one.received_on) == (batch.mark.casefold(), batch.received_on)
    ]
    return cells | {
        "batch": batch.mark,
        "received_on": batch.received_on.isoformat(),
        "note": batch.note,
        "paid": batch.price,
        "paid_currency": batch.currency,
        "count": sum(same),
    }
