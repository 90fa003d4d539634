"""Rows of the stock: found, added up, and given back as plain values."""

import difflib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Final, cast

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import NotThereError, RecordError
from needlewright.records.find import LARGEST_ID
from needlewright.records.people import name_key, tag_key
from needlewright.records.tables import Person, StockBatch, StockMove, StockPart
from needlewright.records.views.stock import StockBatchView, StockPartView, UsedPartView

UNDONE: Final = "taken back"


def part_coded(session: Session, code: str) -> StockPart:
    """The part of that code, without regard to case.

    Raises NotThereError if there is none; a code that looks like it is named.
    """
    typed = " ".join(code.encode(errors="replace").decode().split())
    row = part_or_none(session, typed)
    if row is None:
        known = session.scalars(select(StockPart.code).order_by(StockPart.code)).all()
        near = difflib.get_close_matches(typed, known, n=1)
        meant = f"is '{near[0]}' meant?" if near else "add it to the stock first"
        raise NotThereError(f"there is no part '{typed}' in stock; {meant}")
    return row


def part_or_none(session: Session, code: str) -> StockPart | None:
    """The part of that code, or None."""
    return session.scalars(select(StockPart).where(StockPart.code_key == tag_key(code))).first()


def batches_in(session: Session, part: StockPart) -> list[StockBatch]:
    """A part's deliveries, oldest first."""
    query = select(StockBatch).where(StockBatch.part_id == part.id)
    return list(session.scalars(query.order_by(StockBatch.received_on, StockBatch.id)))


def batches_meant(session: Session, part: StockPart, batch: str | int | None) -> list[StockBatch]:
    """The deliveries that are meant, oldest first.

    Parameters
    ----------
    session
        Of the shop.
    part
        The part.
    batch
        A mark, which may have come in several deliveries, or the number of one; None: all.

    Returns
    -------
    list of StockBatch
        At least one where a batch is named.

    Raises
    ------
    NotThereError
        If the part has no such batch.
    """
    found = batches_in(session, part)
    if batch is None:
        return found
    if isinstance(batch, int):
        meant = [row for row in found if row.id == batch]
    else:
        key = same_mark(batch)
        meant = [row for row in found if same_mark(row.mark) == key]
    if not meant:
        marks = ", ".join(f"'{mark}'" for mark in dict.fromkeys(row.mark for row in found))
        raise NotThereError(
            f"part {part.code} has no batch '{batch}'; "
            + (f"it has {marks}" if marks else "none has been received yet")
        )
    return meant


def same_mark(mark: str) -> str:
    """A mark as it is compared: without regard to case and blanks."""
    return name_key(" ".join(mark.split()))


def left_in(session: Session, batches: Iterable[StockBatch]) -> dict[int, int]:
    """How many are left of each batch, by its number."""
    ids = [row.id for row in batches]
    query = select(StockMove.batch_id, func.sum(StockMove.count)).where(StockMove.batch_id.in_(ids))
    found = {int(i): int(n) for i, n in session.execute(query.group_by(StockMove.batch_id)) if i}
    return {one: found.get(one, 0) for one in ids}


def last_move(session: Session) -> int:
    """The number of the newest line of the stock's ledger; 0 where there is none."""
    return session.scalar(select(func.max(StockMove.id))) or 0


def move_numbered(session: Session, move_id: int) -> StockMove:
    """The line of that number; raises NotThereError if there is none."""
    row = session.get(StockMove, move_id) if 0 < move_id < LARGEST_ID else None
    if row is None:
        raise NotThereError(f"the ledger of the stock has no line {move_id}; open it again")
    return row


def refuse_elsewhere(session: Session, part_id: int, part: str | None, what: str) -> None:
    """Raise RecordError where something belongs to another part than the one that is open."""
    if part is None or part_coded(session, part).id == part_id:
        return
    own = session.get_one(StockPart, part_id).code
    raise RecordError(f"{what} is of part {own}, not of part {part[:40]}; open part {own} for it")


def taken_back(session: Session, row: StockMove, at: datetime, person: Person) -> StockMove:
    """The line that takes another one back.

    Parameters
    ----------
    session
        Of the change.
    row
        The line.
    at
        When.
    person
        Who does it.

    Returns
    -------
    StockMove
        To be added.

    Raises
    ------
    RecordError
        If it was taken back before, or not so many are left.
    """
    if session.scalars(select(StockMove).where(StockMove.undoes_id == row.id)).first():
        raise RecordError("this line of the stock's ledger was taken back before; open it again")
    if row.batch is not None and left_in(session, [row.batch])[row.batch.id] < row.count:
        part = session.get_one(StockPart, row.part_id)
        raise RecordError(
            f"part {part.code}: {row.count} came with this line, and fewer are left of batch "
            f"{row.batch.mark}; take back what was used since first, or count the stock"
        )
    return StockMove(
        part_id=row.part_id,
        batch=row.batch,
        job_id=row.job_id,
        kind=row.kind,
        count=-row.count,
        why=UNDONE,
        at=at,
        person=person,
        undoes_id=row.id,
    )


def part_views(session: Session, parts: Sequence[StockPart]) -> tuple[StockPartView, ...]:
    """Parts with their batches, in few questions to the database."""
    ids = [part.id for part in parts]
    query = select(StockBatch).where(StockBatch.part_id.in_(ids))
    query = query.order_by(StockBatch.received_on, StockBatch.id)
    batches = defaultdict[int, list[StockBatch]](list)
    for row in session.scalars(query.options(joinedload(StockBatch.person))):
        batches[row.part_id].append(row)
    every = [row for rows in batches.values() for row in rows]
    left, came = left_in(session, every), _came(session, ids)
    last = _newest(session, ids)
    counted = _newest_counts(session, ids)
    return tuple(
        _part_view(
            part,
            tuple(_batch_view(b, came.get(b.id, 0), left[b.id]) for b in batches[part.id]),
            counted.get(part.id),
            last.get(part.id, 0),
        )
        for part in parts
    )


def used_views(session: Session, jobs: Sequence[int]) -> dict[int, tuple[UsedPartView, ...]]:
    """What is used in jobs and was not given back, by job; in the order it was first used."""
    query = select(StockMove).where(StockMove.job_id.in_(jobs)).order_by(StockMove.id)
    query = query.options(joinedload(StockMove.person), joinedload(StockMove.batch))
    rows = defaultdict[tuple[int, int], list[StockMove]](list)
    for row in session.scalars(query):
        rows[cast("int", row.job_id), cast("int", row.batch_id)].append(row)
    parts = {
        part.id: part
        for part in session.scalars(
            select(StockPart).where(StockPart.id.in_([m[0].part_id for m in rows.values()]))
        )
    }
    found = defaultdict[int, list[UsedPartView]](list)
    for (job_id, batch_id), moves in rows.items():
        count = -sum(move.count for move in moves)
        if not count:
            continue
        last = standing_uses(moves)[-1]
        part = parts[last.part_id]
        mark = cast("StockBatch", last.batch).mark
        found[job_id].append(
            UsedPartView(
                part.code,
                part.words,
                part.unit,
                count,
                mark,
                batch_id,
                last.why,
                last.person.name,
                last.at,
            )
        )
    return {job_id: tuple(views) for job_id, views in found.items()}


def standing_uses(moves: Sequence[StockMove]) -> list[StockMove]:
    """Those lines that used something, were not taken back, and take none back themselves."""
    undone = {move.undoes_id for move in moves}
    return [
        move
        for move in moves
        if move.kind == "used" and move.undoes_id is None and move.id not in undone
    ]


def amount(price: str | None) -> Decimal | None:
    """A price as it is worked with."""
    return None if price is None else Decimal(price)


def _came(session: Session, parts: Sequence[int]) -> dict[int, int]:
    query = select(StockMove.batch_id, func.sum(StockMove.count)).where(
        StockMove.part_id.in_(parts), StockMove.kind == "received"
    )
    return {int(i): int(n) for i, n in session.execute(query.group_by(StockMove.batch_id)) if i}


def _newest(session: Session, parts: Sequence[int]) -> dict[int, int]:
    query = select(StockMove.part_id, func.max(StockMove.id)).where(StockMove.part_id.in_(parts))
    found = session.execute(query.group_by(StockMove.part_id))
    return {row.part_id: row[1] for row in found}


def _newest_counts(session: Session, parts: Sequence[int]) -> dict[int, datetime]:
    """When each part was last counted; a count that was taken back was none."""
    undone = select(StockMove.undoes_id).where(StockMove.undoes_id.is_not(None))
    query = select(StockMove.part_id, StockMove.at).where(
        StockMove.part_id.in_(parts),
        StockMove.kind == "counted",
        StockMove.undoes_id.is_(None),
        StockMove.id.not_in(undone),
    )
    found = session.execute(query.order_by(StockMove.id))
    return {row.part_id: row.at for row in found}


def _batch_view(row: StockBatch, received: int, left: int) -> StockBatchView:
    return StockBatchView(
        id=row.id,
        mark=row.mark,
        received_on=row.received_on,
        received=received,
        on_hand=left,
        note=row.note,
        price=amount(row.price),
        currency=row.currency,
        by=row.person.name,
        at=row.at,
    )


def _part_view(
    row: StockPart, batches: tuple[StockBatchView, ...], counted: datetime | None, last: int
) -> StockPartView:
    on_hand = sum(batch.on_hand for batch in batches)
    point = row.reorder_point
    return StockPartView(
        code=row.code,
        words=row.words,
        unit=row.unit,
        on_hand=on_hand,
        reorder_point=point,
        place=row.place,
        price=amount(row.price),
        currency=row.currency,
        retired=row.retired,
        to_reorder=not row.retired and point is not None and on_hand <= point,
        counted_at=counted,
        batches=batches,
        version=row.version,
        last_move=last,
    )
