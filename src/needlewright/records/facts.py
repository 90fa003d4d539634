"""The facts of a job out of its records, as the proofs take them."""

import re
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.proofs.job_facts import JobFacts
from needlewright.proofs.job_file import job_from
from needlewright.records.find import newest_run
from needlewright.records.shop import settings_row
from needlewright.records.tables import (
    FamilyVersion,
    Instrument,
    Job,
    Paper,
    Received,
    Returned,
    ShopSettings,
)

AS_FOUND: Final = "-as-found"
NOTICE: Final = "-notice"
_NOT_IN_A_NUMBER: Final = re.compile(r"[^A-Za-z0-9._-]+")


def facts_of(
    session: Session,
    job: Job,
    *,
    ending: str,
    day: date,
    authorised_by: str | None,
    because: str | None,
) -> JobFacts:
    """The facts of a job for its next paper.

    Parameters
    ----------
    session
        Of the shop.
    job
        The job.
    ending
        What the paper's number ends with: `AS_FOUND` or nothing.
    day
        When it is issued.
    authorised_by
        Who authorises it; None: as the shop's settings say.
    because
        Why it replaces the one before it, where there is one.

    Returns
    -------
    JobFacts
        Checked.

    Raises
    ------
    RecordError
        If something a paper needs is not recorded, or there is a paper before it and no reason.
    JobError
        If facts disagree, as with a rebuild before the receipt.
    """
    settings, received = settings_row(session), session.get_one(Received, job.id)
    signed = authorised_by or settings.authorised_by
    _require_said(job, settings, received, signed)
    base = base_number(session, job, day)
    raw: dict[str, Any] = {
        "shop": settings.name,
        "place": settings.place,
        "customer": job.owner,
        "customer_contact": job.owner_contact or None,
        "vehicle": job.vehicle,
        "max_speed": job.max_speed,
        "tag": job.tag,
        "serial": job.cluster.serial or "none",
        "variant": job.cluster.variant,
        "family_version": _version_words(job.family_version),
        "condition": received.condition,
        "received": received.day,
        "issued": day,
        "number": base,
        "authorised_by": signed,
        "odometer": _odometer(session, job),
        "instruments": _instruments(session, job),
        "work_done": job.work_done,
        "remarks": [*job.remarks, *_rehearsed(session, job)],
        "deviations": job.deviations,
        "external_results": job.external_results,
        "temperature": job.temperature,
        "supply": settings.supply or None,
        "battery_wait": settings.battery_wait or None,
        "invented": settings.invented,
        **_days(session, job, day),
        **_replaced(session, job, base, ending, because),
    }
    return job_from(raw, f"job {job.tag}")


def _version_words(version: FamilyVersion) -> str:
    return f"version {version.number}, content {version.content_hash[:12]}"


def base_number(session: Session, job: Job, day: date) -> str:
    """The number every paper of a job is made of: tag and day of the first one."""
    first = session.scalars(select(Paper.number).where(Paper.job_id == job.id)).first()
    if first is not None:
        return first.removesuffix(AS_FOUND).removesuffix(NOTICE)
    plain = _NOT_IN_A_NUMBER.sub("-", job.tag).strip("._-")[:26].strip("._-") or "job"
    number = f"{plain}-{day:%Y%m%d}"
    taken = set(session.scalars(select(Paper.number).where(Paper.number.startswith(number))))
    known = {one.removesuffix(AS_FOUND).removesuffix(NOTICE) for one in taken}
    free, again = number, 1
    while free in known:  # another tag that is the same without its unusual characters
        again += 1
        free = f"{number}.{again}"
    return free


def latest_paper(session: Session, number: str) -> Paper | None:
    """The latest version of the paper of that number, or None."""
    query = select(Paper).where(Paper.number == number).order_by(Paper.version.desc()).limit(1)
    return session.scalars(query).first()


def require_reason(job: Job, older: Paper, because: str | None) -> str:
    """The reason a paper replaces an older one; raises RecordError if there is none."""
    said = " ".join((because or "").split())
    if not said:
        raise RecordError(
            f"job {job.tag}: {older.name} was issued on {older.issued}; say why a new version "
            "replaces it"
        )
    return said


def local_day(moment: datetime) -> date:
    """The day on which a moment fell, here."""
    return moment.astimezone().date()


def _require_said(job: Job, settings: ShopSettings, received: Received, signed: str) -> None:
    needed = (
        (settings.name, "the shop's name (settings)"),
        (settings.place, "the shop's place (settings)"),
        (signed, "who authorises papers (settings)"),
        (job.owner, "the owner"),
        (job.vehicle, "the vehicle in words"),
        (received.condition, "the condition it came in"),
        (received.day, "the day it was received"),
    )
    if lacking := [words for said, words in needed if not said]:
        raise RecordError(
            f"job {job.tag}: no paper can be issued before this is stated: {', '.join(lacking)}"
        )


def _odometer(session: Session, job: Job) -> dict[str, Any]:
    if job.odometer_none is not None:
        return {"unit": job.odometer_unit, "none_fitted": job.odometer_none}
    if job.odometer_in is None:
        raise RecordError(
            f"job {job.tag}: the mileage as received is not recorded; no paper can be issued "
            "without it, or without saying that no odometer is fitted"
        )
    row = session.get_one(Returned, job.id)
    notice = None
    if row.law is not None and row.notice_day is not None:
        notice = {
            "mileage_before": row.notice_mileage_before,
            "date": row.notice_day,
            "procedure": row.procedure or None,
            **({"attached_to": row.notice_attached_to} if row.notice_attached_to else {}),
        }
    return {
        "unit": job.odometer_unit,
        "as_received": job.odometer_in,
        "as_returned": job.odometer_out,
        "notice": notice,
        "law": local_law(settings_row(session), row),
    }


def local_law(settings: ShopSettings, row: Returned) -> str | None:
    """The law a changed mileage is held against, where it is not that of the United States."""
    if (row.law or settings.law) == "us":
        return None
    return settings.local_law or "the local law"


def _instruments(session: Session, job: Job) -> list[dict[str, Any]]:
    if not job.instruments:
        return []
    found = session.scalars(select(Instrument).where(Instrument.id.in_(job.instruments)))
    by_id = {row.id: row for row in found}
    rows: Iterable[Instrument] = (by_id[one] for one in job.instruments if one in by_id)
    return [
        {"name": r.name, "number": r.number, "due": r.due, "traceable_to": r.traceable_to}
        for r in rows
    ]


def _days(session: Session, job: Job, day: date) -> dict[str, date | None]:
    found, left = newest_run(session, job.id, "found"), newest_run(session, job.id, "left")
    return {
        "found_on": None if found is None else local_day(found.started_at),
        "work": day if left is None else local_day(left.started_at),
    }


def _rehearsed(session: Session, job: Job) -> list[str]:
    """What a paper says of runs no real cluster was seen in; only an invented shop has any."""
    runs = [newest_run(session, job.id, side) for side in ("found", "left")]
    return [
        f"Run {run.name}: {run.rehearsed}; nothing of it was seen on a real cluster."
        for run in runs
        if run is not None and run.rehearsed is not None
    ]


def _replaced(
    session: Session, job: Job, base: str, ending: str, because: str | None
) -> dict[str, Any]:
    older = latest_paper(session, base + ending)
    if older is None:
        return {"version": 1}
    name = base if older.version == 1 else f"{base} version {older.version}"
    return {
        "version": older.version + 1,
        "replaces": name,
        "replaces_because": require_reason(job, older, because),
    }
