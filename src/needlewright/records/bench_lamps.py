"""The lamps a bench photographs in a run: photos of the job, kept as soon as they are taken."""

from sqlalchemy import Select, select

from needlewright.records.bench_rows import require_whole
from needlewright.records.changes import Change, change
from needlewright.records.find import run_with
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.pictures import keep_picture
from needlewright.records.runs import tag_of_run
from needlewright.records.tables import BenchRun, JobPhoto
from needlewright.records.words import PhotoKind, PhotoStage

KIND: PhotoKind = "other"


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
    with change(shop, tag_of_run(shop, run_id), "photo of lamps", by) as one:
        run = run_with(one.session, run_id)
        require_whole(run)
        one.what = f"run {run.name}: photo of lamps"
        _withdraw(one, run, name)
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
    with shop.reading() as session:
        run = run_with(session, run_id)
        require_whole(run)
        if session.scalars(_own(run, name)).first() is None:
            return
    with change(shop, tag_of_run(shop, run_id), "photo of lamps withdrawn", by) as one:
        run = run_with(one.session, run_id)
        one.what = f"run {run.name}: photo of lamps withdrawn at the bench"
        _withdraw(one, run, name)


def _withdraw(one: Change, run: BenchRun, name: str) -> None:
    for earlier in one.session.scalars(_own(run, name)):
        earlier.withdrawn_at = one.at


def _own(run: BenchRun, name: str) -> Select[JobPhoto]:
    """The run's own: of its name, and no older than the run; an older one is of a run set aside."""
    return select(JobPhoto).where(
        JobPhoto.job_id == run.job_id,
        JobPhoto.name == name,
        JobPhoto.at >= run.started_at,
        JobPhoto.withdrawn_at.is_(None),
    )
