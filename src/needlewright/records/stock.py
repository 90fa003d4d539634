"""Parts in stock: what there is, what came, what was counted, and what went into which job.

Nothing but a ledger says how many there are: every line adds or takes, none is ever changed, and
what is on hand is their sum. A line is written in one transaction that holds the only lock for
writing, so of two people who draw the last one at once the second is told.
"""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import func, select

from needlewright.errors import RecordError
from needlewright.records.changes import change
from needlewright.records.entries import checked
from needlewright.records.find import job_tagged
from needlewright.records.opening import Shop
from needlewright.records.people import person_named
from needlewright.records.stock_entries import (
    CountEntry,
    ReceiveEntry,
    ScrapEntry,
    WentEntry,
    day_or,
    money_of,
)
from needlewright.records.stock_lines import Hand, of_batch, one_after_the_other, refuse_since
from needlewright.records.stock_rows import (
    batches_meant,
    move_numbered,
    part_coded,
    part_views,
    taken_back,
    used_views,
)
from needlewright.records.tables import StockBatch, StockPart
from needlewright.records.views.stock import StockPartView, UsedPartView


def stock(shop: Shop, *, retired: bool = False) -> tuple[StockPartView, ...]:
    """Every part, by its words; those that are kept no more only where `retired` says so."""
    query = select(StockPart).order_by(func.lower(StockPart.words), StockPart.code_key)
    if not retired:
        query = query.where(StockPart.retired.is_(False))
    with shop.reading() as session:
        return part_views(session, session.scalars(query).all())


def stock_part(shop: Shop, part: str) -> StockPartView:
    """One part by its code; raises NotThereError if there is none."""
    with shop.reading() as session:
        return part_views(session, [part_coded(session, part)])[0]


def receive(
    shop: Shop,
    part: str,
    count: int | str,
    mark: str | None = None,
    by: str | None = None,
    *,
    received_on: date | str | None = None,
    note: str = "",
    price: str | None = None,
    currency: str | None = None,
) -> StockPartView:
    """Take a delivery in, as a batch of its own.

    Parameters
    ----------
    shop
        The shop.
    part
        Its code.
    count
        How many came.
    mark
        The maker's batch or date code; None: it carries none, and is called by its day.
    by
        Who does it.
    received_on
        The day it came; None: today.
    note
        Who supplied it, and anything else.
    price, currency
        Paid for one, where it is to be kept.

    Returns
    -------
    StockPartView
        As it now is.

    Raises
    ------
    JobError
        If something typed cannot be used.
    RecordError
        If there is no such part or person, or the part is kept no more.
    """
    where = f"part {part}"
    entry = checked(
        ReceiveEntry,
        {
            "count": count,
            "mark": mark,
            "received_on": received_on,
            "note": note,
            "price": price,
            "currency": currency,
        },
        where,
    )
    money = money_of(entry, where)
    with shop.writing(f"receiving part {part}") as session:
        row, person = part_coded(session, part), person_named(session, by)
        if row.retired:
            raise RecordError(f"{where}: is kept no more; take it back into the stock first")
        day = day_or(shop.now().astimezone().date(), entry.received_on, where)
        hand = Hand(session, row, person, shop.now())
        batch = hand.batch(entry.mark or day.isoformat(), day, entry.note, money)
        session.add(hand.line("received", batch, entry.count))
        return part_views(session, [row])[0]


def count_stock(
    shop: Shop,
    part: str,
    count: int | str,
    why: str,
    by: str | None = None,
    *,
    batch: str | int | None = None,
    seen: int | None = None,
) -> StockPartView:
    """Put what was counted in place of what the ledger says.

    Parameters
    ----------
    shop
        The shop.
    part
        Its code.
    count
        How many there are.
    why
        Why it is otherwise, or that it was counted.
    by
        Who counted.
    batch
        A mark, or the number of a delivery, that alone was counted; None: all of the part. What
        is missing of the whole is taken from the oldest batches, as it would have been used; what
        is over is kept as a batch whose mark is not known.
    seen
        The part's `last_move` when it was counted; None: not compared.

    Returns
    -------
    StockPartView
        As it now is. A count that agrees is written down too.

    Raises
    ------
    ConflictError
        If something came or went since.
    JobError
        If the count or the reason cannot be used.
    RecordError
        If there is no such part, batch or person.
    """
    entry = checked(CountEntry, {"count": count, "why": why}, f"part {part}")
    with shop.writing(f"counting part {part}") as session:
        row, person = part_coded(session, part), person_named(session, by)
        refuse_since(session, row, seen, f"counted {entry.count}")
        hand = Hand(session, row, person, shop.now())
        session.add_all(hand.correction(entry.count, batch, entry.why))
        session.flush()
        return part_views(session, [row])[0]


def scrap(
    shop: Shop,
    part: str,
    count: int | str,
    why: str,
    by: str | None = None,
    *,
    batch: str | int | None = None,
    seen: int | None = None,
) -> StockPartView:
    """Throw parts away, for a reason; of the oldest batch that has any left unless one is named.

    Raises as `use_part` does.
    """
    entry = checked(ScrapEntry, {"count": count, "why": why}, f"part {part}")
    with shop.writing(f"scrapping part {part}") as session:
        row, person = part_coded(session, part), person_named(session, by)
        hand = Hand(session, row, person, shop.now())
        for delivery, some in hand.drawn(entry.count, batch, seen):
            session.add(hand.line("scrapped", delivery, -some, entry.why))
        session.flush()
        return part_views(session, [row])[0]


def take_back(shop: Shop, move_id: int, by: str | None = None) -> StockPartView:
    """Take a line of the ledger back by one that reverses it.

    Parameters
    ----------
    shop
        The shop.
    move_id
        Number of the line.
    by
        Who does it.

    Returns
    -------
    StockPartView
        As it now is.

    Raises
    ------
    RecordError
        If there is no such line, it is a job's, was taken back before, or takes back another, or
        not so many are left.
    """
    with shop.writing("taking a line of the stock back") as session:
        row, person = move_numbered(session, move_id), person_named(session, by)
        if row.job is not None:
            raise RecordError(
                f"this line belongs to job {row.job.tag}; give the part back there, or undo it on "
                "the job"
            )
        if row.undoes_id is not None:
            raise RecordError(
                "this line takes another one back, and is not taken back itself; write down again "
                "what came or went"
            )
        session.add(taken_back(session, row, shop.now(), person))
        session.flush()
        return part_views(session, [session.get_one(StockPart, row.part_id)])[0]


def use_part(
    shop: Shop,
    tag: str,
    part: str,
    count: int | str = 1,
    by: str | None = None,
    *,
    batch: str | int | None = None,
    why: str = "",
    seen: int | None = None,
) -> tuple[UsedPartView, ...]:
    """Use parts in a job: they leave the stock, and the job remembers their batch.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    part
        Its code.
    count
        How many.
    by
        Who does it.
    batch
        A mark, or the number of a delivery; None: the oldest with any left, and then the next.
    why
        What for, in words.
    seen
        The part's `last_move` the person was looking at; None: not compared.

    Returns
    -------
    tuple of UsedPartView
        All that is used in the job.

    Raises
    ------
    ConflictError
        If somebody else drew the last ones meanwhile.
    JobError
        If something typed cannot be used.
    RecordError
        If there are not so many, or there is no such job, part, batch or person.
    """
    entry = checked(WentEntry, {"count": count, "why": why}, f"job {tag}, part {part}")
    with change(shop, tag, "", by) as one:
        row = part_coded(one.session, part)
        hand = Hand(one.session, row, one.person, one.at, one.job)
        drawn = hand.drawn(entry.count, batch, seen)
        for delivery, some in drawn:
            one.add(hand.line("used", delivery, -some, entry.why))
        one.what = f"used {_words(row, drawn)}"
    return parts_of_job(shop, tag)


def give_back(
    shop: Shop,
    tag: str,
    part: str,
    count: int | str = 1,
    by: str | None = None,
    *,
    batch: str | int | None = None,
    why: str = "",
) -> tuple[UsedPartView, ...]:
    """Put parts that a job used back into stock, into the batch they came from.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    part
        Its code.
    count
        How many.
    by
        Who does it.
    batch
        A mark, or the number of a delivery; None: the newest the job has any of.
    why
        In words.

    Returns
    -------
    tuple of UsedPartView
        All that is still used in the job.

    Raises
    ------
    JobError
        If something typed cannot be used.
    RecordError
        If the job has not used so many.
    """
    entry = checked(WentEntry, {"count": count, "why": why}, f"job {tag}, part {part}")
    with change(shop, tag, "", by) as one:
        row = part_coded(one.session, part)
        batches = batches_meant(one.session, row, batch)[::-1]
        used = {
            view.batch_id: view.count
            for view in used_views(one.session, [one.job.id]).get(one.job.id, ())
        }
        left = {delivery.id: used.get(delivery.id, 0) for delivery in batches}
        if sum(left.values()) < entry.count:
            raise RecordError(
                f"job {one.job.tag}: {entry.count} of {row.words} cannot be given back, it has "
                f"{sum(left.values())}{of_batch(batch)}; look at what it used"
            )
        hand = Hand(one.session, row, one.person, one.at, one.job)
        given = one_after_the_other(batches, left, entry.count)
        for delivery, some in given:
            one.add(hand.line("given_back", delivery, some, entry.why))
        one.what = f"gave back {_words(row, given)}"
    return parts_of_job(shop, tag)


def parts_of_job(shop: Shop, tag: str) -> tuple[UsedPartView, ...]:
    """What is used in a job and was not given back, by part and batch.

    Raises NotThereError if there is no such job.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        return used_views(session, [job.id]).get(job.id, ())


def _words(part: StockPart, moved: Sequence[tuple[StockBatch, int]]) -> str:
    """For the journal: `2 movement, batch B7`."""
    marks = ", ".join(dict.fromkeys(batch.mark for batch, _ in moved))
    return f"{sum(some for _, some in moved)} {part.words}, batch {marks}"
