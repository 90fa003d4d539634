"""What a plan needs against what is in stock, and what is to be ordered."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from needlewright.errors import PlanError
from needlewright.records.opening import Shop
from needlewright.records.plans import plan_of_job
from needlewright.records.stock import parts_of_job, stock
from needlewright.records.stock_wanted import jobs_with_acceptance
from needlewright.records.views.stock import StockPartView

State = Literal["enough", "short", "to_reorder", "not_kept"]
"""Enough; not enough; enough, and at its reorder point or below it afterwards; none in stock, for
the stock does not have such a part at all."""


@dataclass(frozen=True, slots=True)
class Needed:
    """A part that an option of a plan needs, beside what is in stock.

    Parameters
    ----------
    part, words
        Its code, and what it is.
    count
        Still to be fitted.
    used
        Used in the job already.
    on_hand
        In stock.
    place
        On the shelf; empty: not stated.
    reorder_point
        None: not stated, or not kept.
    short
        How many are missing.
    after
        On hand afterwards, not below zero.
    state
        What of it.
    said
        The same in words.
    """

    part: str
    words: str
    count: int
    used: int
    on_hand: int
    place: str
    reorder_point: int | None
    short: int
    after: int
    state: State
    said: str


@dataclass(frozen=True, slots=True)
class ToReorder:
    """A part that is to be ordered.

    Parameters
    ----------
    part
        As it stands.
    wanted
        By jobs in the house whose customer accepted a plan, and not used yet.
    jobs
        Their tags.
    short
        How many of those are missing.
    least
        The fewest to order, so that with all of those fitted one more than the reorder point is
        left.
    """

    part: StockPartView
    wanted: int
    jobs: tuple[str, ...]
    short: int
    least: int


@dataclass(frozen=True, slots=True)
class JobNeeds:
    """What an option of a job's plan needs.

    Parameters
    ----------
    tag
        Of the job.
    number
        Of its plan.
    option
        Its id.
    accepted
        Whether the customer accepted it.
    parts
        What is needed.
    """

    tag: str
    number: str
    option: str
    accepted: bool
    parts: tuple[Needed, ...]


def needed_in_job(shop: Shop, tag: str, option: str | None = None) -> JobNeeds:
    """What a job's plan needs, against what is in stock.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    option
        Of its plan; None: the one that was accepted, else the first.

    Returns
    -------
    JobNeeds
        Without what the job has used already.

    Raises
    ------
    PlanError
        If no plan was kept for the job, or it has no such option.
    NotThereError
        If there is no such job.
    """
    plan = plan_of_job(shop, tag)
    if plan is None:
        raise PlanError(
            f"job {tag}: no plan was kept for it; make one with needlewright plan --job {tag}"
        )
    accepted = None if plan.acceptance is None else plan.acceptance.option
    chosen = option or accepted or str(plan.document["options"][0]["id"])
    parts = needed_of(shop, plan.document, chosen, tag)
    return JobNeeds(plan.tag, plan.number, chosen, chosen == accepted, parts)


def needed_of(
    shop: Shop, document: Mapping[str, Any], option: str, tag: str | None = None
) -> tuple[Needed, ...]:
    """What an option of a plan needs, against what is in stock.

    Parameters
    ----------
    shop
        The shop.
    document
        Of the plan (`plans/rebuild/plan_json`).
    option
        Its id.
    tag
        Of the job: what it has used already is needed no more; None: nothing was used.

    Returns
    -------
    tuple of Needed
        In the order of the plan.

    Raises
    ------
    PlanError
        If the plan has no such option.
    NotThereError
        If there is no such job.
    """
    kept = {one.code.casefold(): one for one in stock(shop)}
    used = _used(shop, tag)
    return tuple(
        _needed(part["id"], part["words"], part["count"], used, kept)
        for part in _parts(document, option)
    )


def to_reorder(shop: Shop) -> tuple[ToReorder, ...]:
    """The parts to order: at their reorder point, or there once all that is accepted is done.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    tuple of ToReorder
        Those that are missing first, then by words. A part without a reorder point is listed only
        where it is missing.
    """
    wanted, jobs = _wanted(shop)
    found = list[ToReorder]()
    for part in stock(shop):
        key = part.code.casefold()
        after = part.on_hand - wanted[key]
        point = part.reorder_point
        if after < 0 or (point is not None and after <= point):
            least = (0 if point is None else point + 1) - after
            tags = tuple(dict.fromkeys(jobs.get(key, ())))
            found.append(ToReorder(part, wanted[key], tags, max(-after, 0), least))
    return tuple(sorted(found, key=lambda one: one.short == 0))


def parts_with(parts: Iterable[StockPartView], words: str) -> tuple[StockPartView, ...]:
    """The parts in which each word stands somewhere: code, words, place or a batch's mark.

    Parameters
    ----------
    parts
        To be searched.
    words
        Apart by blanks; without regard to case.

    Returns
    -------
    tuple of StockPartView
        In their order.
    """
    wanted = words.casefold().split()
    return tuple(one for one in parts if all(word in _searched(one) for word in wanted))


def _wanted(shop: Shop) -> tuple[Counter[str], dict[str, list[str]]]:
    """How many of each part accepted plans still need, and in which jobs."""
    count, jobs = Counter[str](), dict[str, list[str]]()
    for tag in jobs_with_acceptance(shop):
        plan = plan_of_job(shop, tag)
        if plan is None or plan.acceptance is None:
            continue
        used = _used(shop, tag)
        for part in _parts(plan.document, plan.acceptance.option):
            key = part["id"].casefold()
            left = part["count"] - used[key]
            if left > 0:
                count[key] += left
                jobs.setdefault(key, []).append(tag)
    return count, jobs


def _parts(document: Mapping[str, Any], option: str) -> list[Mapping[str, Any]]:
    options = document.get("options") or ()
    for one in options:
        if one["id"] == option:
            return list(one["parts"])
    known = ", ".join(f"'{one['id']}'" for one in options)
    raise PlanError(
        f"plan {document.get('number', '')}: has no option '{option}'; its options are "
        f"{known or 'none'}"
    )


def _used(shop: Shop, tag: str | None) -> Counter[str]:
    used = Counter[str]()
    for one in () if tag is None else parts_of_job(shop, tag):
        used[one.part.casefold()] += one.count
    return used


def _needed(
    part: str, words: str, count: int, used: Counter[str], kept: Mapping[str, StockPartView]
) -> Needed:
    there = kept.get(part.casefold())
    fitted = min(used[part.casefold()], count)
    left = count - fitted
    on_hand = 0 if there is None else there.on_hand
    point = None if there is None else there.reorder_point
    short, after = max(left - on_hand, 0), max(on_hand - left, 0)
    state: State = "enough"
    if there is None and left:
        state = "not_kept"
    elif short:
        state = "short"
    elif left and point is not None and after <= point:
        state = "to_reorder"
    return Needed(
        part=part,
        words=words,
        count=left,
        used=fitted,
        on_hand=on_hand,
        place="" if there is None else there.place,
        reorder_point=point,
        short=short,
        after=after,
        state=state,
        said=_said(state, left, short, after, point),
    )


def _said(state: State, left: int, short: int, after: int, point: int | None) -> str:
    match state:
        case "not_kept":
            return "not kept in stock"
        case "short":
            return f"short by {short}"
        case "to_reorder":
            return f"enough; {after} left after it, reorder point {point}"
        case "enough":
            return "all of it is used" if not left else f"enough; {after} left after it"


def _searched(part: StockPartView) -> str:
    marks = (batch.mark for batch in part.batches)
    return "\n".join((part.code, part.words, part.place, *marks)).casefold()
