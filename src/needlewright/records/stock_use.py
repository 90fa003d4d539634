"""Parts out of stock in a job: used, and given back; the job remembers their batches."""

from collections.abc import Sequence

from needlewright.errors import RecordError
from needlewright.records.changes import change
from needlewright.records.entries import checked
from needlewright.records.find import job_tagged
from needlewright.records.opening import Shop
from needlewright.records.stock_entries import WentEntry
from needlewright.records.stock_lines import Hand, of_batch, one_after_the_other
from needlewright.records.stock_rows import batches_meant, part_coded, used_views
from needlewright.records.tables import StockBatch, StockPart
from needlewright.records.views.stock import UsedPartView


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
        `stock_history.newest_line`, or the part's `last_move`, the person was looking at; None:
        not compared.

    Returns
    -------
    tuple of UsedPartView
        All that is used in the job.

    Raises
    ------
    ConflictError
        If somebody else drew the last ones meanwhile, or the job took of this part since.
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
    seen: int | None = None,
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
    seen
        As for `use_part`.

    Returns
    -------
    tuple of UsedPartView
        All that is still used in the job.

    Raises
    ------
    ConflictError
        If the job gave back of this part since.
    JobError
        If something typed cannot be used.
    RecordError
        If the job has not used so many.
    """
    entry = checked(WentEntry, {"count": count, "why": why}, f"job {tag}, part {part}")
    with change(shop, tag, "", by) as one:
        row = part_coded(one.session, part)
        hand = Hand(one.session, row, one.person, one.at, one.job)
        hand.refuse_twice("given_back", seen)
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
