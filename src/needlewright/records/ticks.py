"""Ticks, counts and notes on the sheets of the work: the plan's steps, guides, the refit sheet.

Which lines a sheet has is not known here; a line goes by its key, and its words are kept as they
were when somebody marked it.
"""

from collections.abc import Sequence
from contextlib import AbstractContextManager
from math import isfinite
from typing import Final, cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import NotThereError, RecordError
from needlewright.records.changes import Change, change
from needlewright.records.entries import Entry, Text, checked
from needlewright.records.find import LARGEST_ID, job_tagged
from needlewright.records.opening import Shop
from needlewright.records.tables import Tick
from needlewright.records.tick_lines import SheetLine, refuse_line, sheet_words, where_words
from needlewright.records.views.ticks import TickView
from needlewright.records.words import SheetMark

MOST_COUNTED: Final = 999
MOST_READ: Final = 1_000_000
MOST_NOTES: Final = 400
"""Of one job."""
LONGEST_WORDS: Final = 500
_IN_JOURNAL: Final = 120
"""Letters of a line in the journal."""
_NUMBERS: Final[dict[SheetMark, str]] = {
    "out": "counted out",
    "in": "counted in",
    "reading": "read",
}


class _Noted(Entry):
    """What is typed of a note."""

    note: Text = ""


def tick(
    shop: Shop, tag: str, line: SheetLine, by: str | None = None, *, note: str = ""
) -> TickView:
    """Tick a box.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    line
        Of which sheet.
    by
        Who did it.
    note
        What is to be said with it; on a box that is ticked already it becomes a note of its own.

    Returns
    -------
    TickView
        A box that is ticked already stays with who ticked it first.

    Raises
    ------
    RecordError
        If there is no such job, person or kind of sheet.
    JobError
        If the note cannot be used.
    """
    said = checked(_Noted, {"note": note}, where_words(tag, line)).note
    with _marking(shop, tag, line, by, f"done: {line.said}") as one:
        there = _standing(one.session, one.job.id, line, "done")
        if there is None:
            return _put(one, line, "done", note=said)
        if said and said != there.note:
            _put(one, line, "note", note=said)
        return _view(there)


def untick(shop: Shop, tag: str, line: SheetLine, by: str | None = None) -> bool:
    """Take a tick off a box.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    line
        Of which sheet.
    by
        Who does it.

    Returns
    -------
    bool
        False: it was not ticked.

    Raises
    ------
    RecordError
        If there is no such job, person or kind of sheet.
    """
    with _marking(shop, tag, line, by, "") as one:
        there = _standing(one.session, one.job.id, line, "done")
        if there is None:
            return False
        one.what = _journal(line.sheet, f"not done: {there.words or line.key}")
        there.withdrawn_at = one.at
        return True


def write_number(
    shop: Shop,
    tag: str,
    line: SheetLine,
    by: str | None = None,
    *,
    mark: SheetMark,
    value: float | None,
) -> TickView | None:
    """Write how many were counted out or in, or what was read.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    line
        Of which sheet.
    by
        Who counted.
    mark
        `out`, `in` or `reading`.
    value
        A whole number from 0 to 999, for a reading any from 0 to a million; None: it is written
        no more.

    Returns
    -------
    TickView or None
        As it now stands; the one before stays on record.

    Raises
    ------
    RecordError
        If the number cannot be, or there is no such job, person or kind of sheet.
    """
    refuse_number(tag, line, mark, value)
    said = "nothing" if value is None else f"{value:g}"
    with _marking(shop, tag, line, by, f"{_NUMBERS[mark]} {said}: {line.said}") as one:
        there = _standing(one.session, one.job.id, line, mark)
        if there is not None:
            if there.value == value:
                return _view(there)
            there.withdrawn_at = one.at
        return None if value is None else _put(one, line, mark, value=value)


def write_note(shop: Shop, tag: str, line: SheetLine, note: str, by: str | None = None) -> TickView:
    """Note something at a line, such as one more cracked joint.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    line
        Of which sheet.
    note
        In words.
    by
        Who notes it.

    Returns
    -------
    TickView
        The note.

    Raises
    ------
    JobError
        If the note cannot be used.
    RecordError
        If it is empty, there are too many, or there is no such job, person or kind of sheet.
    """
    where = where_words(tag, line)
    said = checked(_Noted, {"note": note}, where).note
    if not said:
        raise RecordError(f"{where}: the note is empty; write what was found")
    with _marking(shop, tag, line, by, f"note: {said}") as one:
        notes = [row for row in _rows(one.session, one.job.id, None) if row.mark == "note"]
        if len(notes) >= MOST_NOTES:
            raise RecordError(
                f"{where}: the job has {MOST_NOTES} notes at its steps, which is the most; write "
                "it into the job's own notes"
            )
        return _put(one, line, "note", note=said)


def withdraw_note(shop: Shop, tag: str, note_id: int, by: str | None = None) -> None:
    """Take a note off its line; undo brings it back.

    Raises NotThereError if the job has no such note.
    """
    with change(shop, tag, "", by) as one:
        row = one.session.get(Tick, note_id) if 0 < note_id < LARGEST_ID else None
        if row is None or (row.job_id, row.mark) != (one.job.id, "note") or row.withdrawn_at:
            raise NotThereError(f"job {one.job.tag}: has no note {note_id}; open its sheet again")
        one.what = _journal(row.sheet, f"note taken off: {row.note}")
        row.withdrawn_at = one.at


def ticks_of(shop: Shop, tag: str, sheet: str | None = None) -> tuple[TickView, ...]:
    """What is ticked, counted and noted.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    sheet
        One of its sheets; None: all of them.

    Returns
    -------
    tuple of TickView
        In the order in which they were made, without what was taken off.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        return tuple(_view(row) for row in _rows(session, job.id, sheet))


def _marking(
    shop: Shop, tag: str, line: SheetLine, by: str | None, what: str
) -> AbstractContextManager[Change]:
    """A change at one line of a sheet; refuses a sheet or a key that cannot be."""
    refuse_line(line, tag)
    return change(shop, tag, _journal(line.sheet, what), by)


def _journal(sheet: str, what: str) -> str:
    line = " ".join(what.split())
    line = line if len(line) <= _IN_JOURNAL else f"{line[: _IN_JOURNAL - 3]}..."
    return f"{sheet_words(sheet)}: {line}"


def refuse_number(tag: str, line: SheetLine, mark: SheetMark, value: float | None) -> None:
    """Raise RecordError for a number that cannot be counted or read."""
    where = where_words(tag, line)
    if mark not in _NUMBERS:
        raise RecordError(f"{where}: '{mark}' is no number; expected {', '.join(_NUMBERS)}")
    if value is None:
        return
    most, expected = MOST_COUNTED, f"a whole number from 0 to {MOST_COUNTED}"
    if mark == "reading":
        most, expected = MOST_READ, f"a number from 0 to {MOST_READ}"
    is_good = isfinite(value) and 0 <= value <= most
    if not is_good or (mark != "reading" and value != int(value)):
        raise RecordError(
            f"{where}: {line.said}: expected {expected}, found {value:g}; count again"
        )


def _put(
    one: Change, line: SheetLine, mark: SheetMark, *, note: str = "", value: float | None = None
) -> TickView:
    row = Tick(
        job_id=one.job.id,
        sheet=line.sheet,
        key=line.key,
        mark=mark,
        value=value,
        words=" ".join(line.words.split())[:LONGEST_WORDS],
        note=note,
        at=one.at,
        person=one.person,
    )
    one.add(row)
    one.session.flush()
    return _view(row)


def _rows(session: Session, job_id: int, sheet: str | None) -> Sequence[Tick]:
    query = select(Tick).where(Tick.job_id == job_id, Tick.withdrawn_at.is_(None))
    if sheet is not None:
        query = query.where(Tick.sheet == sheet)
    return session.scalars(query.order_by(Tick.id).options(joinedload(Tick.person))).all()


def _standing(session: Session, job_id: int, line: SheetLine, mark: SheetMark) -> Tick | None:
    query = select(Tick).where(
        Tick.job_id == job_id,
        Tick.sheet == line.sheet,
        Tick.key == line.key,
        Tick.mark == mark,
        Tick.withdrawn_at.is_(None),
    )
    return session.scalars(query.order_by(Tick.id)).first()


def _view(row: Tick) -> TickView:
    return TickView(
        id=row.id,
        sheet=row.sheet,
        key=row.key,
        mark=cast("SheetMark", row.mark),
        value=row.value,
        words=row.words,
        note=row.note,
        by=row.person.name,
        at=row.at,
    )
