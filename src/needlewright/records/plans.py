"""The plans of a job: kept whole, and never changed.

What a plan says is not known here but for its number.
"""

from collections.abc import Mapping
from typing import Any, Final

from needlewright.errors import RecordError
from needlewright.records.changes import change
from needlewright.records.clusters import move_to_cluster
from needlewright.records.entries import JobEntry, checked
from needlewright.records.find import job_tagged
from needlewright.records.opening import Shop
from needlewright.records.plan_rows import (
    acceptance_view,
    acceptances_of,
    current_plan,
    last_word,
    numbered_plan,
    plan_numbered,
    plans_of,
    views_of,
)
from needlewright.records.sheet import job_sheet
from needlewright.records.tables import JobPlan
from needlewright.records.views import JobSheet
from needlewright.records.views.plans import OlderPlanView, PlanView

NUMBER_DIGITS: Final = 8


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
        now = current_plan(one.session, one.job)
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
        plans = plans_of(session, job)
        if not plans:
            return None
        rows = acceptances_of(session, job)
        now, counts = (
            plans[-1] if number is None else numbered_plan(job, plans, number),
            last_word(rows),
        )
        is_current = now.number == plans[-1].number
        is_accepted = is_current and counts is not None and counts.plan.number == now.number
        return PlanView(
            tag=job.tag,
            version=job.version,
            number=now.number,
            document=now.document,
            made_at=now.at,
            by=now.person.name,
            acceptance=acceptance_view(counts) if counts is not None and is_accepted else None,
            acceptances=views_of(rows, now),
            superseded=tuple(
                OlderPlanView(old.number, old.at, old.person.name, views_of(rows, old))
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
        return plan_numbered(session, job, number).document
