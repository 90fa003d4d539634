"""Marks at lines of a sheet, several of them written as one step or not at all."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final

from needlewright.errors import ConflictError, RecordError
from needlewright.records.changes import Change, change
from needlewright.records.entries import Entry, Text, checked
from needlewright.records.opening import Shop
from needlewright.records.tick_lines import SheetLine, refuse_line, sheet_words, where_words
from needlewright.records.tick_rows import put, row_standing, rows_standing, tick_view
from needlewright.records.views.ticks import TickView
from needlewright.records.words import SheetMark

MOST_COUNTED: Final = 999
MOST_READ: Final = 1_000_000
MOST_NOTES: Final = 400
"""Of one job."""
_IN_JOURNAL: Final = 120
"""Letters of a line in the journal."""
_NUMBERS: Final[dict[SheetMark, str]] = {
    "out": "counted out",
    "in": "counted in",
    "reading": "read",
}


@dataclass(frozen=True, slots=True)
class Ticked:
    """A box that is ticked; one that is ticked already stays with who ticked it first."""

    line: SheetLine
    note: str = ""
    """Said with it; on a box that is ticked already it becomes a note of its own."""


@dataclass(frozen=True, slots=True)
class Unticked:
    """A box whose tick is taken off."""

    line: SheetLine


@dataclass(frozen=True, slots=True)
class Numbered:
    """A number that is counted or read."""

    line: SheetLine
    mark: SheetMark
    """`out`, `in` or `reading`."""
    value: float | None
    """None: it is written no more."""
    shown: str | None = None
    """What whoever typed it was shown, empty where nothing was; None: not compared."""


@dataclass(frozen=True, slots=True)
class Noted:
    """A note; the same one at the same line is kept once."""

    line: SheetLine
    note: str


Marked = Ticked | Unticked | Numbered | Noted


class _NoteEntry(Entry):
    """What is typed of a note."""

    note: Text = ""


def write_marks(
    shop: Shop, tag: str, marks: Sequence[Marked], by: str | None = None
) -> tuple[TickView | None, ...]:
    """Write marks as one step of the job's history, all of them or none.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    marks
        In the order in which they are written; of one sheet, where undo is to find them there.
    by
        Who did it.

    Returns
    -------
    tuple of TickView or None
        What stands for each; for a tick that is taken off what it was, None where it was none.

    Raises
    ------
    ConflictError
        If somebody else wrote another number than the person was shown.
    JobError
        If a note cannot be used.
    RecordError
        If a number or a line cannot be, there are too many notes, or there is no such job or
        person.
    """
    for mark in marks:
        _refuse(tag, mark)
    with change(shop, tag, "", by) as one:
        done = [_write(one, mark) for mark in marks]
        said = [(mark.line, words) for mark, (_, words) in zip(marks, done, strict=True) if words]
        if said:
            (line, first), more = said[0], len(said) - 1
            one.what = journal_words(line.sheet, first) + (f" and {more} more" if more else "")
        return tuple(view for view, _ in done)


def journal_words(sheet: str, what: str) -> str:
    """What was done at a sheet, as the journal has it."""
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


def _refuse(tag: str, mark: Marked) -> None:
    refuse_line(mark.line, tag)
    match mark:
        case Numbered():
            refuse_number(tag, mark.line, mark.mark, mark.value)
        case Ticked():
            _typed(tag, mark.line, mark.note)
        case Noted():
            if not _typed(tag, mark.line, mark.note):
                where = where_words(tag, mark.line)
                raise RecordError(f"{where}: the note is empty; write what was found")
        case Unticked():
            pass


def _typed(tag: str, line: SheetLine, note: str) -> str:
    return checked(_NoteEntry, {"note": note}, where_words(tag, line)).note


def _write(one: Change, mark: Marked) -> tuple[TickView | None, str]:
    """What stands then, and what was done, in words; empty: nothing."""
    match mark:
        case Ticked():
            return _tick(one, mark.line, _typed(one.job.tag, mark.line, mark.note))
        case Unticked():
            return _untick(one, mark.line)
        case Numbered():
            return _number(one, mark)
        case Noted():
            return _note(one, mark.line, _typed(one.job.tag, mark.line, mark.note))


def _tick(one: Change, line: SheetLine, note: str) -> tuple[TickView, str]:
    there = row_standing(one.session, one.job.id, line, "done")
    if there is None:
        return put(one, line, "done", note=note), f"done: {line.said}"
    said = _note(one, line, note)[1] if note and note != there.note else ""
    return tick_view(there), said


def _untick(one: Change, line: SheetLine) -> tuple[TickView | None, str]:
    there = row_standing(one.session, one.job.id, line, "done")
    if there is None:
        return None, ""
    there.withdrawn_at = one.at
    return tick_view(there), f"not done: {there.words or line.key}"


def _number(one: Change, mark: Numbered) -> tuple[TickView | None, str]:
    line, value = mark.line, mark.value
    there = row_standing(one.session, one.job.id, line, mark.mark)
    stands = None if there is None else there.value
    if value == stands or (mark.shown is not None and mark.shown == _shown(value)):
        return (None if there is None else tick_view(there)), ""  # nobody touched it
    if mark.shown is not None and mark.shown != _shown(stands):
        raise ConflictError(
            f"{where_words(one.job.tag, line)}: {line.said}: somebody else wrote "
            f"{_shown(stands) or '-'} after this sheet was opened, and you typed "
            f"{_shown(value) or '-'}; yours was not kept, and theirs stands; count again and type "
            "it once more"
        )
    if there is not None:
        there.withdrawn_at = one.at
    said = f"{_NUMBERS[mark.mark]} {_shown(value) or 'nothing'}: {line.said}"
    return (None if value is None else put(one, line, mark.mark, value=value)), said


def _shown(value: float | None) -> str:
    """A number as sheets show it."""
    return "" if value is None else f"{value:g}"


def _note(one: Change, line: SheetLine, note: str) -> tuple[TickView, str]:
    notes = [r for r in rows_standing(one.session, one.job.id, None) if r.mark == "note"]
    for row in notes:
        if (row.sheet, row.key, row.note) == (line.sheet, line.key, note):
            return tick_view(row), ""
    if len(notes) >= MOST_NOTES:
        raise RecordError(
            f"{where_words(one.job.tag, line)}: the job has {MOST_NOTES} notes at its steps, which "
            "is the most; write it into the job's own notes"
        )
    return put(one, line, "note", note=note), f"note: {note}"
