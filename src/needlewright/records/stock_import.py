"""The stock's list taken in as a whole: every line of it, or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from sqlalchemy.orm import Session

from needlewright.errors import JobError, NeedlewrightError, RecordError
from needlewright.records.entries import checked
from needlewright.records.opening import Shop
from needlewright.records.people import name_key, person_named
from needlewright.records.stock_entries import (
    BatchEntry,
    CountedEntry,
    PartEntry,
    day_or,
    money_of,
)
from needlewright.records.stock_lines import Hand
from needlewright.records.stock_parts import put_new_part, put_part
from needlewright.records.stock_rows import batches_in, left_in, part_or_none
from needlewright.records.tables import StockBatch, StockPart
from needlewright.records.views.stock import StockImport

PART: Final = {
    "part": "code",
    "words": "words",
    "unit": "unit",
    "reorder_point": "reorder_point",
    "place": "place",
    "price": "price",
    "currency": "currency",
}
BATCH: Final = {
    "batch": "mark",
    "received_on": "received_on",
    "note": "note",
    "paid": "price",
    "paid_currency": "currency",
}
COLUMNS: Final = (*PART, *BATCH, "count")
"""Of the list; all but `part` may be left out."""
MOST_SAID: Final = 10
"""Lines named in one sentence; the rest are counted."""


@dataclass(frozen=True, slots=True)
class StockLine:
    """One line of a list: a part, or one batch of it; what is empty says nothing."""

    number: int
    """In its file, for sentences."""
    cells: dict[str, str]
    """By column."""


@dataclass(slots=True)
class _Taking:
    """A list under way, and what it did so far."""

    session: Session
    shop: Shop
    source: str
    by: str | None
    new: set[int] = field(default_factory=set)
    changed: set[int] = field(default_factory=set)
    received: int = 0
    counted: int = 0
    batches: dict[tuple[str, str, str], int] = field(default_factory=dict)
    """Line by part, mark and day, to notice one that comes twice."""


def import_stock(
    shop: Shop, lines: Sequence[StockLine], source: str, by: str | None = None
) -> StockImport:
    """Take a list in: parts that are new are added, batches that are new received, others counted.

    Parameters
    ----------
    shop
        The shop.
    lines
        Of the list.
    source
        Its file's name, which is the reason of what is counted otherwise.
    by
        Who does it.

    Returns
    -------
    StockImport
        How much was new, and how much otherwise. The same list once more changes nothing.

    Raises
    ------
    RecordError
        If any line cannot be used: each is named with its number, and nothing is saved.
    """
    wrong = list[str]()
    with shop.writing(f"taking in {source}") as session:
        taken = _Taking(session, shop, source, by)
        person_named(session, by)
        for line in lines:
            try:
                _take(taken, line)
            except NeedlewrightError as error:
                wrong.append(f"line {line.number}: {error}")
        if wrong:
            more = "" if len(wrong) <= MOST_SAID else f"; and {len(wrong) - MOST_SAID} more lines"
            raise RecordError(
                f"{source}: nothing was taken in, {len(wrong)} of {len(lines)} lines cannot be "
                f"used: {'; '.join(wrong[:MOST_SAID])}{more}"
            )
    return StockImport(
        lines=len(lines),
        parts_new=len(taken.new),
        parts_changed=len(taken.changed - taken.new),
        batches_received=taken.received,
        batches_counted=taken.counted,
    )


def _take(taken: _Taking, line: StockLine) -> None:
    session, shop = taken.session, taken.shop
    part = _part(taken, line)
    where = f"part {part.code}"
    entry = checked(BatchEntry, _typed(line, BATCH), where)
    count = checked(CountedEntry, {"count": line.cells.get("count") or None}, where).count
    if count is None:
        if entry.model_fields_set:
            raise JobError(f"{where}: a batch is named and its count is empty; say how many")
        return
    today = shop.now().astimezone().date()
    day = day_or(today, entry.received_on, where)
    hand = Hand(session, part, person_named(session, taken.by), shop.now())
    batches = batches_in(session, part)
    _refuse_twice(taken, line, part, entry)
    if part.retired and count:
        raise JobError(f"{where}: is kept no more; take it back into the stock first")
    meant = [one for one in batches if _is_meant(one, entry)]
    if batches and (meant or entry.mark is None):
        _count(taken, hand, meant, count)
    elif count:
        money = money_of(entry, where)
        batch = hand.batch(entry.mark or day.isoformat(), day, entry.note, money)
        session.add(hand.line("received", batch, count))
        taken.received += 1
    session.flush()


def _part(taken: _Taking, line: StockLine) -> StockPart:
    typed = _typed(line, PART)
    entry = checked(PartEntry, {"code": "", **typed}, f"part {typed.get('code', '')}".strip())
    row = part_or_none(taken.session, entry.code)
    if row is None:
        if "words" not in typed:
            raise JobError(f"part {entry.code}: is new; say in the column 'words' what it is")
        row = put_new_part(taken.session, taken.shop, entry, taken.by)
        taken.new.add(row.id)
        return row
    before = _said(row)
    del typed["code"]  # as it is written there, not here
    put_part(taken.session, row, checked(PartEntry, typed, f"part {row.code}"))
    if _said(row) != before:
        if row.id not in taken.changed | taken.new:
            row.version += 1
        taken.changed.add(row.id)
    return row


def _count(taken: _Taking, hand: Hand, meant: Sequence[StockBatch], count: int) -> None:
    """Count one batch, or the part as a whole, where it is otherwise than it stands."""
    batches = meant or batches_in(hand.session, hand.part)
    if sum(left_in(hand.session, batches).values()) == count:
        return
    hand.session.add_all(
        hand.correction_of(batches, count, f"list {taken.source}", named=bool(meant))
    )
    taken.counted += 1


def _refuse_twice(taken: _Taking, line: StockLine, part: StockPart, entry: BatchEntry) -> None:
    day = "" if entry.received_on is None else entry.received_on.isoformat()
    key = (part.code_key, name_key(entry.mark or ""), day)
    first = taken.batches.setdefault(key, line.number)
    if first != line.number:
        called = f"batch {entry.mark}" if entry.mark else "without a batch"
        raise JobError(f"part {part.code}, {called}: stands in line {first} already; keep one")


def _is_meant(row: StockBatch, entry: BatchEntry) -> bool:
    if entry.mark is None:
        return False
    day: date | None = entry.received_on
    return name_key(row.mark) == name_key(entry.mark) and day in {None, row.received_on}


def _typed(line: StockLine, columns: dict[str, str]) -> dict[str, Any]:
    """What is said, by field; an empty cell says nothing."""
    cells = {columns[name]: cell.strip() for name, cell in line.cells.items() if name in columns}
    return {name: cell for name, cell in cells.items() if cell}


def _said(row: StockPart) -> tuple[Any, ...]:
    return (row.code, row.words, row.unit, row.reorder_point, row.place, row.price, row.currency)
