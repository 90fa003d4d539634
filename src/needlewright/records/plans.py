"""The plans of a job and what its customer accepted of them: kept whole, and never changed.

What a plan says is not known here but for its number, its options and their prices.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session, defer, joinedload

from needlewright.errors import ConflictError, NotThereError, RecordError
from needlewright.plans.rebuild.acceptance import Acceptance, refuse_other_plan
from needlewright.records.changes import change
from needlewright.records.clusters import move_to_cluster
from needlewright.records.entries import Entry, JobEntry, Name, checked
from needlewright.records.find import job_tagged
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.tables import Job, JobPlan, PlanAcceptance
from needlewright.records.views import JobSheet
from needlewright.records.views.plans import AcceptanceView, OlderPlanView, PlanView, TakenBackView

NUMBER_DIGITS: Final = 8


class _Accepted(Entry):
    """What is typed of an acceptance."""

    who: Name
    how: Name


class _TakenBack(Entry):
    why: Name


def keep_plan(
    shop: Shop,
    tag: str,
    document: Mapping[str, Any],
    by: str | None = None,
    *,
    built: str | None = None,
) -> JobSheet:
    """Make a plan the plan of a job; the one before it stays.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    document
        The plan, with its number; where the job's plan has that number, nothing new is kept.
    by
        Who made it.
    built
        When the cluster was, saved in the same step; empty: not known any more, None: as it is.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    JobError
        If no cluster can be built then.
    RecordError
        If it has no number, is of another job, or there is no such job or person.
    """
    number = document.get("number")
    if not (isinstance(number, str) and len(number) == NUMBER_DIGITS):
        raise RecordError(f"job {tag}: the plan has no number; make it anew")
    stated = (
        {} if built is None else checked(JobEntry, {"built": built or None}, f"job {tag}").stated
    )
    with change(shop, tag, f"plan {number}", by) as one:
        if stated and stated["built"] != one.job.cluster.built:
            move_to_cluster(one, None, stated, None)
        named = document.get("tag")
        if named != one.job.tag:
            raise RecordError(
                f"job {one.job.tag}: plan {number} is of job {named or 'none'}; "
                "make one of this job"
            )
        now = _current(one.session, one.job)
        if now is None or now.number != number:
            one.add(
                JobPlan(
                    job_id=one.job.id,
                    number=number,
                    document=dict(document),
                    at=one.at,
                    person_id=one.person.id,
                )
            )
    return job_sheet(shop, tag)


def plan_of_job(shop: Shop, tag: str, number: str | None = None) -> PlanView | None:
    """The plan of a job, whether it is accepted, and the plans before it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    number
        Of an older plan of the job; None: the one it goes by.

    Returns
    -------
    PlanView or None
        None: none was kept.

    Raises
    ------
    NotThereError
        If there is no such job, or it has no plan of that number.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        plans = _plans(session, job)
        if not plans:
            return None
        rows = _acceptances(session, job)
        now, counts = plans[-1] if number is None else _numbered(job, plans, number), _counts(rows)
        is_current = now.number == plans[-1].number
        is_accepted = is_current and counts is not None and counts.plan.number == now.number
        return PlanView(
            tag=job.tag,
            version=job.version,
            number=now.number,
            document=now.document,
            made_at=now.at,
            by=now.person.name,
            acceptance=_view(counts) if counts is not None and is_accepted else None,
            acceptances=_of_plan(rows, now),
            superseded=tuple(
                OlderPlanView(old.number, old.at, old.person.name, _of_plan(rows, old))
                for old in reversed(plans[: plans.index(now)])
            ),
            is_current=is_current,
            needs_new_acceptance=is_current and counts is not None and not is_accepted,
        )


def plan_document_of(shop: Shop, tag: str, number: str | None = None) -> Mapping[str, Any]:
    """A plan that was kept, whole.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    number
        Which of its plans; None: the one it goes by.

    Returns
    -------
    Mapping
        As it was made.

    Raises
    ------
    NotThereError
        If there is no such job, or it has no such plan.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        return _plan_numbered(session, job, number).document


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
        plan = _plan_numbered(one.session, one.job, None)
        if price is None:
            price = price_of(plan.document, option)
        accepted = Acceptance(number, option, price, typed.who, when, typed.how)
        # a plan that was changed and changed back was made when it first was
        same = [kept.at for kept in _plans(one.session, one.job) if kept.number == plan.number]
        today, made = (at.astimezone().date() for at in (one.at, min(same)))
        refuse_other_plan(accepted, plan.document, today, made)
        counts = _counts(_acceptances(one.session, one.job))
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
        counts = _counts(_acceptances(one.session, one.job))
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


def _plans(session: Session, job: Job) -> Sequence[JobPlan]:
    query = select(JobPlan).where(JobPlan.job_id == job.id, JobPlan.withdrawn_at.is_(None))
    loads = joinedload(JobPlan.person), defer(JobPlan.document)  # of one alone it is asked for
    return session.scalars(query.order_by(JobPlan.id).options(*loads)).all()


def _current(session: Session, job: Job) -> JobPlan | None:
    query = select(JobPlan).where(JobPlan.job_id == job.id, JobPlan.withdrawn_at.is_(None))
    query = query.order_by(JobPlan.id.desc()).limit(1).options(defer(JobPlan.document))
    return session.scalars(query).first()


def _plan_numbered(session: Session, job: Job, number: str | None) -> JobPlan:
    plans = _plans(session, job)
    if not plans:
        raise NotThereError(
            f"job {job.tag}: no plan of it was kept; make one with needlewright plan --job "
            f"{job.tag}"
        )
    return plans[-1] if number is None else _numbered(job, plans, number)


def _numbered(job: Job, plans: Sequence[JobPlan], number: str) -> JobPlan:
    """The last plan of that number."""
    found = next((one for one in reversed(plans) if one.number == number.strip().upper()), None)
    if found is None:
        known = ", ".join(dict.fromkeys(one.number for one in plans))
        raise NotThereError(f"job {job.tag}: has no plan {number}; its plans: {known}")
    return found


def _acceptances(session: Session, job: Job) -> Sequence[PlanAcceptance]:
    query = select(PlanAcceptance).where(
        PlanAcceptance.job_id == job.id, PlanAcceptance.withdrawn_at.is_(None)
    )
    loads = (
        joinedload(PlanAcceptance.person),
        joinedload(PlanAcceptance.taken_back_by),
        joinedload(PlanAcceptance.plan).defer(JobPlan.document),
    )
    return session.scalars(query.order_by(PlanAcceptance.id).options(*loads)).all()


def _counts(rows: Sequence[PlanAcceptance]) -> PlanAcceptance | None:
    """The customer's last word; None: they accepted nothing, or took it back."""
    last = rows[-1] if rows else None
    return last if last is not None and last.taken_back_at is None else None


def _of_plan(rows: Sequence[PlanAcceptance], plan: JobPlan) -> tuple[AcceptanceView, ...]:
    return tuple(_view(row) for row in rows if row.plan.number == plan.number)


def _view(row: PlanAcceptance) -> AcceptanceView:
    back = None
    if row.taken_back_at is not None and row.taken_back_by is not None:
        back = TakenBackView(row.taken_back_by.name, row.taken_back_at, row.taken_back_why or "")
    return AcceptanceView(
        number=row.plan.number,
        option=row.option,
        price=row.price,
        who=row.who,
        when=row.day,
        how=row.how,
        by=row.person.name,
        at=row.at,
        taken_back=back,
    )
