"""Setting needles under the live picture: where each must point, and what came of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from needlewright.composing.pressed_needles import pressed_line
from needlewright.errors import NeedlewrightError, PictureError, RecordError, ScaleError
from needlewright.families.model import Dial, Family
from needlewright.papers.wording import number, plus_minus
from needlewright.plans.needle_set import NeedleSet
from needlewright.plans.pressing.aim import INSIDE_TIPS, WHOLE_TURN_DEG, beside
from needlewright.plans.pressing.hand import FURTHEST_TIPS, PressedNeedle, tip_deg
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.records.opening import Shop
from needlewright.records.views import RunSheet, ToldView
from needlewright.rules.decision import COVERAGE_K
from needlewright.web.sheet_measured import needle_sets
from needlewright.web.sheet_run_view import told_words


@dataclass(frozen=True, slots=True)
class SetTarget:
    """Where a needle must point while its dial is told something."""

    step: int
    dial: str
    told: str
    """In words."""
    target_deg: float
    """On the scale's branch."""
    tip_deg: float
    inside_deg: float
    """So far on either side counts as there."""
    by_turn: bool
    """Whether the run's own needle set says so; else the dial's programme does."""

    def document(self) -> dict[str, Any]:
        """For the page's script."""
        return {
            "step": self.step,
            "dial": self.dial,
            "told": self.told,
            "target_deg": round(self.target_deg, 4),
            "tip_deg": round(self.tip_deg, 4),
            "inside_deg": round(self.inside_deg, 4),
            "by_turn": self.by_turn,
        }


def set_targets(
    shop: Shop, run: RunSheet, family: Family, max_speed: float | None
) -> tuple[SetTarget, ...]:
    """Where every needle must point at every step that tells its dial a value.

    Parameters
    ----------
    shop
        The shop.
    run
        As it now is.
    family
        The version it is read by.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    tuple of SetTarget
        In the run's order. Where the run was read and a needle is to be turned, it is its place in
        that step and the turn; else what the programme of the dial says.
    """
    turns = _turns(shop, run, max_speed)
    seen = {
        (photo.step, one.dial): one.angle_deg
        for photo in run.photos
        if photo.rejected_at is None
        for one in photo.readings
        if one.rejected_at is None
    }
    found = []
    for row in run.told:
        dial = family.dial(row.dial)
        if dial is None or row.commanded is None:
            continue
        target = _target(dial, row, turns.get(row.dial), seen.get((row.step, row.dial)))
        if target is not None:
            found.append(target)
    return tuple(found)


def _turns(shop: Shop, run: RunSheet, max_speed: float | None) -> Mapping[str, NeedleSet]:
    """What the run says of its needles; nothing while it has no reading."""
    try:
        found = needle_sets(shop, run, max_speed)
    except NeedlewrightError:
        return {}
    return {dial: one for dial, one in found.items() if one.verdict == "turn"}


def _target(
    dial: Dial, row: ToldView, turn: NeedleSet | None, seen_deg: float | None
) -> SetTarget | None:
    by_turn = turn is not None and turn.turn_deg is not None and seen_deg is not None
    if turn is not None and turn.turn_deg is not None and seen_deg is not None:
        target_deg = dial.scale.on_branch(seen_deg) + turn.turn_deg
    else:
        try:
            target_deg = dial.programme_angle_deg(row.commanded or 0.0)
        except ScaleError:
            return None
    width = tip_deg(dial)
    return SetTarget(
        row.step, dial.id, told_words(row), target_deg, width, INSIDE_TIPS * width, by_turn
    )


def target_at(targets: tuple[SetTarget, ...], run: RunSheet, dial: str, step: str) -> SetTarget:
    """The target of a dial at a step; raises RecordError where there is none."""
    for one in targets:
        if one.dial == dial and str(one.step) == step:
            return one
    raise RecordError(
        f"job {run.tag}, run {run.name}: step '{step[:20]}' tells dial '{dial[:40]}' nothing to "
        "set its needle by; choose a step that tells it a value"
    )


@dataclass(frozen=True, slots=True)
class NeedleWasSet:
    """What came of setting one needle."""

    needle: PressedNeedle
    target: SetTarget
    final_deg: float
    u_final_deg: float
    reads_low: bool
    """A speedometer that shows less than it is told."""

    @property
    def line(self) -> str:
        """As work done on the job."""
        return pressed_line(self.needle, self.target.told)

    @property
    def left_deg(self) -> float:
        """What is left to the target, positive clockwise."""
        return self.target.target_deg - self.final_deg

    def document(self) -> dict[str, Any]:
        """For the page's script."""
        return {
            "dial": self.needle.dial,
            "intended": f"{number(self.needle.intended_deg, 1, signed=True)}°",
            "achieved": f"{number(self.needle.achieved_deg, 1, signed=True)}°",
            "left": f"{plus_minus(self.left_deg, COVERAGE_K * self.u_final_deg, 1, signed=True)}°",
            "inside": abs(self.left_deg) <= self.target.inside_deg,
            "low": self.reads_low,
        }


def was_set(
    family: Family, run: RunSheet, target: SetTarget, from_deg: float, photo: PhotoReadings
) -> NeedleWasSet:
    """Compare where a needle stands with where it was to be set.

    Parameters
    ----------
    family
        The cluster design.
    run
        Whose step tells the dial.
    target
        Where it must point.
    from_deg
        Its direction before it was touched.
    photo
        What the photo reader says of the picture that was taken.

    Returns
    -------
    NeedleWasSet
        Intended and achieved turn.

    Raises
    ------
    RecordError
        If it stands nowhere near.
    PictureError
        If the needle was not read.
    """
    dial = family.dial(target.dial)
    assert dial is not None
    reading = next((one for one in photo.readings if one.dial == target.dial), None)
    stands_deg = beside(_read_deg(target.dial, reading), target.target_deg)
    start_deg = beside(from_deg, target.target_deg)
    needle = PressedNeedle(
        target.dial, target.target_deg - start_deg, stands_deg - start_deg, target.tip_deg
    )
    _refuse_far(run, needle)
    told = next(
        row.commanded for row in run.told if (row.step, row.dial) == (target.step, target.dial)
    )
    reads_low = False
    if dial.is_speedometer and told is not None and dial.scale.reaches_angle(stands_deg):
        reads_low = dial.scale.value_at(stands_deg) < told
    u_deg = 0.0 if reading is None else reading.u_angle_deg or 0.0
    return NeedleWasSet(needle, target, stands_deg, u_deg, reads_low)


def _read_deg(dial: str, reading: Reading | None) -> float:
    if reading is None or reading.angle_deg is None:
        raise PictureError(
            f"live picture, dial '{dial}': the needle was not read; nothing was written down; hold "
            "the camera still on it and write it down again"
        )
    return reading.angle_deg


def direction_before(run: RunSheet, target: SetTarget, text: str) -> float:
    """Where a needle stood before it was touched, as the page sent it; RecordError if nowhere."""
    try:
        from_deg = float(text)
    except ValueError:
        from_deg = float("nan")
    if not isfinite(from_deg) or abs(from_deg) > 10 * WHOLE_TURN_DEG:
        raise RecordError(
            f"job {run.tag}, run {run.name}, dial '{target.dial}': where its needle stood before "
            f"is no direction ('{text[:20]}'); choose the needle again on the page"
        )
    return from_deg


def _refuse_far(run: RunSheet, needle: PressedNeedle) -> None:
    if abs(needle.off_tips) > FURTHEST_TIPS:
        raise RecordError(
            f"job {run.tag}, run {run.name}, dial '{needle.dial}': its needle stands "
            f"{abs(needle.off_tips):.0f} tip widths from where it was to be set; nothing was "
            "written down; set it first, and check that the dial is told what the step says"
        )
