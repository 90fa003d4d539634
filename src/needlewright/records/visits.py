"""The visits of a family's clusters, with what was said and planned at each: for their lives."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeAlias

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, aliased, joinedload

from needlewright.records.opening import Shop
from needlewright.records.sheet import opinion_views
from needlewright.records.tables import Cluster, Job, JobPlan, Opinion, PlanAcceptance
from needlewright.records.views import OpinionView

_Listed: TypeAlias = Sequence[Mapping[str, Any]]


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
    decisions: _Listed | None
    """Of the plan the job goes by, thing by thing; None: there is none."""
    operations: _Listed
    """Of the option of that plan that was accepted; empty: none was."""


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
        decisions = _decisions(session, wanted)
        operations = _operations(session, wanted)
        return tuple(
            _visit(job, opinions.get(job.id, []), decisions.get(job.id), operations.get(job.id, []))
            for job in jobs
        )


def _visit(
    job: Job, opinions: Sequence[Opinion], decisions: _Listed | None, operations: _Listed
) -> VisitView:
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
        decisions=decisions,
        operations=operations,
    )


def _opinions(session: Session, wanted: Select[int]) -> dict[int, list[Opinion]]:
    query = select(Opinion).where(Opinion.job_id.in_(wanted), Opinion.withdrawn_at.is_(None))
    found: dict[int, list[Opinion]] = {}
    for row in session.scalars(query.order_by(Opinion.id).options(joinedload(Opinion.person))):
        found.setdefault(row.job_id, []).append(row)
    return found


def _last_plans(wanted: Select[int]) -> Select[int]:
    """Ids of the plans the jobs go by."""
    query = select(func.max(JobPlan.id)).where(
        JobPlan.job_id.in_(wanted), JobPlan.withdrawn_at.is_(None)
    )
    return query.group_by(JobPlan.job_id)


def _decisions(session: Session, wanted: Select[int]) -> dict[int, _Listed]:
    # most of a plan's document is not needed, and taking it to pieces is what takes long
    query = select(JobPlan.job_id, JobPlan.document["decisions"])
    found = session.execute(query.where(JobPlan.id.in_(_last_plans(wanted)))).all()
    return {job_id: decisions for job_id, decisions in found}  # noqa: C416 - rows are no pairs


def _operations(session: Session, wanted: Select[int]) -> dict[int, _Listed]:
    """Of the accepted options; the last acceptance of a job counts, if it is of its plan."""
    last = select(func.max(PlanAcceptance.id)).where(
        PlanAcceptance.job_id.in_(wanted), PlanAcceptance.withdrawn_at.is_(None)
    )
    of = aliased(JobPlan)
    query = (
        select(JobPlan.job_id, PlanAcceptance.option, JobPlan.document["options"])
        .join(PlanAcceptance, PlanAcceptance.job_id == JobPlan.job_id)
        .join(of, of.id == PlanAcceptance.plan_id)
        .where(
            JobPlan.id.in_(_last_plans(wanted)),
            PlanAcceptance.id.in_(last.group_by(PlanAcceptance.job_id)),
            PlanAcceptance.taken_back_at.is_(None),
            of.number == JobPlan.number,
        )
    )
    return {
        job_id: next(one["operations"] for one in options if one["id"] == accepted)
        for job_id, accepted, options in session.execute(query)
    }
