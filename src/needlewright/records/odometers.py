"""The odometer's outcome, out of what is recorded; the judgement itself is made in `proofs`."""

from collections.abc import Iterator
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.proofs.odometer import OdometerFacts, ZeroNotice, judge_odometer
from needlewright.records.tables import Job, Paper, Received, Returned
from needlewright.records.views import OdometerState

DOOR_FRAME = "left door frame"


def odometer_facts(job: Job, row: Returned) -> OdometerFacts:
    """As the judgement takes them."""
    notice = None
    if row.law is not None and row.notice_mileage_before is not None and row.notice_day:
        attached_to = row.notice_attached_to or DOOR_FRAME
        notice = ZeroNotice(row.notice_mileage_before, row.notice_day, attached_to)
    return OdometerFacts(
        job.odometer_unit, job.odometer_in, job.odometer_out, notice, job.odometer_none
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
        By 49 USC 32704(a); where the local law's procedure is recorded, by that.
    """
    row = session.get_one(Returned, job.id)
    received = session.get_one(Received, job.id).day or job.opened_at.astimezone().date()
    facts = odometer_facts(job, row)
    changed = facts.as_received != facts.as_returned
    known = facts.as_received is not None and facts.as_returned is not None
    if row.law == "local" and known and changed:
        return _by_local_law(facts, row, received, today)
    judged = judge_odometer(facts, received, row.day or today)
    return OdometerState(judged.outcome, judged.lawful, judged.sentence)


def odometer_missing(session: Session, job: Job, today: date) -> Iterator[str]:
    """What bars a job from being returned on account of its odometer."""
    row = session.get_one(Returned, job.id)
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
        printed = select(Paper.id).where(
            Paper.job_id == job.id, Paper.kind == "odometer_notice", Paper.issued >= row.notice_day
        )
        if session.scalars(printed).first() is None:
            yield "the notice with the mileage before and the date has not been printed"


def _by_local_law(
    facts: OdometerFacts, row: Returned, received: date, today: date
) -> OdometerState:
    notice = facts.notice
    if notice is None or notice.mileage_before != facts.as_received:
        return OdometerState(
            "refused",
            False,
            "The notice does not state the mileage the odometer came in with "
            f"({facts.as_received:g} {facts.unit}).",
        )
    if not received <= notice.day <= (row.day or today):
        return OdometerState(
            "refused",
            False,
            f"The notice is dated {notice.day}, outside the job's days from {received} to "
            f"{row.day or today}.",
        )
    return OdometerState(
        "local_law",
        True,
        f"The odometer came in at {facts.as_received:g} {facts.unit} and goes out at "
        f"{facts.as_returned:g} {facts.unit}; the procedure of the local law was followed: "
        f"{row.procedure.rstrip('.')}. A written notice states the mileage before and the date, "
        f"{notice.day}.",
    )
