"""Parts and deliveries themselves: added, changed, kept no more. How many there are is no field."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from needlewright.errors import ConflictError, NotThereError, RecordError
from needlewright.records.entries import checked
from needlewright.records.find import LARGEST_ID
from needlewright.records.opening import Shop
from needlewright.records.people import person_named, tag_key
from needlewright.records.stock_entries import BatchEntry, PartEntry, day_or, money_of
from needlewright.records.stock_rows import (
    part_coded,
    part_or_none,
    part_views,
    refuse_elsewhere,
    same_mark,
)
from needlewright.records.tables import Job, Person, StockBatch, StockMove, StockPart
from needlewright.records.views.stock import StockPartView


def add_part(shop: Shop, typed: Mapping[str, Any], by: str | None = None) -> StockPartView:
    """Add a part to the stock.

    Parameters
    ----------
    shop
        The shop.
    typed
        Fields of `stock_entries.PartEntry`; the code and the words at least.
    by
        Who does it.

    Returns
    -------
    StockPartView
        With none on hand.

    Raises
    ------
    JobError
        If a field cannot be used.
    RecordError
        If there is a part of that code.
    """
    entry = part_entry({"code": "", "words": "", **typed}, f"part {typed.get('code', '')}".strip())
    with shop.writing(f"adding part {entry.code}") as session:
        row = put_new_part(session, shop, entry, by)
        return part_views(session, [row])[0]


def change_part(
    shop: Shop,
    part: str,
    changes: Mapping[str, Any],
    by: str | None = None,
    *,
    seen: int | None = None,
) -> StockPartView:
    """Change what is said of a part; what is not named stays.

    Parameters
    ----------
    shop
        The shop.
    part
        Its code as it is now.
    changes
        Fields of `stock_entries.PartEntry`.
    by
        Who does it.
    seen
        The part's `version` the person was looking at; None: not compared.

    Returns
    -------
    StockPartView
        As it now is.

    Raises
    ------
    ConflictError
        If somebody else changed it since.
    JobError
        If a field cannot be used.
    RecordError
        If there is no such part, or another one has the new code.
    """
    entry = part_entry(changes, f"part {part}")
    with shop.writing(f"changing part {part}") as session:
        row = part_coded(session, part)
        if seen is not None and seen != row.version:
            raise ConflictError(
                f"part {row.code} was changed by {session.get_one(Person, row.person_id).name} "
                "after you opened it; yours was not saved and theirs stands; look at it and save "
                "again"
            )
        if entry.retired:
            _refuse_hiding(session, row)
        put_part(session, row, entry)
        row.version += 1
        row.person_id = person_named(session, by).id
        session.flush()
        return part_views(session, [row])[0]


def change_batch(
    shop: Shop,
    batch_id: int,
    changes: Mapping[str, Any],
    by: str | None = None,
    *,
    part: str | None = None,
) -> StockPartView:
    """Correct what is said of a delivery: its mark, day, note and price.

    Who corrected it, and when, is kept with it; who received it stays in the ledger. A mark that
    is corrected is told in the note, and stands once parts of it are in a job: whoever looks for
    a bad batch has to find what the job was told.

    Parameters
    ----------
    shop
        The shop.
    batch_id
        Its number.
    changes
        Fields of `stock_entries.BatchEntry`; what is not named stays.
    by
        Who does it.
    part
        Code of the part it has to be of; None: of any.

    Returns
    -------
    StockPartView
        The part it is of.

    Raises
    ------
    JobError
        If a field cannot be used.
    RecordError
        If there is no such delivery or person, it is another part's, or its mark is to be
        another while parts of it are used in a job.
    """
    entry = checked(BatchEntry, changes, f"batch {batch_id}")
    with shop.writing("correcting a batch") as session:
        person = person_named(session, by)
        row = session.get(StockBatch, batch_id) if 0 < batch_id < LARGEST_ID else None
        if row is None:
            raise NotThereError(f"there is no batch number {batch_id} in stock; open it again")
        where, stated = f"batch {row.mark}", entry.stated
        refuse_elsewhere(session, row.part_id, part, where)
        if "received_on" in stated:
            today = shop.now().astimezone().date()
            row.received_on = day_or(today, entry.received_on, where)
        row.note = stated.get("note", row.note)
        if "mark" in stated:
            _put_mark(session, row, entry.mark or row.received_on.isoformat(), person, shop.now())
        money = money_of(entry, where, row.price, row.currency)
        row.price, row.currency = money["price"], money["currency"]
        row.at, row.person = shop.now(), person
        session.flush()
        return part_views(session, [session.get_one(StockPart, row.part_id)])[0]


def _put_mark(session: Session, row: StockBatch, mark: str, person: Person, at: datetime) -> None:
    """Another mark, told in the note; refused while parts of it are used in jobs."""
    if same_mark(mark) == same_mark(row.mark):
        row.mark = mark
        return
    used = -func.sum(StockMove.count)
    query = select(Job.tag, used).join(StockMove, StockMove.job_id == Job.id)
    query = query.where(StockMove.batch_id == row.id).group_by(Job.id, Job.tag).having(used > 0)
    found = session.execute(query.order_by(func.min(StockMove.id))).all()
    if found:
        raise RecordError(
            f"batch {row.mark}: {sum(n for _, n in found)} of batch {row.mark} are used in jobs, "
            f"{found[0][0]} first, and the mark they were given stands; take them back there and "
            "correct it, or take what is left back and receive it anew under its right mark"
        )
    told = f"mark was {row.mark} until {at.astimezone().date()} ({person.name})"
    row.mark, row.note = mark, f"{row.note}; {told}" if row.note else told


def _refuse_hiding(session: Session, row: StockPart) -> None:
    """Refuse to keep a part no more while there is any of it."""
    on_hand = part_views(session, [row])[0].on_hand
    if on_hand and not row.retired:
        raise RecordError(
            f"part {row.code} ({row.words}): {on_hand} are on hand; use them up, scrap them or "
            "count them away first; so that it is not ordered again, empty its reorder point"
        )


def part_entry(typed: Mapping[str, Any], where: str) -> PartEntry:
    """Fields of a part, checked one by one; raises JobError."""
    return checked(PartEntry, typed, where)


def put_new_part(session: Session, shop: Shop, entry: PartEntry, by: str | None) -> StockPart:
    """A row for a part that is new; raises RecordError if its code is taken."""
    there = part_or_none(session, entry.code)
    if there is not None:
        kept = ", and is kept no more" if there.retired else ""
        raise RecordError(
            f"part {there.code} ({there.words}) is in stock already{kept}; receive into it, "
            "change it, or use another code"
        )
    row = StockPart(at=shop.now(), person_id=person_named(session, by).id, version=1)
    row.unit, row.place, row.retired = entry.unit, entry.place, entry.retired
    put_part(session, row, entry)
    session.add(row)
    session.flush()
    return row


def put_part(session: Session, row: StockPart, entry: PartEntry) -> None:
    """Put what was stated into a part's row; raises RecordError if another one has the code."""
    stated = entry.stated
    if "code" in stated:
        with session.no_autoflush:
            there = part_or_none(session, entry.code)
        if there is not None and there is not row:
            raise RecordError(f"part {there.code} ({there.words}) has this code; use another one")
        row.code, row.code_key = entry.code, tag_key(entry.code)
    for name in ("words", "unit", "reorder_point", "place", "retired"):
        if name in stated:
            setattr(row, name, stated[name])
    money = money_of(entry, f"part {row.code}", row.price, row.currency)
    row.price, row.currency = money["price"], money["currency"]
