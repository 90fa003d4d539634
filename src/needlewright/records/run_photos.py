"""The photos of a run, and what was read in them."""

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.readings.batch import Outcome, PictureProblem
from needlewright.records.changes import Change, change
from needlewright.records.find import photo_with, reading_with, run_with, tag_of
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.pictures import KeptPicture, keep_picture
from needlewright.records.reading_rows import (
    own_name,
    projection_of,
    put_away_readings,
    reading_row,
)
from needlewright.records.run_views import photo_and_readings, sheet_of_run
from needlewright.records.tables import BenchRun, Job, RunPhoto, RunRowTold
from needlewright.records.views import PhotoToRead, RunPhotoView, RunSheet


def add_run_photo(
    shop: Shop,
    run_id: int,
    content: bytes,
    name: str,
    by: str | None = None,
    *,
    step: int | None = None,
) -> RunPhotoView:
    """Keep a photo of a run; it is read later (`photos_to_read`).

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run.
    content
        The picture's file.
    name
        As the camera or the person called it.
    by
        Who does it.
    step
        Which step it shows; None: the first one without a photo.

    Returns
    -------
    RunPhotoView
        As stored, not read yet.

    Raises
    ------
    PictureError
        If it is no picture.
    RecordError
        If the step has a photo, or the same picture shows another step of this job.
    """
    picture = keep_picture(shop, content, name)
    tag = _tag_of_run(shop, run_id)
    with change(shop, tag, "photo of a run", by) as one:
        run = run_with(one.session, run_id)
        _refuse_same_picture(one.session, run, picture, name)
        shown = _shown(one.session, run_id)
        place = _free_step(one.session, run_id, shown) if step is None else step
        if place in shown:
            raise RecordError(
                f"job {tag}, run {run.name}: step {place} has the photo {shown[place]}; take it "
                "again in its place, or name another step"
            )
        one.what = f"run {run.name}: photo of step {place}"
        return _new_photo(one, run, picture, name, step=place)


def retake_photo(
    shop: Shop, photo_id: int, content: bytes, name: str, by: str | None = None
) -> RunPhotoView:
    """Put a newer photo in the place of an older one, which stays kept.

    Parameters
    ----------
    shop
        The shop.
    photo_id
        The older one.
    content
        The newer picture's file.
    name
        As the camera or the person called it.
    by
        Who does it.

    Returns
    -------
    RunPhotoView
        The newer one, not read yet.

    Raises
    ------
    PictureError
        If it is no picture.
    RecordError
        If the older one has been replaced already, or the picture shows another step.
    """
    picture = keep_picture(shop, content, name)
    with shop.reading() as session:
        run_id = photo_with(session, photo_id).run_id
    with change(shop, _tag_of_run(shop, run_id), "photo taken again", by) as one:
        older = photo_with(one.session, photo_id)
        run = run_with(one.session, older.run_id)
        if not older.shown:
            raise RecordError(
                f"job {one.job.tag}, run {run.name}: that photo of step {older.step} has been "
                "replaced already; open the run again"
            )
        _refuse_same_picture(one.session, run, picture, name)
        older.shown = False
        one.session.flush()  # the step is free before the newer photo takes it
        one.what = f"run {run.name}: photo of step {older.step} taken again"
        return _new_photo(one, run, picture, name, step=older.step, replaces_id=older.id)


def photos_to_read(shop: Shop, run_id: int | None = None) -> tuple[PhotoToRead, ...]:
    """Photos nobody has read yet, of one run or of the whole shop.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run; None: all that are not set aside.

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
    which = BenchRun.set_aside_at.is_(None) if run_id is None else BenchRun.id == run_id
    with shop.reading() as session:
        found = session.execute(query.where(which)).all()
    return tuple(
        PhotoToRead(
            photo.id,
            run.id,
            tag,
            run.family_version_id,
            photo.name,
            shop.originals.path(photo.sha256),
        )
        for photo, run, tag in found
    )


def store_outcome(
    shop: Shop, photo_id: int, outcome: Outcome, overlay: bytes | None = None
) -> RunPhotoView:
    """Keep what was read in a photo, in place of what an earlier look said.

    Parameters
    ----------
    shop
        The shop.
    photo_id
        The photo.
    outcome
        Its readings, or the sentence why the file cannot be used.
    overlay
        The JPEG with the fit drawn over the photo.

    Returns
    -------
    RunPhotoView
        With its readings.

    Raises
    ------
    RecordError
        If it cannot be stored.
    """
    drawn = None if overlay is None else shop.originals.put(overlay, "jpg")
    with shop.writing(f"storing the readings of photo {photo_id}") as session:
        photo = photo_with(session, photo_id)
        photo.read_at = shop.now()
        photo.overlay_sha256 = None if drawn is None else keep(shop, session, drawn)
        older = put_away_readings(session, photo)
        if isinstance(outcome, PictureProblem):
            photo.found, photo.reason, photo.projection = None, None, None
            photo.problem = own_name(outcome.reason, outcome.photo, photo.name)
        else:
            photo.found, photo.reason, photo.problem = outcome.found, outcome.reason, None
            photo.projection = projection_of(outcome)
            session.add_all(
                reading_row(shop, photo, reading, older.get(reading.dial))
                for reading in outcome.readings
            )
        session.flush()
        return photo_and_readings(session, photo)


def reject_reading(shop: Shop, reading_id: int, why: str, by: str | None = None) -> RunSheet:
    """Say that a reading is not to be trusted; its row counts as not read.

    Parameters
    ----------
    shop
        The shop.
    reading_id
        Which.
    why
        The reason.
    by
        Who does it.

    Returns
    -------
    RunSheet
        As it now is.

    Raises
    ------
    RecordError
        If there is no reason, or the reading is rejected or replaced already.
    """
    with shop.reading() as session:
        reading = reading_with(session, reading_id)
        run_id = photo_with(session, reading.photo_id).run_id
        dial = reading.dial
    tag = _tag_of_run(shop, run_id)
    if not why.strip():
        raise RecordError(f"job {tag}: say why the reading of dial '{dial}' is rejected")
    with change(shop, tag, f"reading of dial '{dial}' rejected", by) as one:
        row = reading_with(one.session, reading_id)
        if row.rejected_at is not None or not row.shown:
            said = "rejected" if row.rejected_at else "replaced by a later one"
            raise RecordError(f"job {tag}: this reading of dial '{dial}' is {said} already")
        row.rejected_at, row.rejected_by_id = one.at, one.person.id
        row.rejected_why = " ".join(why.split())
        one.session.flush()
        run = run_with(one.session, run_id)
        return sheet_of_run(one.session, run)


def reading_id_at(run: RunSheet, step: int, dial: str) -> int:
    """The reading of a dial at a step of a run.

    Parameters
    ----------
    run
        With its photos.
    step
        Which step.
    dial
        Which dial.

    Returns
    -------
    int
        The reading's id.

    Raises
    ------
    RecordError
        If there is none.
    """
    for photo in run.photos:
        for reading in photo.readings:
            if photo.step == step and reading.dial == dial:
                return reading.id
    raise RecordError(
        f"job {run.tag}, run {run.name}: there is no reading of dial '{dial}' at step {step}; look "
        "at the run's steps and dials"
    )


@dataclass(frozen=True, slots=True)
class _Place:
    name: str
    step: int
    run: str


def _tag_of_run(shop: Shop, run_id: int) -> str:
    with shop.reading() as session:
        return tag_of(session, run_with(session, run_id).job_id)


def _refuse_same_picture(session: Session, run: BenchRun, picture: KeptPicture, name: str) -> None:
    """One picture for two steps, or the run as found taken for the run as left."""
    same = session.execute(
        select(RunPhoto.name, RunPhoto.step, BenchRun.name)
        .join(BenchRun, BenchRun.id == RunPhoto.run_id)
        .where(
            BenchRun.job_id == run.job_id,
            BenchRun.set_aside_at.is_(None),
            RunPhoto.shown.is_(True),
            RunPhoto.sha256 == picture.file.sha256,
        )
    ).first()
    if same is not None:
        place = _Place(*same)
        raise RecordError(
            f"{name}: is the same picture as {place.name} at step {place.step} of run "
            f"{place.run}; every step needs a photo of its own"
        )


def _shown(session: Session, run_id: int) -> dict[int, str]:
    """Names of photos by step."""
    query = select(RunPhoto.step, RunPhoto.name).where(
        RunPhoto.run_id == run_id, RunPhoto.shown.is_(True)
    )
    return {row.step: row.name for row in session.execute(query)}


def _free_step(session: Session, run_id: int, shown: dict[int, str]) -> int:
    query = select(RunRowTold.step).where(RunRowTold.run_id == run_id)
    told = dict.fromkeys(session.scalars(query.order_by(RunRowTold.position)))
    free = [step for step in told if step not in shown]
    return free[0] if free else max([0, *shown, *told]) + 1


def _new_photo(
    one: Change,
    run: BenchRun,
    picture: KeptPicture,
    name: str,
    *,
    step: int,
    replaces_id: int | None = None,
) -> RunPhotoView:
    photo = RunPhoto(
        run_id=run.id,
        step=step,
        sha256=keep(one.shop, one.session, picture.file),
        name=name,
        taken_at=None if picture.taken is None else picture.taken.isoformat(),
        added_at=one.at,
        person=one.person,
        replaces_id=replaces_id,
    )
    one.add(photo)
    one.session.flush()
    return photo_and_readings(one.session, photo)
