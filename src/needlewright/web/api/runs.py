"""Runs: photos sent, readings as they are made."""

from dataclasses import dataclass
from typing import Annotated, Any, Final, cast

from fastapi import APIRouter, Query

from needlewright.composing.run_reading import reader_settings
from needlewright.composing.steps import proposed_steps
from needlewright.errors import UnusableInput
from needlewright.readings.runs import Approach
from needlewright.records import run_photos, run_readings, runs, waiting_photos
from needlewright.records.families import load_version
from needlewright.records.sheet import job_sheet
from needlewright.records.told import Told
from needlewright.records.views import RunPhotoView, RunSheet
from needlewright.web.api.bodies import By, Id, RowBody, RunBody, WhyBody
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentFile, SentForm

router = APIRouter(tags=["runs"])
PHOTO: Final = "photo"


def sends_files(*, many: bool) -> dict[str, Any]:
    """What OpenAPI says of a form with photos, which is read as it streams in."""
    file = {"type": "string", "format": "binary"}
    photo = {"type": "array", "items": file} if many else file
    schema = {"type": "object", "properties": {PHOTO: photo}, "required": [PHOTO]}
    body = {"required": True, "content": {"multipart/form-data": {"schema": schema}}}
    return {"requestBody": body}


@dataclass(frozen=True, slots=True)
class ReadingState:
    """How far the photos of a job are."""

    photos: int
    """Of runs that are not set aside."""
    unread: int
    ahead: int
    """Photos of other jobs that are read before."""
    left_s: float | None
    """How long it will take; null: not known yet."""
    trouble: str | None
    """Why nothing is read at the moment."""


@router.get("/jobs/{tag}/reading")
def reading(asked: Asked, tag: Tag) -> ReadingState:
    """How far the photos of a job are; ask again in a second while any are unread."""
    sheet = job_sheet(asked.shop, tag)
    outlook = asked.house.reading.outlook(sheet.tag)
    counting = [run for run in sheet.runs if run.set_aside_at is None]
    return ReadingState(
        photos=sum(run.photos for run in counting),
        unread=sum(run.unread for run in counting),
        ahead=outlook.ahead,
        left_s=outlook.left_s,
        trouble=outlook.trouble,
    )


@router.post("/jobs/{tag}/runs", status_code=201)
def start(asked: Asked, tag: Tag, body: RunBody, by: By = None) -> RunSheet:
    """Start a run; without rows they are proposed from the rules' check points."""
    rows = _proposed(asked, tag, body) if body.rows is None else [_told(row) for row in body.rows]
    return runs.start_run(
        asked.shop,
        tag,
        body.side,
        rows,
        by or asked.by,
        name=body.name,
        reader=reader_settings(),
    )


@router.get("/runs/{run_id}")
def read_run(asked: Asked, run_id: Id) -> RunSheet:
    """Photos and readings of one run."""
    return runs.run_sheet(asked.shop, run_id)


@router.post("/runs/{run_id}/photos", status_code=201, openapi_extra=sends_files(many=True))
def add_photos(
    asked: Asked,
    sent: Sent,
    run_id: Id,
    step: Annotated[int | None, Query(ge=0, le=10_000)] = None,
    by: By = None,
) -> tuple[RunPhotoView, ...]:
    """Keep photos; they are read in the background. Those before one that is refused stay."""
    files = _files(asked, sent)
    try:
        return tuple(
            run_photos.add_run_photo(
                asked.shop, run_id, file.content(), file.name, by or asked.by, step=step
            )
            for file in files
        )
    finally:
        asked.house.reading.wake()


@router.post("/photos/{photo_id}/retake", status_code=201, openapi_extra=sends_files(many=False))
def retake(asked: Asked, sent: Sent, photo_id: Id, by: By = None) -> RunPhotoView:
    """Put a newer photo in the place of an older one, which stays kept."""
    file = _files(asked, sent)[0]
    photo = run_photos.retake_photo(asked.shop, photo_id, file.content(), file.name, by or asked.by)
    asked.house.reading.wake()
    return photo


@router.post("/photos/{photo_id}/reject")
def reject_photo(asked: Asked, photo_id: Id, body: WhyBody, by: By = None) -> RunSheet:
    """Say why a photo in which nothing was read may stay so; a photo's `advice` says what else."""
    return run_photos.reject_photo(asked.shop, photo_id, body.why, by or asked.by)


@router.post("/readings/{reading_id}/reject")
def reject(asked: Asked, reading_id: Id, body: WhyBody, by: By = None) -> RunSheet:
    """Say that a reading is not to be trusted."""
    return run_readings.reject_reading(asked.shop, reading_id, body.why, by or asked.by)


@router.post("/runs/{run_id}/stop-reading")
def stop_reading(asked: Asked, run_id: Id, by: By = None) -> RunSheet:
    """Leave the photos that are not read yet as they are; those in hand are finished."""
    sheet = waiting_photos.stop_reading(asked.shop, run_id, by or asked.by)
    asked.house.reading.wake()
    return sheet


@router.post("/runs/{run_id}/read-on")
def read_on(asked: Asked, run_id: Id, by: By = None) -> RunSheet:
    """Read the rest of a run whose reading was stopped."""
    sheet = waiting_photos.read_on(asked.shop, run_id, by or asked.by)
    asked.house.reading.wake()
    return sheet


@router.post("/runs/{run_id}/set-aside")
def set_aside(asked: Asked, run_id: Id, body: WhyBody, by: By = None) -> RunSheet:
    """Say that a run counts no more."""
    return runs.set_aside_run(asked.shop, run_id, body.why, by or asked.by)


def _proposed(asked: Asking, tag: str, body: RunBody) -> tuple[Told, ...]:
    sheet = job_sheet(asked.shop, tag)
    family = load_version(asked.shop, sheet.family_version_id)
    return proposed_steps(family, max_speed=sheet.max_speed, temperature_c=body.temperature_c)


def _told(row: RowBody) -> Told:
    return Told(**(row.model_dump() | {"approach": cast("Approach", row.approach)}))


def _files(asked: Asking, sent: SentForm) -> list[SentFile]:
    files = sent.files(PHOTO)
    if not files:
        raise UnusableInput(asked.texts("errors.no_photo"))
    return files
