"""How a cluster comes in: its box, its condition, and whether it is the unit it should be."""

from collections.abc import Mapping
from typing import Any, Final

from needlewright.errors import NotThereError, RecordError
from needlewright.records.changes import change, named, put_settled
from needlewright.records.days import refuse_return_before_receipt
from needlewright.records.entries import Entry, Name, ReceiveEntry, Text, checked
from needlewright.records.find import tag_of
from needlewright.records.jobs import refuse_two_odometers
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.pictures import keep_picture
from needlewright.records.sheet import job_photo_view, job_sheet
from needlewright.records.stages import begin
from needlewright.records.tables import JobPhoto, Received, Returned
from needlewright.records.views import JobPhotoView, JobSheet
from needlewright.records.words import UNIT_CHECKS, PhotoKind, PhotoStage

FIELDS: Final = tuple(ReceiveEntry.model_fields)
"""Fields `receive` takes."""
OF_JOB: Final[tuple[str, ...]] = ("odometer_unit", "odometer_in", "odometer_none")


class _PhotoEntry(Entry):
    stage: PhotoStage
    kind: PhotoKind
    name: Name
    note: Text = ""


def receive(
    shop: Shop,
    tag: str,
    changes: Mapping[str, Any],
    by: str | None = None,
    *,
    seen: int | None = None,
) -> JobSheet:
    """Write down how a cluster came in; the part Received is started by it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    changes
        Fields of `entries.ReceiveEntry`; what is not named stays.
    by
        Who does it.
    seen
        The sheet's version the person was looking at; None: not compared.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    JobError
        If a field cannot be used.
    ConflictError
        If somebody else changed the same field since.
    RecordError
        If a part of the wrong-unit check is not ok and has no note, or it came after it left.
    """
    stated = checked(ReceiveEntry, changes, f"job {tag}, Received").stated
    with change(shop, tag, f"received: {named(stated)}", by) as one:
        job = one.job
        row = one.session.get_one(Received, job.id)
        of_job = {name: stated.pop(name) for name in OF_JOB if name in stated}
        put_settled(one, job, of_job, seen)
        put_settled(one, row, stated, seen)
        if row.day is None:
            row.day = one.at.astimezone().date()
        _refuse_bare_not_ok(job.tag, row)
        refuse_two_odometers(job)
        refuse_return_before_receipt(job, row, one.session.get_one(Returned, job.id))
        begin(one, "received")
    return job_sheet(shop, tag)


def add_job_photo(
    shop: Shop,
    tag: str,
    content: bytes,
    name: str,
    by: str | None = None,
    *,
    stage: PhotoStage,
    kind: PhotoKind,
    note: str = "",
) -> JobPhotoView:
    """Keep a photo of a box, its packing, a damage, an odometer.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    content
        The picture's file.
    name
        As the camera or the person called it.
    by
        Who does it.
    stage
        Whether it came in or goes out.
    kind
        What it shows.
    note
        What is to be seen on it.

    Returns
    -------
    JobPhotoView
        As stored.

    Raises
    ------
    PictureError
        If it is no picture.
    JobError, RecordError
        If a word is not known, or it cannot be stored.
    """
    typed = {"stage": stage, "kind": kind, "name": name, "note": note}
    entry = checked(_PhotoEntry, typed, f"job {tag}, photo")
    picture = keep_picture(shop, content, entry.name, must_be_whole=True)
    with change(shop, tag, f"photo: {entry.kind}", by) as one:
        row = JobPhoto(
            job_id=one.job.id,
            sha256=keep(shop, one.session, picture.file),
            at=one.at,
            person_id=one.person.id,
            **entry.model_dump(),
        )
        one.add(row)
        one.session.flush()
        return job_photo_view(row, one.person.name)


def withdraw_job_photo(shop: Shop, photo_id: int, by: str | None = None) -> JobSheet:
    """Take a photo off the sheet; the original stays, and undo brings it back.

    Raises RecordError if there is no such photo.
    """
    with shop.reading() as session:
        row = session.get(JobPhoto, photo_id)
        if row is None:
            raise NotThereError(f"there is no photo {photo_id}; open the job again")
        tag = tag_of(session, row.job_id)
    with change(shop, tag, "photo taken off", by) as one:
        one.session.get_one(JobPhoto, photo_id).withdrawn_at = one.at
    return job_sheet(shop, tag)


def _refuse_bare_not_ok(tag: str, row: Received) -> None:
    for what in UNIT_CHECKS:
        if getattr(row, f"{what}_ok") is False and not getattr(row, f"{what}_note"):
            raise RecordError(
                f"job {tag}, Received: {what} is not ok and {what}_note is empty; write what was "
                "found instead"
            )
