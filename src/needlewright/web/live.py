"""The live place of a run: a camera's picture with needles drawn, and what stands, taken."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.overlays import FOOTER, overlay_jpeg, reading_label, reason_words
from needlewright.composing.pressed_needles import keep_pressed
from needlewright.errors import ConflictError, PictureError, RecordError
from needlewright.families.model import Family
from needlewright.papers.wording import unit_words
from needlewright.readings.model import PhotoReadings
from needlewright.readings.steady import HOLD_S
from needlewright.records.families import load_version
from needlewright.records.run_photos import ReadPhoto, add_run_photo, retake_photo
from needlewright.records.runs import refuse_other_job, run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.views import RunPhotoView, RunSheet
from needlewright.web.live_frames import to_keep
from needlewright.web.live_set import (
    direction_before,
    set_targets,
    target_at,
    was_set,
)
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent
from needlewright.web.sheet_run_view import told_words

if TYPE_CHECKING:
    from needlewright.readings.live_taking import TakenFrames

CAMERA_HERE: Final = "camera=(self), microphone=(), geolocation=(), payment=(), usb=()"
router = APIRouter()


@dataclass(frozen=True, slots=True)
class LiveStep:
    """One step of the run, as the live place lists it."""

    number: int
    approach: str
    told: Mapping[str, str]
    """By dial, what it is told, in words; empty at rest."""
    dials: tuple[str, ...]
    """Those that must stand."""
    photo: RunPhotoView | None


@router.get("/jobs/{tag}/run/{run_id}/live", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag, run_id: int, step: int | None = None) -> Response:
    """The live place of a run, at one of its steps."""
    run = _run_to_take(asked, tag, run_id)
    steps = _steps(run)
    wanted = [one.number for one in steps if one.photo is None]
    numbers = [one.number for one in steps]
    at = step if step in numbers else (wanted or numbers)[0]
    family = load_version(asked.shop, run.family_version_id)
    here = ("/jobs", run.tag, "run", run.id, "live")
    job = job_sheet(asked.shop, run.tag)
    page = asked.page(
        "live.html",
        job=job,
        run=run,
        steps=steps,
        targets=(),
        at_step=at,
        family=family,
        cameras=asked.house.live.cameras(),
        unit_words=unit_words,
        live={
            "line": asked.at(*here, "line"),
            "take": asked.at(*here, "take"),
            "set": asked.at(*here, "set"),
            "sets": [one.document() for one in set_targets(asked.shop, run, family, job.max_speed)],
            "hold_s": HOLD_S,
            "step": at,
            "steps": [
                {
                    "number": one.number,
                    "dials": one.dials,
                    "told": one.told,
                    "photo": None if one.photo is None else one.photo.id,
                }
                for one in steps
            ],
        },
    )
    page.headers["Permissions-Policy"] = CAMERA_HERE
    return page


@router.post("/jobs/{tag}/run/{run_id}/live/take")
def take(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Store what stands as the photo of a step, read."""
    run = _run_to_take(asked, tag, run_id)
    step = _step(run, sent.text("step"))
    _refuse_changed(run, step, sent.text("photo"))
    live = asked.house.live.find(sent.text("live"), run.id, asked.session.id)
    name = f"live-{run.side}-step-{step.number:02}"
    taken = live.take(step.dials, name)
    if not taken.photo.found:
        raise PictureError(
            f"live picture: {reason_words(taken.photo.reason)} when it was read as a photo; "
            "nothing was stored; hold the camera still on the whole cluster and take it again"
        )
    photo = _stored(asked, run, step, taken, name)
    after = run_sheet(asked.shop, run.id)
    where = f"{asked.at('/jobs', run.tag)}#{run.side}-step-{step.number}"
    left = after.steps_without_photo
    return asked.saved(
        where,
        step=step.number,
        photo=photo.id,
        frames=taken.frames,
        readings=_said(taken.photo),
        next=next((one for one in left if one > step.number), left[0] if left else None),
        version=job_sheet(asked.shop, run.tag).version,
    )


@router.post("/jobs/{tag}/run/{run_id}/live/set")
def write_set(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Write down where a needle that was set stands: intended and achieved turn, as work done."""
    run = _run_to_take(asked, tag, run_id)
    job = job_sheet(asked.shop, run.tag)
    family = load_version(asked.shop, run.family_version_id)
    targets = set_targets(asked.shop, run, family, job.max_speed)
    target = target_at(targets, run, sent.text("dial"), sent.text("step"))
    from_deg = direction_before(run, target, sent.text("from_deg"))
    live = asked.house.live.find(sent.text("live"), run.id, asked.session.id)
    taken = live.take((target.dial,), f"live-set-{target.dial}")
    found = was_set(family, run, target, from_deg, taken.photo)
    is_rehearsed = run.rehearsed is not None
    after = keep_pressed(asked.shop, job, found.line, asked.by, rehearsed=is_rehearsed)
    where = f"{asked.at('/jobs', run.tag)}#needle-{target.dial}"
    return asked.saved(where, **found.document(), line=found.line, version=after.version)


def _stored(
    asked: Asking, run: RunSheet, step: LiveStep, taken: "TakenFrames", name: str
) -> RunPhotoView:
    """Keep the frame as it came, with what was read."""
    file = taken.frame.file
    content = to_keep(taken.frame.pixels) if file is None else file
    name += ".png" if file is None else ".jpg"
    family = load_version(asked.shop, run.family_version_id)
    read = ReadPhoto(taken.photo, _overlay(family, taken, name))
    if step.photo is not None:
        return retake_photo(asked.shop, step.photo.id, content, name, asked.by, read=read)
    return add_run_photo(asked.shop, run.id, content, name, asked.by, step=step.number, read=read)


def _run_to_take(asked: Asking, tag: str, run_id: int) -> RunSheet:
    """A run of this job that still takes photos; raises RecordError if it is none."""
    refuse_other_job(asked.shop, tag, run_id)
    run = run_sheet(asked.shop, run_id)
    if run.set_aside_at is not None:
        raise RecordError(
            f"job {run.tag}, run {run.name}: is set aside and takes no more readings; start the "
            "run again on the job sheet"
        )
    if not run.told:
        raise RecordError(
            f"job {run.tag}, run {run.name}: does not say what was commanded; correct its steps "
            "on the job sheet first"
        )
    return run


def _steps(run: RunSheet) -> tuple[LiveStep, ...]:
    photos = {photo.step: photo for photo in run.photos}
    numbers = dict.fromkeys(row.step for row in run.told)
    found = []
    for number in numbers:
        rows = [row for row in run.told if row.step == number]
        told = {row.dial: words for row in rows if (words := told_words(row))}
        dials = tuple(row.dial for row in rows)
        found.append(LiveStep(number, rows[0].approach, told, dials, photos.get(number)))
    return tuple(found)


def _step(run: RunSheet, text: str) -> LiveStep:
    for step in _steps(run):
        if str(step.number) == text:
            return step
    raise RecordError(
        f"job {run.tag}, run {run.name}: has no step '{text[:20]}'; load the live place again"
    )


def _refuse_changed(run: RunSheet, step: LiveStep, seen: str) -> None:
    """The step must be as this window showed it: another may have taken it meanwhile."""
    now = "" if step.photo is None else str(step.photo.id)
    if seen != now:
        raise ConflictError(
            f"job {run.tag}, run {run.name}: step {step.number} was taken in another window "
            "meanwhile; nothing was stored here; load the live place again and look at it"
        )


def _overlay(family: Family, taken: "TakenFrames", name: str) -> bytes:
    """The frame with what was read drawn over it, as a photo's."""
    footer = (f"{name}   family {family.name}   mean of {taken.frames} frames", FOOTER)
    return overlay_jpeg(family, taken.photo, taken.frame.pixels, footer)


def _said(photo: PhotoReadings) -> Sequence[Mapping[str, Any]]:
    return [
        {"dial": one.dial, "words": reading_label(one), "read": one.status == "read"}
        for one in photo.readings
    ]
