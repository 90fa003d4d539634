"""Rows of plans and of what was accepted of them, as they are looked up."""

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session, defer, joinedload

from needlewright.errors import NotThereError
from needlewright.records.tables import Job, JobPlan, PlanAcceptance
from needlewright.records.views.plans import AcceptanceView, TakenBackView


def plans_of(session: Session, job: Job) -> Sequence[JobPlan]:
    """Every plan of a job, the first first; documents are loaded when they are asked for."""
    query = select(JobPlan).where(JobPlan.job_id == job.id, JobPlan.withdrawn_at.is_(None))
    loads = joinedload(JobPlan.person), defer(JobPlan.document)  # of one alone it is asked for
    return session.scalars(query.order_by(JobPlan.id).options(*loads)).all()


def current_plan(session: Session, job: Job) -> JobPlan | None:
    """The plan a job goes by; None: none was kept."""
    query = select(JobPlan).where(JobPlan.job_id == job.id, JobPlan.withdrawn_at.is_(None))
    query = query.order_by(JobPlan.id.desc()).limit(1).options(defer(JobPlan.document))
    return session.scalars(query).first()


def plan_numbered(session: Session, job: Job, number: str | None) -> JobPlan:
    """A plan of a job by its number; None: the one it goes by. NotThereError: there is none."""
    plans = plans_of(session, job)
    if not plans:
        raise NotThereError(
            f"job {job.tag}: no plan of it was kept; make one with needlewright plan --job "
            f"{job.tag}"
        )
    return plans[-1] if number is None else numbered_plan(job, plans, number)


def numbered_plan(job: Job, plans: Sequence[JobPlan], number: str) -> JobPlan:
    """The last of some plans with that number; NotThereError: there is none."""
    found = next((one for one in reversed(plans) if one.number == number.strip().upper()), None)
    if found is None:
        known = ", ".join(dict.fromkeys(one.number for one in plans))
        raise NotThereError(f"job {job.tag}: has no plan {number}; its plans: {known}")
    return found


def acceptances_of(session: Session, job: Job) -> Sequence[PlanAcceptance]:
    """What was accepted of a job's plans, the first first, also what was taken back."""
    query = select(PlanAcceptance).where(
        PlanAcceptance.job_id == job.id, PlanAcceptance.withdrawn_at.is_(None)
    )
    loads = (
        joinedload(PlanAcceptance.person),
        joinedload(PlanAcceptance.taken_back_by),
        joinedload(PlanAcceptance.plan).defer(JobPlan.document),
    )
    return session.scalars(query.order_by(PlanAcceptance.id).options(*loads)).all()


def last_word(rows: Sequence[PlanAcceptance]) -> PlanAcceptance | None:
    """The customer's last word; None: they accepted nothing, or took it back."""
    last = rows[-1] if rows else None
    return last if last is not None and last.taken_back_at is None else None


def views_of(rows: Sequence[PlanAcceptance], plan: JobPlan) -> tuple[AcceptanceView, ...]:
    """What was accepted of a plan, whichever of its keepings it was entered for."""
    return tuple(acceptance_view(row) for row in rows if row.plan.number == plan.number)


def acceptance_view(row: PlanAcceptance) -> AcceptanceView:
    """An acceptance as others read it."""
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
