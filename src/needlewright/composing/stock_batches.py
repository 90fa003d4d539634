"""Batches of parts: which jobs have them, and how many of those came back.

A batch that fails early shows itself in jobs that come back. How sure so few jobs can make anybody
is said with every share.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from scipy.stats import binomtest

from needlewright.records.opening import Shop
from needlewright.records.stock import stock_part
from needlewright.records.stock_history import jobs_with
from needlewright.records.stock_rows import same_mark
from needlewright.records.views.stock import BatchJobView, StockBatchView

COVERAGE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many came back.

    Parameters
    ----------
    out
        Jobs that went out of the house.
    back
        Those of them that came back: a job is marked a return of them.
    share, low, high
        Of those that came back, with its interval at 95 %; None: none went out.

    Notes
    -----
    **Source**: interval by C. J. Clopper and E. S. Pearson, Biometrika 26 (1934), 404-413, from
    memory: it holds the true share at least so often, however few the jobs are.
    """

    out: int
    back: int
    share: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class BatchRecord:
    """A batch of a part and what became of it.

    Parameters
    ----------
    part, words, unit, mark
        Which it is.
    deliveries
        In which it came, oldest first.
    received, on_hand
        Of all of them.
    jobs
        With parts of it that were not given back, as they were used.
    returns
        How many of those jobs came back.
    others
        The same of jobs with other batches of the part and none of this.
    said
        In words.
    """

    part: str
    words: str
    unit: str
    mark: str
    deliveries: tuple[StockBatchView, ...]
    received: int
    on_hand: int
    jobs: tuple[BatchJobView, ...]
    returns: Share
    others: Share
    said: str


def share_of(back: int, out: int) -> Share:
    """How many came back, with the interval of Clopper and Pearson.

    Parameters
    ----------
    back
        How many came back.
    out
        How many went out.

    Returns
    -------
    Share
        Without figures where none went out.
    """
    if not out:
        return Share(0, 0, None, None, None)
    interval = binomtest(back, out).proportion_ci(COVERAGE, method="exact")
    low, high = float(interval.low), float(interval.high)
    return Share(out, back, round(back / out, 6), round(low, 6), round(high, 6))


def batch_records(shop: Shop, part: str) -> tuple[BatchRecord, ...]:
    """What became of each batch of a part.

    Parameters
    ----------
    shop
        The shop.
    part
        Its code.

    Returns
    -------
    tuple of BatchRecord
        Deliveries of one mark are one batch; in the order they first came.

    Raises
    ------
    NotThereError
        If there is no such part.
    """
    kept, found = stock_part(shop, part), jobs_with(shop, part)
    marks = dict.fromkeys(same_mark(batch.mark) for batch in kept.batches)
    by_mark = {
        mark: tuple(batch for batch in kept.batches if same_mark(batch.mark) == mark)
        for mark in marks
    }
    jobs = {
        mark: _together(job for batch in batches for job in found.get(batch.id, ()))
        for mark, batches in by_mark.items()
    }
    every = {job.tag: job for mark in marks for job in jobs[mark]}
    records = list[BatchRecord]()
    for mark, batches in by_mark.items():
        tags = {job.tag for job in jobs[mark]}
        returns = _returns(jobs[mark])
        others = _returns(job for job in every.values() if job.tag not in tags)
        records.append(
            BatchRecord(
                part=kept.code,
                words=kept.words,
                unit=kept.unit,
                mark=batches[0].mark,
                deliveries=batches,
                received=sum(batch.received for batch in batches),
                on_hand=sum(batch.on_hand for batch in batches),
                jobs=jobs[mark],
                returns=returns,
                others=others,
                said=_said(returns, others),
            )
        )
    return tuple(records)


def batch_record(shop: Shop, part: str, mark: str) -> BatchRecord:
    """What became of one batch; raises NotThereError if there is no such part or batch."""
    jobs_with(shop, part, mark)  # says which marks there are, where this one is not
    wanted = same_mark(mark)
    return next(one for one in batch_records(shop, part) if same_mark(one.mark) == wanted)


def _together(jobs: Iterable[BatchJobView]) -> tuple[BatchJobView, ...]:
    """One line for a job that has parts of several deliveries."""
    found: dict[str, BatchJobView] = {}
    for job in jobs:
        first = found.get(job.tag)
        found[job.tag] = job if first is None else _added(first, job)
    return tuple(sorted(found.values(), key=lambda job: job.used_at))


def _added(first: BatchJobView, more: BatchJobView) -> BatchJobView:
    return BatchJobView(
        tag=first.tag,
        family=first.family,
        serial=first.serial,
        owner=first.owner,
        count=first.count + more.count,
        used_at=min(first.used_at, more.used_at),
        closed_at=first.closed_at,
        came_back=first.came_back,
        came_back_at=first.came_back_at,
    )


def _returns(jobs: Iterable[BatchJobView]) -> Share:
    out = [job for job in jobs if job.closed_at is not None]
    return share_of(sum(job.came_back is not None for job in out), len(out))


def _said(returns: Share, others: Share) -> str:
    if returns.out == 0:
        return "No job with it has gone out yet."
    return (
        f"{_share_words(returns)} came back with it in them"
        + (f"; of other batches {_share_words(others)}" if others.out else "")
        + ". That a cluster came back does not say that this part failed."
    )


def _share_words(one: Share) -> str:
    low, high = one.low or 0.0, one.high or 0.0  # asked for where some went out
    return f"{one.back} of {one.out} jobs ({100 * low:.0f} to {100 * high:.0f} % at 95 %)"
