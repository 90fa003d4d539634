"""Rows of ticks, counts and notes: found, added, and given back as plain values."""

from collections.abc import Sequence
from typing import Final, cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.records.changes import Change
from needlewright.records.tables import Tick
from needlewright.records.tick_lines import SheetLine
from needlewright.records.views.ticks import TickView
from needlewright.records.words import SheetMark

LONGEST_WORDS: Final = 500


def put(
    one: Change, line: SheetLine, mark: SheetMark, *, note: str = "", value: float | None = None
) -> TickView:
    """A new row of a change under way."""
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
    return tick_view(row)


def rows_standing(session: Session, job_id: int, sheet: str | None) -> Sequence[Tick]:
    """What stands of a job's sheet, or of all of them, in the order in which it was made."""
    query = select(Tick).where(Tick.job_id == job_id, Tick.withdrawn_at.is_(None))
    if sheet is not None:
        query = query.where(Tick.sheet == sheet)
    return session.scalars(query.order_by(Tick.id).options(joinedload(Tick.person))).all()


def row_standing(session: Session, job_id: int, line: SheetLine, mark: SheetMark) -> Tick | None:
    """What stands of one kind at a line, or None."""
    query = select(Tick).where(
        Tick.job_id == job_id,
        Tick.sheet == line.sheet,
        Tick.key == line.key,
        Tick.mark == mark,
        Tick.withdrawn_at.is_(None),
    )
    return session.scalars(query.order_by(Tick.id)).first()


def tick_view(row: Tick) -> TickView:
    """A row as it is given back."""
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
