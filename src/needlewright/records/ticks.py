"""Ticks, counts and notes on the sheets of the work: the plan's steps, guides, the refit sheet.

Which lines a sheet has is not known here; a line goes by its key, and its words are kept as they
were when somebody marked it.
"""

from typing import cast

from needlewright.errors import NotThereError
from needlewright.records.changes import change
from needlewright.records.find import LARGEST_ID, job_tagged
from needlewright.records.opening import Shop
from needlewright.records.tables import Tick
from needlewright.records.tick_lines import SheetLine
from needlewright.records.tick_marks import (
    Noted,
    Numbered,
    Ticked,
    Unticked,
    journal_words,
    write_marks,
)
from needlewright.records.tick_rows import rows_standing, tick_view
from needlewright.records.views.ticks import TickView
from needlewright.records.words import SheetMark


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
        If there is no such job, person or kind of sheet, or there are too many notes.
    JobError
        If the note cannot be used.
    """
    (made,) = write_marks(shop, tag, [Ticked(line, note)], by)
    return cast("TickView", made)


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
    (was,) = write_marks(shop, tag, [Unticked(line)], by)
    return was is not None


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
    (made,) = write_marks(shop, tag, [Numbered(line, mark, value)], by)
    return made


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
        The note; the same one at the same line stands once, with who noted it first.

    Raises
    ------
    JobError
        If the note cannot be used.
    RecordError
        If it is empty, there are too many, or there is no such job, person or kind of sheet.
    """
    (made,) = write_marks(shop, tag, [Noted(line, note)], by)
    return cast("TickView", made)


def withdraw_note(shop: Shop, tag: str, note_id: int, by: str | None = None) -> None:
    """Take a note off its line; undo brings it back.

    Raises NotThereError if the job has no such note.
    """
    with change(shop, tag, "", by) as one:
        row = one.session.get(Tick, note_id) if 0 < note_id < LARGEST_ID else None
        if row is None or (row.job_id, row.mark) != (one.job.id, "note") or row.withdrawn_at:
            raise NotThereError(f"job {one.job.tag}: has no note {note_id}; open its sheet again")
        one.what = journal_words(row.sheet, f"note taken off: {row.note}")
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
        return tuple(tick_view(row) for row in rows_standing(session, job.id, sheet))
