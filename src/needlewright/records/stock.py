"""Parts in stock: what there is, what came, what was counted, and what went into which job.

Nothing but a ledger says how many there are: every line adds or takes, none is ever changed, and
what is on hand is their sum. A line is written in one transaction that holds the only lock for
writing, so of two people who draw the last one at once the second is told.
"""

from datetime import date

from sqlalchemy import func, select

from needlewright.errors import RecordError
from needlewright.records.entries import checked
from needlewright.records.opening import Shop
from needlewright.records.people import person_named
from needlewright.records.stock_entries import (
    CountEntry,
    ReceiveEntry,
    ScrapEntry,
    day_or,
    money_of,
)
from needlewright.records.stock_lines import Hand, refuse_since
from needlewright.records.stock_rows import (
    move_numbered,
    part_coded,
    part_views,
    refuse_elsewhere,
    taken_back,
)
from needlewright.records.stock_use import give_back, parts_of_job, use_part
from needlewright.records.tables import StockPart
from needlewright.records.views.stock import StockPartView

__all__ = [
    "count_stock",
    "give_back",
    "has_stock",
    "parts_of_job",
    "receive",
    "scrap",
    "stock",
    "stock_part",
    "take_back",
    "use_part",
]


def stock(shop: Shop, *, retired: bool = False) -> tuple[StockPartView, ...]:
    """Every part, by its words; those that are kept no more only where `retired` says so.

    One that came back out of a job after it was kept no more is listed while it is there.
    """
    query = select(StockPart).order_by(func.lower(StockPart.words), StockPart.code_key)
    with shop.reading() as session:
        parts = part_views(session, session.scalars(query).all())
    return tuple(one for one in parts if retired or one.on_hand or not one.retired)


def has_stock(shop: Shop) -> bool:
    """Whether any part is kept."""
    with shop.reading() as session:
        kept = select(StockPart.id).where(StockPart.retired.is_(False)).limit(1)
        return session.scalars(kept).first() is not None


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
    seen: int | None = None,
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
    price
        Paid for one, where it is to be kept.
    currency
        It was paid in.
    seen
        The part's `last_move` the person was looking at; None: not compared.

    Returns
    -------
    StockPartView
        As it now is.

    Raises
    ------
    ConflictError
        If a delivery of this part came in since: it may be the same, sent twice.
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
        hand.refuse_twice("received", seen)
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

    Raises as `stock_use.use_part` does.
    """
    entry = checked(ScrapEntry, {"count": count, "why": why}, f"part {part}")
    with shop.writing(f"scrapping part {part}") as session:
        row, person = part_coded(session, part), person_named(session, by)
        hand = Hand(session, row, person, shop.now())
        for delivery, some in hand.drawn(entry.count, batch, seen):
            session.add(hand.line("scrapped", delivery, -some, entry.why))
        session.flush()
        return part_views(session, [row])[0]


def take_back(
    shop: Shop, move_id: int, by: str | None = None, *, part: str | None = None
) -> StockPartView:
    """Take a line of the ledger back by one that reverses it.

    Parameters
    ----------
    shop
        The shop.
    move_id
        Number of the line.
    by
        Who does it.
    part
        Code of the part it has to be of; None: of any.

    Returns
    -------
    StockPartView
        As it now is.

    Raises
    ------
    RecordError
        If there is no such line, it is another part's or a job's, was taken back before, or takes
        back another, or not so many are left.
    """
    with shop.writing("taking a line of the stock back") as session:
        row, person = move_numbered(session, move_id), person_named(session, by)
        refuse_elsewhere(session, row.part_id, part, f"line {move_id} of the ledger")
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
