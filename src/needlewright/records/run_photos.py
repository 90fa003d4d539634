"""The photos of a run: kept, taken again, and rejected where nothing is to be read in them."""

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.readings.batch import Outcome
from needlewright.records.changes import Change, change
from needlewright.records.find import photo_with, run_with
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.pictures import KeptPicture, keep_picture
from needlewright.records.run_readings import put_outcome, put_readings
from needlewright.records.run_views import photo_and_readings, sheet_of_run
from needlewright.records.runs import REHEARSED_FILE, tag_of_run
from needlewright.records.tables import BenchRun, RunPhoto, RunRowTold
from needlewright.records.unread_photos import is_unread
from needlewright.records.views import RunPhotoView, RunSheet


@dataclass(frozen=True, slots=True)
class ReadPhoto:
    """What was read in a photo before it came into the records."""

    outcome: Outcome
    overlay: bytes | None
    """JPEG with the fit drawn over the photo; None: there is none."""


def add_run_photo(
    shop: Shop,
    run_id: int,
    content: bytes,
    name: str,
    by: str | None = None,
    *,
    step: int | None = None,
    read: ReadPhoto | None = None,
) -> RunPhotoView:
    """Keep a photo of a run; unless it was read, it is later (`waiting_photos.photos_to_read`).

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
    read
        What was read in it already; None: nobody has.

    Returns
    -------
    RunPhotoView
        As stored.

    Raises
    ------
    PictureError
        If it is no picture.
    RecordError
        If the step has a photo, or the same picture shows another step of this job.
    """
    picture = keep_picture(shop, content, name)
    tag = tag_of_run(shop, run_id)
    with change(shop, tag, "photo of a run", by) as one:
        run = run_with(one.session, run_id)
        _refuse_same_picture(one.session, run, picture, name)
        shown = _shown(one.session, run_id)
        _mark_rehearsed(run, picture, name, shown.values())
        place = _free_step(one.session, run_id, shown) if step is None else step
        if place in shown:
            raise RecordError(
                f"job {tag}, run {run.name}: step {place} has the photo {shown[place]}; take it "
                "again in its place, or name another step"
            )
        one.what = f"run {run.name}: photo of step {place}"
        return _new_photo(one, run, picture, name, step=place, read=read)


def retake_photo(
    shop: Shop,
    photo_id: int,
    content: bytes,
    name: str,
    by: str | None = None,
    *,
    read: ReadPhoto | None = None,
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
    read
        What was read in the newer one already; None: nobody has.

    Returns
    -------
    RunPhotoView
        The newer one.

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
    with change(shop, tag_of_run(shop, run_id), "photo taken again", by) as one:
        older = photo_with(one.session, photo_id)
        run = run_with(one.session, older.run_id)
        if not older.shown:
            raise RecordError(
                f"job {one.job.tag}, run {run.name}: that photo of step {older.step} has been "
                "replaced already; open the run again"
            )
        again = older.id if older.problem else None  # its file may have been lost, or be damaged
        _refuse_same_picture(one.session, run, picture, name, again)
        others = _shown(one.session, run_id)
        others.pop(older.step, None)
        _mark_rehearsed(run, picture, name, others.values())
        older.shown = False
        one.session.flush()  # the step is free before the newer photo takes it
        one.what = f"run {run.name}: photo of step {older.step} taken again"
        return _new_photo(one, run, picture, name, step=older.step, replaces_id=older.id, read=read)


def reject_photo(shop: Shop, photo_id: int, why: str, by: str | None = None) -> RunSheet:
    """Say why a photo in which nothing was read may stay so; its rows count as not read.

    Parameters
    ----------
    shop
        The shop.
    photo_id
        Which.
    why
        The reason.
    by
        Who does it.

    Returns
    -------
    RunSheet
        As it now is; the photo no longer keeps the part of the work open.

    Raises
    ------
    RecordError
        If there is no reason, or the photo was read, waits, is rejected or replaced.
    """
    with shop.reading() as session:
        run_id = photo_with(session, photo_id).run_id
    with change(shop, tag_of_run(shop, run_id), "photo rejected", by) as one:
        photo, run = photo_with(one.session, photo_id), run_with(one.session, run_id)
        where = f"job {one.job.tag}, run {run.name}, step {photo.step}"
        if not why.strip():
            raise RecordError(f"{where}: say why the photo {photo.name} is rejected")
        if not photo.shown or photo.rejected_why is not None:
            said = "rejected" if photo.shown else "replaced by a later one"
            raise RecordError(f"{where}: the photo {photo.name} is {said} already")
        if not is_unread(photo):
            state = "is not read yet" if photo.read_at is None else "was read"
            raise RecordError(
                f"{where}: the photo {photo.name} {state}; only one in which nothing was read is "
                "rejected whole; reject the readings that are not to be trusted, one by one"
            )
        one.what = f"run {run.name}: photo of step {photo.step} rejected"
        photo.rejected_at, photo.rejected_by = one.at, one.person.name
        photo.rejected_why = " ".join(why.split())
        one.session.flush()
        return sheet_of_run(one.session, run)


def photo_at(run: RunSheet, step: int) -> RunPhotoView:
    """The photo that counts at a step of a run; raises RecordError if there is none."""
    for photo in run.photos:
        if photo.step == step:
            return photo
    raise RecordError(
        f"job {run.tag}, run {run.name}: there is no photo at step {step}; look at the run's steps"
    )


@dataclass(frozen=True, slots=True)
class _Place:
    name: str
    step: int
    run: str


def _refuse_same_picture(
    session: Session, run: BenchRun, picture: KeptPicture, name: str, but_id: int | None = None
) -> None:
    """One picture for two steps, or the run as found taken for the run as left."""
    same = session.execute(
        select(RunPhoto.name, RunPhoto.step, BenchRun.name)
        .join(BenchRun, BenchRun.id == RunPhoto.run_id)
        .where(
            BenchRun.job_id == run.job_id,
            BenchRun.set_aside_at.is_(None),
            RunPhoto.shown.is_(True),
            RunPhoto.sha256 == picture.file.sha256,
            RunPhoto.id != (but_id or 0),
        )
    ).first()
    if same is not None:
        place = _Place(*same)
        raise RecordError(
            f"{name}: is the same picture as {place.name} at step {place.step} of run "
            f"{place.run}; every step needs a photo of its own"
        )


def _mark_rehearsed(
    run: BenchRun, picture: KeptPicture, name: str, others: Collection[str]
) -> None:
    """A run of a rehearsal's photos is one of a rehearsal; they are not put among real ones."""
    if not picture.rehearsed or run.rehearsed is not None:
        return
    if others:
        raise RecordError(
            f"{name}: is a photo of a rehearsal, as its file says, and run {run.name} holds photos "
            "of a cluster; take its photo on the cluster, or set the run aside"
        )
    run.rehearsed = REHEARSED_FILE


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
    read: ReadPhoto | None = None,
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
    if read is not None:
        put_outcome(one.shop, photo, read.outcome)
        if read.overlay is not None:
            drawn = one.shop.originals.put(read.overlay, "jpg")
            photo.overlay_sha256 = keep(one.shop, one.session, drawn)
    one.add(photo)
    one.session.flush()
    if read is not None:
        put_readings(one.shop, one.session, photo, read.outcome)
        one.session.flush()
    return photo_and_readings(one.session, photo)
