"""Pressing needles under the live picture: where the job's own run of its new movements says."""

from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.job_press import DialSet, JobPress, job_press, landed_words
from needlewright.composing.pressed_needles import PressedOnto, keep_pressed, pressed_onto_line
from needlewright.composing.pressed_read import read_by_camera
from needlewright.errors import PictureError, RecordError
from needlewright.families.model import Dial
from needlewright.findings.wording import share_words
from needlewright.papers.wording import number, plus_minus, unit_words
from needlewright.plans.pressing.aim import INSIDE_TIPS, is_inside
from needlewright.plans.pressing.hand import tip_deg
from needlewright.plans.pressing.landed import Landed, left_deg
from needlewright.plans.pressing.press import Press
from needlewright.readings.model import PhotoReadings
from needlewright.readings.steady import HOLD_S
from needlewright.records.runs import refuse_other_job, run_sheet
from needlewright.rules.decision import COVERAGE_K
from needlewright.signals.words import BENCH_CAUTION
from needlewright.units import unit_for_people
from needlewright.web.bench_forms import BY_HAND, REHEARSAL, BenchOffer, offers
from needlewright.web.drive_session import ALONE_S
from needlewright.web.live import CAMERA_HERE
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent
from needlewright.web.press import refuse_rehearsed

WAYS: Final = {"up": "from below", "down": "from above"}
NOT_SAID: Final = (
    "written down; what the check will give cannot be worked out: its run was changed meanwhile; "
    "look at the plan"
)
router = APIRouter()


@dataclass(frozen=True, slots=True)
class PressTarget:
    """Where a needle is pressed, as the live place draws it."""

    number: int
    """In turn, from 1."""
    one: DialSet

    @property
    def dial(self) -> str:
        """Id of the dial."""
        return self.one.dial.id

    @property
    def told(self) -> str:
        """What its movement is told, and from which side it comes there."""
        at = self._press.reference
        return f"{at.value:g} {unit_words(self._press.unit)}, {WAYS[at.approach]}"

    @property
    def is_open(self) -> bool:
        """Whether it is still to be pressed, or once more."""
        return self.one.landed is None or self.one.landed.advice != "stays"

    @property
    def _press(self) -> Press:
        press = self.one.planned.press
        assert press is not None
        return press

    def document(self) -> dict[str, Any]:
        """For the page's script."""
        width = tip_deg(self.one.dial)
        return {
            "step": self.number,
            "dial": self.dial,
            "told": self.told,
            "target_deg": round(self._press.reference.press_deg, 4),
            "tip_deg": round(width, 4),
            "inside_deg": round(INSIDE_TIPS * width, 4),
            "by_turn": False,
            "by_press": True,
            "shows": f"{self._press.reference.press_value:.4g} {unit_words(self._press.unit)}",
            "chance": share_words(self._press.pass_probability),
        }


def press_targets(found: JobPress) -> tuple[PressTarget, ...]:
    """Every needle of a plan that has a place, in the family's order.

    Parameters
    ----------
    found
        The plan.

    Returns
    -------
    tuple of PressTarget
        Those pressed already stand among them, to be pressed again.
    """
    placed = [
        one
        for one in found.dials
        if one.planned.press is not None and one.planned.press.verdict == "press"
    ]
    return tuple(PressTarget(number, one) for number, one in enumerate(placed, start=1))


@router.get("/jobs/{tag}/run/{run_id}/live/press", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag, run_id: int, step: int | None = None) -> Response:
    """The live place with the press plan's targets, needle after needle."""
    found = _plan(asked, tag, run_id)
    targets = press_targets(found)
    if not targets:
        raise RecordError(
            f"job {found.job.tag}, run {found.sheet.name}: no needle has a place to be pressed at; "
            "look at the plan, it says why"
        )
    waiting = [one.number for one in targets if one.is_open]
    numbers = [one.number for one in targets]
    at = step if step in numbers else (waiting or numbers)[0]
    here = ("/jobs", found.job.tag, "run", run_id, "live")
    page = asked.page(
        "live.html",
        job=found.job,
        run=found.sheet,
        steps=(),
        targets=targets,
        benches=_benches(asked, is_rehearsed=found.sheet.rehearsed is not None),
        caution=BENCH_CAUTION,
        alone_s=round(ALONE_S),
        at_step=at,
        family=found.family,
        cameras=asked.house.live.cameras(),
        unit_words=unit_words,
        live={
            "line": asked.at(*here, "line"),
            "take": None,
            "drive": {"at": asked.at(*here, "drive")},
            "set": asked.at(*here, "press"),
            "sets": [one.document() for one in targets],
            "hold_s": HOLD_S,
            "step": at,
            "steps": [
                {
                    "number": one.number,
                    "dials": [one.dial],
                    "told": {one.dial: one.told},
                    "photo": None if one.is_open else one.number,
                }
                for one in targets
            ],
        },
    )
    page.headers["Permissions-Policy"] = CAMERA_HERE
    return page


@router.post("/jobs/{tag}/run/{run_id}/live/press")
def write_press(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Write down where a needle that was pressed stands, and say what the check is now to give."""
    found = _plan(asked, tag, run_id)
    refuse_rehearsed(found)
    target = _target(found, sent.text("dial"))
    live = asked.house.live.find(sent.text("live"), run_id, asked.session.id)
    taken = live.take((target.dial,), f"live-press-{target.dial}")
    one = _as_read(found, target, taken.photo)
    line = pressed_onto_line(one, unit_for_people(target.one.dial.unit))
    job = found.job
    is_rehearsed = found.sheet.rehearsed is not None
    after = keep_pressed(asked.shop, job, line, asked.by, rehearsed=is_rehearsed)
    now = job_press(asked.shop, job.tag, name=found.sheet.name)
    came = next(own.landed for own in now.dials if own.dial.id == target.dial)
    left = [own.number for own in press_targets(now) if own.is_open]
    return asked.saved(
        f"{asked.at('/jobs', job.tag, 'needle-set')}#as-set",
        dial=target.dial,
        intended=f"{number(one.intended_deg, 1, signed=True)}°",
        achieved=f"{number(one.achieved_deg, 1, signed=True)}°",
        **_came_to(came, target.one.dial),
        next=next((number for number in left if number > target.number), left[0] if left else None),
        open=left,
        line=line,
        version=after.version,
    )


def _came_to(came: Landed | None, dial: Dial) -> dict[str, Any]:
    """What came of it, for the page's script; None: its run cannot be planned there any more."""
    if came is None:
        return {"left": "?", "inside": False, "low": False, "says": NOT_SAID}
    return {
        "left": f"{plus_minus(left_deg(came, dial), COVERAGE_K * came.u_deg, 1, signed=True)}°",
        "inside": is_inside(came.off_deg, tip_deg(dial)),
        "low": came.advice == "again_low",
        "says": landed_words(came),
    }


def _benches(asked: Asking, *, is_rehearsed: bool) -> list[BenchOffer]:
    """Those that can drive: with devices, or the rehearsal for a rehearsed run."""
    return [
        one
        for one in offers(asked.shop)
        if one.value != BY_HAND and (one.value == REHEARSAL) == is_rehearsed
    ]


def _plan(asked: Asking, tag: str, run_id: int) -> JobPress:
    refuse_other_job(asked.shop, tag, run_id)
    run = run_sheet(asked.shop, run_id)
    return job_press(asked.shop, run.tag, name=run.name)


def _target(found: JobPress, dial: str) -> PressTarget:
    for one in press_targets(found):
        if one.dial == dial:
            return one
    raise RecordError(
        f"job {found.job.tag}, run {found.sheet.name}: dial '{dial[:40]}' has no place to press "
        "its needle at; choose one of the plan"
    )


def _as_read(found: JobPress, target: PressTarget, photo: PhotoReadings) -> PressedOnto:
    """What the photo reader says, as a pressed needle; refused where that cannot be."""
    reading = next((one for one in photo.readings if one.dial == target.dial), None)
    if reading is None or reading.angle_deg is None:
        raise PictureError(
            f"live picture, dial '{target.dial}': the needle was not read; nothing was written "
            "down; hold the camera still on it and write it down again"
        )
    return read_by_camera(found, target.one, reading.angle_deg, reading.u_angle_deg or 0.0)
