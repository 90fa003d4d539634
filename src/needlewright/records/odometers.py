"""The odometer's outcome, out of what is recorded; the judgement itself is made in `proofs`."""

from collections.abc import Iterator
from datetime import date
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.proofs.odometer import LAW, OdometerFacts, ZeroNotice, judge_odometer
from needlewright.records.facts import local_law
from needlewright.records.shop import settings_row
from needlewright.records.tables import (
    Edit,
    EditValue,
    Job,
    Paper,
    Received,
    Returned,
    ShopSettings,
)
from needlewright.records.views import OdometerState

DOOR_FRAME: Final = "left door frame"
_ON_NOTICE: Final = (
    "law",
    "procedure",
    "notice_mileage_before",
    "notice_day",
    "notice_attached_to",
)
"""Fields of a return that stand on the notice."""


def odometer_facts(job: Job, row: Returned, settings: ShopSettings) -> OdometerFacts:
    """As the judgement takes them."""
    law, notice = local_law(settings, row), None
    if row.law is not None and row.notice_mileage_before is not None and row.notice_day:
        attached_to = row.notice_attached_to or DOOR_FRAME
        notice = ZeroNotice(row.notice_mileage_before, row.notice_day, attached_to)
    return OdometerFacts(
        job.odometer_unit,
        job.odometer_in,
        job.odometer_out,
        notice,
        job.odometer_none,
        law or LAW,
        row.procedure,
    )


def state_of(session: Session, job: Job, today: date) -> OdometerState:
    """Whether the odometer's outcome lets a job be returned.

    Parameters
    ----------
    session
        Of the shop.
    job
        The job.
    today
        The last day a notice may be dated.

    Returns
    -------
    OdometerState
        By 49 USC 32704(a), or by the procedure of the local law where that holds.
    """
    row = session.get_one(Returned, job.id)
    received = session.get_one(Received, job.id).day or job.opened_at.astimezone().date()
    facts = odometer_facts(job, row, settings_row(session))
    judged = judge_odometer(facts, received, row.day or today)
    return OdometerState(judged.outcome, judged.lawful, judged.sentence)


def odometer_missing(session: Session, job: Job, today: date) -> Iterator[str]:
    """What bars a job from being returned on account of its odometer."""
    if job.odometer_none is None and job.odometer_in is None:
        yield "the mileage as received is not recorded"
        return
    if job.odometer_none is None and job.odometer_out is None:
        yield "the mileage as returned is not recorded"
        return
    state = state_of(session, job, today)
    if not state.lawful:
        yield state.sentence.rstrip(".")
    elif state.outcome in ("zero_with_notice", "local_law"):
        yield from _missing_notice(session, job)


def _missing_notice(session: Session, job: Job) -> Iterator[str]:
    """Whether the notice has been printed, and says what is recorded now."""
    printed = session.scalars(
        select(Paper.issued_at)
        .where(Paper.job_id == job.id, Paper.kind == "odometer_notice")
        .order_by(Paper.id.desc())
    ).first()
    if printed is None:
        yield "the notice with the mileage before and the date has not been printed"
        return
    changed_since = (
        select(EditValue.id)
        .join(Edit, Edit.id == EditValue.edit_id)
        .where(
            Edit.job_id == job.id,
            Edit.at > printed,
            EditValue.entity == Returned.__tablename__,
            EditValue.field.in_(_ON_NOTICE),
        )
    )
    if session.scalars(changed_since).first() is not None:
        yield (
            "the notice was printed before what it says was changed; print a new version and say "
            "why it replaces the one before"
        )
