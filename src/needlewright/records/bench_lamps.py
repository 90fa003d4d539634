"""The lamps a bench photographs in a run: photos of the job, kept as soon as they are taken."""

from typing import Final

from needlewright.records.bench_own import Own, own_named, withdraw_in, withdraw_own
from needlewright.records.bench_rows import require_whole
from needlewright.records.changes import change
from needlewright.records.find import run_with
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.pictures import keep_picture
from needlewright.records.runs import tag_of_run
from needlewright.records.tables import JobPhoto
from needlewright.records.words import PhotoKind, PhotoStage

KIND: PhotoKind = "other"
WHAT: Final = "photo of lamps"


def store_lamp_photo(
    shop: Shop, run_id: int, content: bytes, name: str, note: str, *, by: str | None = None
) -> None:
    """Keep a photo of lit lamps, in place of an earlier one of the run.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    content
        The picture's file.
    name
        Of the photo; the same for every photo of these lamps in the run.
    note
        What is lit in it.
    by
        Who takes the run.

    Raises
    ------
    PictureError
        If it is no picture.
    RecordError
        If the run was set aside, or it cannot be saved.
    """
    picture = keep_picture(shop, content, name)
    with change(shop, tag_of_run(shop, run_id), WHAT, by) as one:
        run = run_with(one.session, run_id)
        require_whole(run)
        one.what = f"run {run.name}: {WHAT}"
        withdraw_in(one, run, _own(name))
        stage: PhotoStage = "returned" if run.side == "left" else "received"
        one.add(
            JobPhoto(
                job_id=one.job.id,
                stage=stage,
                kind=KIND,
                sha256=keep(shop, one.session, picture.file),
                name=name,
                note=note,
                at=one.at,
                person_id=one.person.id,
            )
        )


def withdraw_lamp_photo(shop: Shop, run_id: int, name: str, by: str | None = None) -> None:
    """Let a photo of lamps count no more, because it is taken again or skipped.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    name
        Of the photo; where there is none, nothing is changed. It stays kept, and undo brings it
        back.
    by
        Who does it.

    Raises
    ------
    RecordError
        If the run was set aside, or it cannot be saved.
    """
    withdraw_own(shop, run_id, _own(name), WHAT, by)


def _own(name: str) -> Own:
    return own_named(JobPhoto, JobPhoto.at, name)
