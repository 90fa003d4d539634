"""A run under way: its photos, what was read, and what is not to be trusted."""

from collections.abc import Callable

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from needlewright.errors import UnusableInput
from needlewright.records.opening import Shop
from needlewright.records.run_photos import add_run_photo, reject_photo, retake_photo
from needlewright.records.run_readings import reject_reading
from needlewright.records.runs import run_sheet, set_aside_run
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet, RunSheet
from needlewright.records.waiting_photos import read_on, stop_reading
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentFile, SentForm
from needlewright.web.sheet_reading import outlook, wake
from needlewright.web.sheet_saving import saving

router = APIRouter()


@router.post("/jobs/{tag}/run/{run_id}/photos")
def photos(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Keep photos, at the step named or each at the next step without one."""
    run = run_sheet(asked.shop, run_id)
    step = sent.text("step")
    form = f"{run.side}-photo-{step}" if step else f"{run.side}-photos"

    def keep() -> JobSheet:
        at = int(step) if step.isdecimal() and len(step) < 7 else None
        for photo in _chosen(asked, sent):
            add_run_photo(asked.shop, run_id, photo.content(), photo.name, asked.by, step=at)
        return job_sheet(asked.shop, run.tag)

    answer = saving(asked, sent, run.tag, form, keep, anchor=f"{run.side}-run")
    wake(asked)
    return answer


@router.post("/jobs/{tag}/run/{run_id}/photos/{photo_id}/again")
def again(asked: Asked, sent: Sent, tag: Tag, run_id: int, photo_id: int) -> Response:
    """Put a newer photo in the place of an older one, which stays in the records."""
    run = run_sheet(asked.shop, run_id)
    step = next((photo.step for photo in run.photos if photo.id == photo_id), 0)

    def keep() -> JobSheet:
        photo = _chosen(asked, sent)[0]
        retake_photo(asked.shop, photo_id, photo.content(), photo.name, asked.by)
        return job_sheet(asked.shop, run.tag)

    form = f"{run.side}-photo-{step}"
    answer = saving(asked, sent, run.tag, form, keep)
    wake(asked)
    return answer


@router.post("/jobs/{tag}/run/{run_id}/photos/{photo_id}/reject")
def no_photo(asked: Asked, sent: Sent, tag: Tag, run_id: int, photo_id: int) -> Response:
    """Say why a photo in which nothing was read may stay so."""
    run = run_sheet(asked.shop, run_id)
    step = next((photo.step for photo in run.photos if photo.id == photo_id), 0)

    def keep() -> JobSheet:
        reject_photo(asked.shop, photo_id, sent.text("why"), asked.by)
        return job_sheet(asked.shop, run.tag)

    place = f"{run.side}-photo-{step}-reject"
    return saving(asked, sent, run.tag, place, keep, anchor=f"{run.side}-step-{step}")


@router.post("/jobs/{tag}/readings/{reading_id}/reject")
def reject(asked: Asked, sent: Sent, tag: Tag, reading_id: int) -> Response:
    """Say that a reading is not to be trusted."""

    def keep() -> JobSheet:
        reject_reading(asked.shop, reading_id, sent.text("why"), asked.by)
        return job_sheet(asked.shop, tag)

    return saving(asked, sent, tag, "reject", keep, anchor=sent.text("back") or "main")


@router.post("/jobs/{tag}/run/{run_id}/aside")
def aside(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Say that a run counts no more; photos not read yet are not read any more."""
    run = run_sheet(asked.shop, run_id)

    def keep() -> JobSheet:
        set_aside_run(asked.shop, run_id, sent.text("why"), asked.by)
        return job_sheet(asked.shop, run.tag)

    return saving(asked, sent, run.tag, f"{run.side}-aside", keep, anchor=f"{run.side}-start")


@router.post("/jobs/{tag}/run/{run_id}/stop-reading")
def stop(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Leave the photos that are not read yet as they are."""
    return _switched(asked, sent, run_id, stop_reading)


@router.post("/jobs/{tag}/run/{run_id}/read-on")
def go_on(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Read the rest."""
    return _switched(asked, sent, run_id, read_on)


def _switched(
    asked: Asking, sent: SentForm, run_id: int, switch: Callable[[Shop, int, str | None], RunSheet]
) -> Response:
    run = run_sheet(asked.shop, run_id)

    def keep() -> JobSheet:
        switch(asked.shop, run_id, asked.by)
        return job_sheet(asked.shop, run.tag)

    answer = saving(asked, sent, run.tag, f"{run.side}-reading", keep, anchor=f"{run.side}-run")
    wake(asked)
    return answer


@router.get("/jobs/{tag}/run/{run_id}/progress")
def progress(asked: Asked, tag: Tag, run_id: int) -> Response:
    """How far a run is, for the page to ask again and again."""
    run = run_sheet(asked.shop, run_id)
    look = outlook(asked, run.tag)
    read = sum(photo.read_at is not None for photo in run.photos)
    return JSONResponse(
        {
            "read": read,
            "of": len(run.photos),
            "left_s": look.left_s,
            "ahead": look.ahead,
            "trouble": look.trouble,
            "version": job_sheet(asked.shop, run.tag).version,
        },
        headers={"Cache-Control": "no-store"},
    )


def _chosen(asked: Asking, sent: SentForm) -> list[SentFile]:
    files = sent.files("photo")
    if not files:
        raise UnusableInput(asked.texts("sheet.photos.none_chosen"))
    return files
