"""Photos nobody has read yet: which they are, and whether their reading is stopped."""

from sqlalchemy import and_, select

from needlewright.errors import RecordError
from needlewright.readings.batch import PictureProblem
from needlewright.records.changes import change
from needlewright.records.find import run_with
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet, tag_of_run
from needlewright.records.tables import BenchRun, Job, RunPhoto
from needlewright.records.views import PhotoToRead, RunSheet


def photos_to_read(shop: Shop, run_id: int | None = None) -> tuple[PhotoToRead, ...]:
    """Photos nobody has read yet, of one run or of the whole shop.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run, also one whose reading is stopped; None: all that are neither set aside nor
        stopped.

    Returns
    -------
    tuple of PhotoToRead
        In the order they were added.
    """
    query = (
        select(RunPhoto, BenchRun, Job.tag)
        .join(BenchRun, BenchRun.id == RunPhoto.run_id)
        .join(Job, Job.id == BenchRun.job_id)
        .where(RunPhoto.shown.is_(True), RunPhoto.read_at.is_(None))
        .order_by(RunPhoto.id)
    )
    going = and_(BenchRun.set_aside_at.is_(None), BenchRun.reading_stopped_at.is_(None))
    which = going if run_id is None else BenchRun.id == run_id
    with shop.reading() as session:
        found = session.execute(query.where(which)).all()
    return tuple(
        PhotoToRead(
            photo.id,
            run.id,
            tag,
            run.family_version_id,
            photo.name,
            shop.originals.find(photo.sha256),
        )
        for photo, run, tag in found
    )


def lost(photo: PhotoToRead) -> PictureProblem:
    """What is said of a photo whose file the store does not have."""
    return PictureProblem(
        photo.name,
        f"{photo.name}: was not read because its file is missing from the shop's store; choose "
        "the same photo again, or take a new one",
    )


def stop_reading(shop: Shop, run_id: int, by: str | None = None) -> RunSheet:
    """Leave the photos of a run that are not read yet as they are; those in hand are finished.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run.
    by
        Who does it.

    Returns
    -------
    RunSheet
        As it now is.

    Raises
    ------
    RecordError
        If its reading is stopped already, or nothing is left to read.
    """
    return _switch(shop, run_id, by, stop=True)


def read_on(shop: Shop, run_id: int, by: str | None = None) -> RunSheet:
    """Read the rest of a run whose reading was stopped.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run.
    by
        Who does it.

    Returns
    -------
    RunSheet
        As it now is.

    Raises
    ------
    RecordError
        If its reading is not stopped.
    """
    return _switch(shop, run_id, by, stop=False)


def _switch(shop: Shop, run_id: int, by: str | None, *, stop: bool) -> RunSheet:
    said = "reading stopped" if stop else "the rest is to be read"
    with change(shop, tag_of_run(shop, run_id), said, by) as one:
        run = run_with(one.session, run_id)
        where = f"job {one.job.tag}, run {run.name}"
        if stop == (run.reading_stopped_at is not None):
            state = "stopped already" if stop else "not stopped"
            raise RecordError(f"{where}: the reading is {state}; open the run again")
        if stop and not photos_to_read(shop, run_id):
            raise RecordError(f"{where}: every photo is read; there is nothing to stop")
        run.reading_stopped_at = one.at if stop else None
        one.what = f"run {run.name}: {said}"
    return run_sheet(shop, run_id)
