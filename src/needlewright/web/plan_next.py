"""The one next thing to do about a job's plan, by how it stands."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from needlewright.records.jobs import WAITS_FOR_WORDS
from needlewright.records.opening import Shop
from needlewright.records.plan_quotes import sent_words
from needlewright.records.undo import history
from needlewright.records.views import JobSheet
from needlewright.records.views.plans import PlanView
from needlewright.web.plan_view import lapsed_of, state_of

Do = Literal["find", "shop", "make", "quote", "yes", "bench", "rebuild"]
HISTORY: Final = 200
"""Lines of a job's journal that are looked through."""
OWNER: Final = f"waits for {WAITS_FOR_WORDS['owner']}"


@dataclass(frozen=True, slots=True)
class PlanNext:
    """What is to be done next, and what else is near.

    Parameters
    ----------
    do
        `find` what a plan is made of, see to the catalogue on the `shop` page, `make` it, look the
        `quote` over, enter the `yes`, say that the job waits for the `bench`, or `rebuild`.
    also
        What stands beside it; None: nothing.
    """

    do: Do
    also: Do | None = None


def next_of_plan(
    shop: Shop, job: JobSheet, plan: PlanView | None, *, has_findings: bool, can_be_made: bool
) -> PlanNext:
    """Say what is to be done next about a plan.

    Parameters
    ----------
    shop
        The shop.
    job
        The job.
    plan
        Its plan; None: none was made.
    has_findings
        Whether there is anything to make one of.
    can_be_made
        Whether there is a catalogue to make it with.

    Returns
    -------
    PlanNext
        From the records alone. That what is known has changed since it was made is not looked at.
    """
    if plan is None:
        return PlanNext(("make" if can_be_made else "shop") if has_findings else "find")
    if state_of(plan) == "accepted":
        return PlanNext("bench", "rebuild") if job.waits_for == "owner" else PlanNext("rebuild")
    if _is_sent(shop, job, plan):
        return PlanNext("yes", "quote")
    return PlanNext("quote", "yes")


def _is_sent(shop: Shop, job: JobSheet, plan: PlanView) -> bool:
    """Whether its quote went out, or the job began to wait for its owner, since the last word.

    That is the plan itself, or what the owner said of it.
    """
    if job.waits_for != "owner":
        return False
    since = max(plan.made_at, _last_word(plan))
    lines = history(shop, job.tag, HISTORY)
    said = (OWNER, sent_words(plan.number))
    return any(one.what in said and not one.undone and one.at >= since for one in lines)


def _last_word(plan: PlanView) -> datetime:
    lapsed = lapsed_of(plan)
    if lapsed is None:
        return plan.made_at
    return lapsed.at if lapsed.taken_back is None else lapsed.taken_back.at
