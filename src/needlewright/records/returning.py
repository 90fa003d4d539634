"""How a cluster goes back: its box, its carrier, and an odometer that says what the law allows."""

from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from needlewright.errors import RecordError
from needlewright.proofs.odometer import LAW
from needlewright.records.changes import change, named, put_settled
from needlewright.records.days import refuse_return_before_receipt
from needlewright.records.entries import ReturnEntry, checked
from needlewright.records.facts import (
    NOTICE,
    base_number,
    latest_paper,
    local_day,
    local_law,
    require_reason,
)
from needlewright.records.find import job_tagged
from needlewright.records.jobs import refuse_two_odometers
from needlewright.records.odometers import DOOR_FRAME, state_of
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import settings_row
from needlewright.records.stages import begin
from needlewright.records.tables import Job, Received, Returned
from needlewright.records.views import JobSheet, OdometerState

FIELDS: Final = tuple(ReturnEntry.model_fields)
"""Fields `record_return` takes."""
NOTICE_FORMAT: Final = "needlewright odometer-notice 1"


def record_return(
    shop: Shop,
    tag: str,
    changes: Mapping[str, Any],
    by: str | None = None,
    *,
    seen: int | None = None,
) -> JobSheet:
    """Write down how a cluster goes back; the part Returned is started by it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    changes
        Fields of `entries.ReturnEntry`; what is not named stays.
    by
        Who does it.
    seen
        The sheet's version the person was looking at; None: not compared.

    Returns
    -------
    JobSheet
        As it now is; `stages.finish_stage` with `returned` closes the job.

    Raises
    ------
    JobError
        If a field cannot be used.
    ConflictError
        If somebody else changed the same field since.
    RecordError
        If a law is named without the notice's two fields, or the local one without words, or it
        would leave before it came.
    """
    stated = checked(ReturnEntry, changes, f"job {tag}, Returned").stated
    with change(shop, tag, f"returned: {named(stated)}", by) as one:
        job = one.job
        row = one.session.get_one(Returned, job.id)
        of_job = {name: stated.pop(name) for name in ("odometer_out",) if name in stated}
        put_settled(one, job, of_job, seen)
        put_settled(one, row, stated, seen)
        _require_procedure(job, row)
        refuse_two_odometers(job)
        refuse_return_before_receipt(job, one.session.get_one(Received, job.id), row)
        begin(one, "returned")
    return job_sheet(shop, tag)


def odometer_state(shop: Shop, tag: str) -> OdometerState:
    """Whether the odometer's outcome lets the job be returned, and the sentence that says so.

    Raises RecordError if there is no such job.
    """
    with shop.reading() as session:
        return state_of(session, job_tagged(session, tag), local_day(shop.now()))


def notice_document(
    shop: Shop, tag: str, *, day: date | None = None, because: str | None = None
) -> dict[str, Any]:
    """What the written notice of an odometer says: the mileage before, and the date.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    day
        When it is printed; None: today.
    because
        Why it replaces the one before it, where there is one.

    Returns
    -------
    dict
        To be drawn, and then kept with `papers.file_paper`.

    Raises
    ------
    RecordError
        If the lawful procedure is not recorded, or there is a notice already and no reason.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        row, settings = session.get_one(Returned, job.id), settings_row(session)
        if row.law is None or row.notice_mileage_before is None or row.notice_day is None:
            raise RecordError(
                f"job {job.tag}: there is nothing to print: state which law's procedure was "
                "followed, the mileage before and the date"
            )
        issued = day or local_day(shop.now())
        number = base_number(session, job, issued) + NOTICE
        older = latest_paper(session, number)
        version = 1 if older is None else older.version + 1
        return {
            "format": NOTICE_FORMAT,
            "kind": "odometer_notice",
            "title": "Notice of odometer service",
            "number": number,
            "version": version,
            "name": number if version == 1 else f"{number} version {version}",
            "replaces": None if older is None else older.name,
            "replaces_because": None if older is None else require_reason(job, older, because),
            "invented": settings.invented,
            "shop": settings.name,
            "place": settings.place,
            "tag": job.tag,
            "vehicle": job.vehicle,
            "mileage_before": row.notice_mileage_before,
            "unit": job.odometer_unit,
            "date": row.notice_day.isoformat(),
            "attached_to": row.notice_attached_to or (DOOR_FRAME if row.law == "us" else ""),
            "law": local_law(settings, row) or LAW,
            "procedure": row.procedure,
            "issued": issued.isoformat(),
        }


def _require_procedure(job: Job, row: Returned) -> None:
    if row.law is None:
        return
    if row.notice_mileage_before is None or row.notice_day is None:
        raise RecordError(
            f"job {job.tag}, Returned: the notice needs its two fields, notice_mileage_before and "
            "notice_day; state both"
        )
    if row.law == "local" and not row.procedure:
        raise RecordError(
            f"job {job.tag}, Returned: the local law's procedure is named and 'procedure' is "
            "empty; write what was done and by which law"
        )
