"""What was read in the photos of a run, and what is not to be trusted."""

from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.readings.batch import Outcome, PictureProblem
from needlewright.records.changes import change
from needlewright.records.find import photo_with, reading_with, run_with
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.reading_rows import (
    own_name,
    projection_of,
    put_away_readings,
    reading_row,
)
from needlewright.records.run_views import photo_and_readings, sheet_of_run
from needlewright.records.runs import tag_of_run
from needlewright.records.tables import RunPhoto
from needlewright.records.views import RunPhotoView, RunSheet


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
        put_outcome(shop, photo, outcome)
        photo.overlay_sha256 = None if drawn is None else keep(shop, session, drawn)
        put_readings(shop, session, photo, outcome)
        session.flush()
        return photo_and_readings(session, photo)


def put_outcome(shop: Shop, photo: RunPhoto, outcome: Outcome) -> None:
    """Put into a photo's row that it was read, and where its face was.

    Parameters
    ----------
    shop
        The shop.
    photo
        Its row.
    outcome
        What was read, or why nothing was.
    """
    photo.read_at = shop.now()
    if isinstance(outcome, PictureProblem):
        photo.found, photo.reason, photo.projection = None, None, None
        photo.problem = own_name(outcome.reason, outcome.photo, photo.name)
    else:
        photo.found, photo.reason, photo.problem = outcome.found, outcome.reason, None
        photo.projection = projection_of(outcome)


def put_readings(shop: Shop, session: Session, photo: RunPhoto, outcome: Outcome) -> None:
    """Put the readings of a photo in the place of what an earlier look said.

    Parameters
    ----------
    shop
        The shop.
    session
        Of the change.
    photo
        Its row, which has its number.
    outcome
        What was read, or why nothing was.
    """
    older = put_away_readings(session, photo)
    if not isinstance(outcome, PictureProblem):
        session.add_all(
            reading_row(shop, photo, reading, older.get(reading.dial))
            for reading in outcome.readings
        )


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
    tag = tag_of_run(shop, run_id)
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
