"""The parts of the work: started, finished, taken up again, each with time and person."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.records.changes import Change, change
from needlewright.records.days import left_before_it_came
from needlewright.records.find import job_tagged, newest_run
from needlewright.records.odometers import odometer_missing
from needlewright.records.opening import Shop
from needlewright.records.run_views import problems_of_run
from needlewright.records.sheet import job_sheet
from needlewright.records.stage_views import stage_views
from needlewright.records.tables import (
    Decision,
    Job,
    Paper,
    Received,
    Returned,
    StageEvent,
)
from needlewright.records.views import JobSheet
from needlewright.records.words import (
    STAGE_WORDS,
    STAGES,
    UNIT_CHECK_WORDS,
    UNIT_CHECKS,
    DecisionKind,
    RunSide,
    Stage,
    StageStep,
)

_RUN_OF: Final[dict[Stage, RunSide]] = {"bench_check": "found", "final_check": "left"}


def start_stage(shop: Shop, tag: str, stage: Stage, by: str | None = None) -> JobSheet:
    """Start a part of the work.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    stage
        Which part.
    by
        Who starts it.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    RecordError
        If it is finished, or the cluster has not been received as it must be before any work.
    """
    _require_known(stage)
    with change(shop, tag, f"{STAGE_WORDS[stage]} started", by) as one:
        if _state(one.session, one.job, stage) == "finished":
            raise RecordError(
                f"job {one.job.tag}: {STAGE_WORDS[stage]} is finished; take it up again first"
            )
        begin(one, stage)
    return job_sheet(shop, tag)


def finish_stage(shop: Shop, tag: str, stage: Stage, by: str | None = None) -> JobSheet:
    """Finish a part of the work.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    stage
        Which part.
    by
        Who finishes it.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    RecordError
        If something is missing; the sentence says what.
    """
    _require_known(stage)
    with change(shop, tag, f"{STAGE_WORDS[stage]} finished", by) as one:
        job = one.job
        if _state(one.session, job, stage) == "finished":
            raise RecordError(f"job {job.tag}: {STAGE_WORDS[stage]} is finished already")
        if missing := tuple(_missing(one.session, job, stage, _day(one.at))):
            raise RecordError(
                f"job {job.tag}: {STAGE_WORDS[stage]} cannot be finished: {'; '.join(missing)}"
            )
        begin(one, stage)
        _write(one, stage, "finished")
        if stage == "returned":
            job.closed_at, job.waits_for = one.at, "nothing"
            row = one.session.get_one(Returned, job.id)
            row.day = row.day or _day(one.at)
        elif job.waits_for == "cluster":
            job.waits_for = "bench"
    return job_sheet(shop, tag)


def reopen_stage(shop: Shop, tag: str, stage: Stage, by: str | None = None) -> JobSheet:
    """Take a finished part up again.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    stage
        Which part.
    by
        Who does it.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    RecordError
        If it is not finished.
    """
    _require_known(stage)
    with change(shop, tag, f"{STAGE_WORDS[stage]} taken up again", by) as one:
        job = one.job
        if _state(one.session, job, stage) != "finished":
            raise RecordError(f"job {job.tag}: {STAGE_WORDS[stage]} is not finished")
        _write(one, stage, "reopened")
        if stage == "returned":
            job.closed_at, job.waits_for = None, "bench"
    return job_sheet(shop, tag)


def what_is_missing(shop: Shop, tag: str, stage: Stage) -> tuple[str, ...]:
    """Why a part cannot be finished yet; empty where it can.

    Raises RecordError if there is no such job or part.
    """
    _require_known(stage)
    with shop.reading() as session:
        return tuple(_missing(session, job_tagged(session, tag), stage, _day(shop.now())))


def what_run_is_missing(shop: Shop, tag: str, side: RunSide) -> tuple[str, ...]:
    """Why the run of a side is not whole yet, its not being begun too; empty where it is.

    Raises RecordError if there is no such job.
    """
    with shop.reading() as session:
        return tuple(missing_run(session, job_tagged(session, tag), side))


def begin(one: Change, stage: Stage) -> None:
    """Start a part within a change, where it is not under way; refuse work before its time."""
    if stage not in ("received", "returned"):
        _refuse_before_received(one.session, one.job)
    if _state(one.session, one.job, stage) == "to_do":
        _write(one, stage, "started")


def _refuse_before_received(session: Session, job: Job) -> None:
    if why := _why_no_work(session, job):
        raise RecordError(f"job {job.tag}: no work before the cluster is received: {why}")


def require_received(shop: Shop, tag: str) -> None:
    """Refuse work before its time, before anything is switched on for it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Raises
    ------
    RecordError
        If its cluster is not received, or the wrong-unit check speaks against it.
    """
    with shop.reading() as session:
        _refuse_before_received(session, job_tagged(session, tag))


def _write(one: Change, stage: Stage, step: StageStep) -> None:
    one.add(
        StageEvent(job_id=one.job.id, stage=stage, step=step, at=one.at, person_id=one.person.id)
    )
    one.session.flush()
    states = {view.stage: view.state for view in stage_views(one.session, one.job.id)}
    left = [name for name in STAGES if states[name] != "finished"]
    one.job.stage = left[0] if left else STAGES[-1]


def _day(moment: datetime) -> date:
    return moment.astimezone().date()


def _state(session: Session, job: Job, stage: Stage) -> str:
    return next(view.state for view in stage_views(session, job.id) if view.stage == stage)


def _require_known(stage: Stage) -> None:
    if stage not in STAGES:
        known = ", ".join(STAGES)
        raise RecordError(f"'{stage}' is no part of the work; expected one of {known}")


def _why_no_work(session: Session, job: Job) -> str:
    if _state(session, job, "received") != "finished":
        return "finish Received first"
    wrong = _wrong_unit(session.get_one(Received, job.id))
    if wrong and not _decided(session, job, "wrong_unit"):
        return (
            f"the wrong-unit check says {wrong}; correct family and variant of the job and the "
            "check, or write a decision to go on and why"
        )
    return ""


def _wrong_unit(row: Received) -> str:
    wrong = [
        f"{UNIT_CHECK_WORDS[what]} not ok ({getattr(row, f'{what}_note')})"
        for what in UNIT_CHECKS
        if getattr(row, f"{what}_ok") is False
    ]
    return ", ".join(wrong)


def _decided(session: Session, job: Job, kind: DecisionKind) -> bool:
    query = select(Decision.id).where(
        Decision.job_id == job.id, Decision.withdrawn_at.is_(None), Decision.kind == kind
    )
    return session.scalars(query).first() is not None


def _missing(session: Session, job: Job, stage: Stage, today: date) -> Iterator[str]:
    match stage:
        case "received":
            yield from _missing_received(session, job)
        case "bench_check" | "final_check":
            yield from missing_run(session, job, _RUN_OF[stage])
        case "returned":
            yield from _missing_returned(session, job, today)
    if stage not in ("received", "returned") and (why := _why_no_work(session, job)):
        yield why


def _missing_received(session: Session, job: Job) -> Iterator[str]:
    row = session.get_one(Received, job.id)
    if not row.sender:
        yield "the sender is not stated"
    if not row.contents:
        yield "what was in the box is not ticked off"
    if not row.condition:
        yield "the condition is not stated"
    if job.odometer_in is None and job.odometer_none is None and not row.odometer_unreadable:
        yield (
            "the odometer is not recorded: state the mileage, or that none is fitted, or why it "
            "cannot be read yet"
        )
    open_checks = [UNIT_CHECK_WORDS[w] for w in UNIT_CHECKS if getattr(row, f"{w}_ok") is None]
    if open_checks:
        yield f"the wrong-unit check is not done for: {', '.join(open_checks)}"


def missing_run(session: Session, job: Job, side: RunSide) -> Iterator[str]:
    """What keeps the run of a side from being complete."""
    words = {"found": "as found", "left": "as left"}[side]
    run = newest_run(session, job.id, side)
    if run is None:
        yield f"there is no run {words}"
        return
    yield from problems_of_run(session, run)


def _missing_returned(session: Session, job: Job, today: date) -> Iterator[str]:
    row = session.get_one(Returned, job.id)
    if _state(session, job, "received") != "finished":
        yield "Received is not finished"
    if wrong := left_before_it_came(session.get_one(Received, job.id), row, today):
        yield wrong
    if not row.contents:
        yield "what goes into the box is not ticked off"
    if not row.packing:
        yield "the packing is not stated"
    if not row.carrier:
        yield "the carrier is not stated"
    proved = select(Paper.id).where(
        Paper.job_id == job.id, Paper.kind.not_in(("as_found_report", "odometer_notice"))
    )
    if session.scalars(proved).first() is None and not _decided(session, job, "no_paper"):
        yield (
            "no certificate or report was issued; certify it, or write a decision why it goes "
            "back without one"
        )
    yield from odometer_missing(session, job, today)
