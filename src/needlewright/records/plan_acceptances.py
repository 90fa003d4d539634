"""What a customer accepted of a job's plan: written down with who and when, and taken back."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from needlewright.errors import ConflictError, RecordError
from needlewright.plans.rebuild.acceptance import Acceptance, refuse_other_plan
from needlewright.records.changes import change
from needlewright.records.entries import Entry, Name, checked
from needlewright.records.opening import Shop
from needlewright.records.plan_rows import acceptances_of, last_word, plan_numbered, plans_of
from needlewright.records.sheet import job_sheet
from needlewright.records.tables import Job, PlanAcceptance
from needlewright.records.views import JobSheet


class _Accepted(Entry):
    """What is typed of an acceptance."""

    who: Name
    how: Name


class _TakenBack(Entry):
    why: Name


def accept_plan(
    shop: Shop,
    tag: str,
    number: str,
    by: str | None = None,
    *,
    option: str,
    who: str,
    when: date,
    how: str,
    price: str | None = None,
) -> JobSheet:
    """Write down that a customer accepted an option of a job's plan.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    number
        Of the plan they were shown.
    by
        Who writes it down.
    option
        Its id.
    who
        Accepted it.
    when
        The day.
    how
        In person, by message, by telephone, on paper.
    price
        As they were shown it, with its currency; None: that of the plan.

    Returns
    -------
    JobSheet
        As it now is. The same acceptance again keeps nothing new.

    Raises
    ------
    NotThereError
        If the job has no plan.
    PlanError
        If its plan is another one now, has no such option or another price, or the day is to
        come or before it was made.
    ConflictError
        If it is accepted already, in other words.
    JobError
        If a text cannot be used.
    """
    typed = checked(_Accepted, {"who": who, "how": how}, f"job {tag}, acceptance")
    with change(shop, tag, f"plan {number} accepted: {option}", by) as one:
        plan = plan_numbered(one.session, one.job, None)
        if price is None:
            price = price_of(plan.document, option)
        accepted = Acceptance(number, option, price, typed.who, when, typed.how)
        # a plan that was changed and changed back was made when it first was
        same = [kept.at for kept in plans_of(one.session, one.job) if kept.number == plan.number]
        today, made = (at.astimezone().date() for at in (one.at, min(same)))
        refuse_other_plan(accepted, plan.document, today, made)
        counts = last_word(acceptances_of(one.session, one.job))
        if counts is not None and counts.plan.number == number:
            _refuse_second(one.job, counts, accepted)
        else:
            one.add(
                PlanAcceptance(
                    job_id=one.job.id,
                    plan_id=plan.id,
                    option=accepted.option,
                    price=accepted.price,
                    who=accepted.who,
                    day=accepted.when,
                    how=accepted.how,
                    at=one.at,
                    person_id=one.person.id,
                )
            )
    return job_sheet(shop, tag)


def take_back_acceptance(shop: Shop, tag: str, why: str, by: str | None = None) -> JobSheet:
    """Write down that what was accepted of a job's plan is accepted no more.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    why
        The reason, in the customer's words or one's own.
    by
        Who writes it down.

    Returns
    -------
    JobSheet
        As it now is; the acceptance stays in its history.

    Raises
    ------
    JobError
        If there is no reason.
    RecordError
        If nothing is accepted.
    """
    reason = checked(_TakenBack, {"why": why}, f"job {tag}, acceptance taken back").why
    with change(shop, tag, "acceptance taken back", by) as one:
        counts = last_word(acceptances_of(one.session, one.job))
        if counts is None:
            raise RecordError(
                f"job {one.job.tag}: no plan of it is accepted; there is nothing to take back"
            )
        one.what = f"acceptance of plan {counts.plan.number} taken back"
        counts.taken_back_at, counts.taken_back_by_id = one.at, one.person.id
        counts.taken_back_why = reason
    return job_sheet(shop, tag)


def price_of(document: Mapping[str, Any], option: str) -> str:
    """What an option of a plan costs, as papers show it; empty where there is no such option."""
    found = next((one for one in document["options"] if one["id"] == option), None)
    return "" if found is None else f"{found['price']} {document['currency']}"


def _refuse_second(job: Job, counts: PlanAcceptance, accepted: Acceptance) -> None:
    """Refuse another acceptance beside the one that counts; the very same is no other."""
    there = (counts.option, counts.price, counts.who, counts.day, counts.how)
    new = (accepted.option, accepted.price, accepted.who, accepted.when, accepted.how)
    if there != new:
        raise ConflictError(
            f"job {job.tag}: plan {accepted.number} is accepted already: option "
            f"'{counts.option}' by {counts.who} on {counts.day} ({counts.how}), written down by "
            f"{counts.person.name}; yours was not saved; take that one back first if another counts"
        )
