"""Whether what an address names by its number is of the job that the address names."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from needlewright.errors import NotThereError
from needlewright.records.find import LARGEST_ID, job_tagged, photo_with, reading_with, run_with
from needlewright.records.opening import Shop
from needlewright.records.tables import BurnIn, Job, JobPhoto


@dataclass(frozen=True, slots=True)
class Named:
    """Numbers an address names beside a job; None: it does not."""

    run: int | None = None
    run_photo: int | None = None
    """Of a run: of `run`, where that is named too."""
    reading: int | None = None
    job_photo: int | None = None
    burn_in: int | None = None


def refuse_others(shop: Shop, tag: str, named: Named) -> None:
    """Refuse what is of another job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    named
        Beside it.

    Raises
    ------
    NotThereError
        If the job is not there, or one of the things is not there or not the job's.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        if named.run is not None and run_with(session, named.run).job_id != job.id:
            raise _other(job, "run", named.run)
        if named.run_photo is not None:
            _refuse_photo(session, job, named.run_photo, named.run)
        if named.reading is not None:
            photo = reading_with(session, named.reading).photo_id
            if run_with(session, photo_with(session, photo).run_id).job_id != job.id:
                raise _other(job, "reading", named.reading)
        _refuse_row(session, job, JobPhoto, ("photo", named.job_photo))
        _refuse_row(session, job, BurnIn, ("burn-in", named.burn_in))


def _refuse_photo(session: Session, job: Job, photo_id: int, run_id: int | None) -> None:
    run = run_with(session, photo_with(session, photo_id).run_id)
    if run.job_id != job.id:
        raise _other(job, "photo", photo_id)
    if run_id is not None and run.id != run_id:
        name = run_with(session, run_id).name
        raise NotThereError(
            f"job {job.tag}, run {name}: has no photo {photo_id}; open it from the run it is of"
        )


def _refuse_row(session: Session, job: Job, table: Any, named: tuple[str, int | None]) -> None:
    what, number = named
    if number is None:
        return
    row = session.get(table, number) if 0 < number < LARGEST_ID else None
    if row is None or row.job_id != job.id:
        raise _other(job, what, number)


def _other(job: Job, what: str, number: int) -> NotThereError:
    return NotThereError(f"job {job.tag}: has no {what} {number}; open it from its own job sheet")
