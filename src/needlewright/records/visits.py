"""The visits of a family's clusters, with what was said and planned at each: for their lives."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, joinedload

from needlewright.records.opening import Shop
from needlewright.records.sheet import opinion_views
from needlewright.records.tables import Cluster, Job, JobPlan, Opinion, PlanAcceptance
from needlewright.records.views import OpinionView


@dataclass(frozen=True, slots=True)
class VisitView:
    """One job of a cluster that is known again by its serial number."""

    tag: str
    cluster: int
    """Alike for the jobs of one cluster."""
    built: str | None
    variant: str | None
    opened_at: datetime
    closed_at: datetime | None
    odometer_unit: str
    odometer_in: float | None
    odometer_out: float | None
    opinions: tuple[OpinionView, ...]
    """Those that count."""
    plan: Mapping[str, Any] | None
    """The document of the plan the job goes by."""
    accepted: str | None
    """The option of that plan that was accepted."""


def visits_of_family(shop: Shop, family: str) -> tuple[VisitView, ...]:
    """Every job of a family's clusters that have a serial number.

    Parameters
    ----------
    shop
        The shop.
    family
        Its name.

    Returns
    -------
    tuple of VisitView
        In the order they were opened.
    """
    wanted = (
        select(Job.id).join(Cluster).where(Cluster.family == family, Cluster.serial.isnot(None))
    )
    with shop.reading() as session:  # four questions, however many jobs there are
        query = select(Job).where(Job.id.in_(wanted)).order_by(Job.id)
        jobs = session.scalars(query.options(joinedload(Job.cluster))).all()
        opinions = _opinions(session, wanted)
        plans = _last_plans(session, wanted)
        accepted = _last_acceptances(session, wanted)
        return tuple(
            _visit(job, opinions.get(job.id, []), plans.get(job.id), accepted.get(job.id))
            for job in jobs
        )


def _visit(
    job: Job, opinions: Sequence[Opinion], plan: JobPlan | None, accepted: PlanAcceptance | None
) -> VisitView:
    counts = (
        plan is not None
        and accepted is not None
        and accepted.taken_back_at is None
        and accepted.plan.number == plan.number
    )
    return VisitView(
        tag=job.tag,
        cluster=job.cluster_id,
        built=job.cluster.built,
        variant=job.cluster.variant,
        opened_at=job.opened_at,
        closed_at=job.closed_at,
        odometer_unit=job.odometer_unit,
        odometer_in=job.odometer_in,
        odometer_out=job.odometer_out,
        opinions=tuple(one for one in opinion_views(opinions) if one.counts),
        plan=None if plan is None else plan.document,
        accepted=accepted.option if counts and accepted is not None else None,
    )


def _opinions(session: Session, wanted: Select[int]) -> dict[int, list[Opinion]]:
    query = select(Opinion).where(Opinion.job_id.in_(wanted), Opinion.withdrawn_at.is_(None))
    found: dict[int, list[Opinion]] = {}
    for row in session.scalars(query.order_by(Opinion.id).options(joinedload(Opinion.person))):
        found.setdefault(row.job_id, []).append(row)
    return found


def _last_plans(session: Session, wanted: Select[int]) -> dict[int, JobPlan]:
    query = select(JobPlan).where(JobPlan.job_id.in_(wanted), JobPlan.withdrawn_at.is_(None))
    return {row.job_id: row for row in session.scalars(query.order_by(JobPlan.id))}


def _last_acceptances(session: Session, wanted: Select[int]) -> dict[int, PlanAcceptance]:
    query = select(PlanAcceptance).where(
        PlanAcceptance.job_id.in_(wanted), PlanAcceptance.withdrawn_at.is_(None)
    )
    rows = session.scalars(
        query.order_by(PlanAcceptance.id).options(joinedload(PlanAcceptance.plan))
    )
    return {row.job_id: row for row in rows}
