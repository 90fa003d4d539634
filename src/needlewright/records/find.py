"""Finding the job, run or photo that is meant."""

import difflib
from typing import Final, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import NotThereError
from needlewright.records.people import tag_key
from needlewright.records.tables import Base, BenchRun, Job, RunPhoto, RunReading
from needlewright.records.words import RunSide

RowT = TypeVar("RowT", bound=Base)
LARGEST_ID: Final = 1 << 31
"""Ids are smaller: a server keeps them in 32 bit, and refuses to look for a larger one."""
_LOOKED_THROUGH: Final = 5_000
"""Tags looked through for one that is like the one typed."""


def job_tagged(session: Session, tag: str, *, lock: bool = False) -> Job:
    """The job of that tag.

    Parameters
    ----------
    session
        Of the shop.
    tag
        Without regard to case and outer blanks.
    lock
        True where it will be changed.

    Returns
    -------
    Job
        Of that tag.

    Raises
    ------
    NotThereError
        If there is none; a tag that looks like it is named.
    """
    typed = " ".join(tag.encode(errors="replace").decode().split())
    query = select(Job).where(Job.tag_key == tag_key(typed))
    job = session.scalars(query.with_for_update() if lock else query).first()
    if job is None:
        newest = select(Job.tag).order_by(Job.id.desc()).limit(_LOOKED_THROUGH)
        near = difflib.get_close_matches(tag, session.scalars(newest).all(), n=1)
        meant = f"is '{near[0]}' meant?" if near else "look for it on the shelf"
        raise NotThereError(f"there is no job with the tag '{tag}'; {meant}")
    return job


def run_with(session: Session, run_id: int) -> BenchRun:
    """The run of that id; raises NotThereError if there is none."""
    run = _of_id(session, BenchRun, run_id)
    if run is None:
        raise NotThereError(f"there is no run {run_id}; open the job again")
    return run


def newest_run(session: Session, job_id: int, side: RunSide) -> BenchRun | None:
    """The newest run of a side that is not set aside, or None."""
    query = select(BenchRun).where(
        BenchRun.job_id == job_id, BenchRun.side == side, BenchRun.set_aside_at.is_(None)
    )
    return session.scalars(query.order_by(BenchRun.id.desc()).limit(1)).first()


def photo_with(session: Session, photo_id: int) -> RunPhoto:
    """The photo of that id; raises NotThereError if there is none."""
    photo = _of_id(session, RunPhoto, photo_id)
    if photo is None:
        raise NotThereError(f"there is no photo {photo_id}; open the job again")
    return photo


def reading_with(session: Session, reading_id: int) -> RunReading:
    """The reading of that id; raises NotThereError if there is none."""
    reading = _of_id(session, RunReading, reading_id)
    if reading is None:
        raise NotThereError(f"there is no reading {reading_id}; open the job again")
    return reading


def tag_of(session: Session, job_id: int) -> str:
    """The tag of a job by its id."""
    return session.scalars(select(Job.tag).where(Job.id == job_id)).one()


def _of_id(session: Session, table: type[RowT], row_id: int) -> RowT | None:
    """The row of that id; of a number no database can hold, none."""
    return session.get(table, row_id) if 0 < row_id < LARGEST_ID else None
