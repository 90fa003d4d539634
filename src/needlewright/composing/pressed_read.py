"""A needle that was pressed, as an eye or the camera reads it, before it is written down."""

from math import sqrt

from needlewright.composing.job_press import DialSet, JobPress
from needlewright.composing.pressed_needles import PressedOnto
from needlewright.errors import RecordError
from needlewright.plans.pressing.aim import beside
from needlewright.plans.pressing.hand import FURTHEST_TIPS, tip_deg
from needlewright.readings.complete import eye_uncertainty


def read_by_eye(found: JobPress, one: DialSet, value: float, most: float | None) -> PressedOnto:
    """What an eye read, as a pressed needle.

    Parameters
    ----------
    found
        The plan.
    one
        Its dial, which has a place to press at.
    value
        What the needle shows, in the dial's unit.
    most
        How far that may be off at most, in the dial's unit: a rectangular distribution; None: as
        an eye reads its graduation.

    Returns
    -------
    PressedOnto
        With the uncertainty as an angle, by the scale's slope there.

    Raises
    ------
    RecordError
        If it is beyond the scale, or nowhere near its aim.

    Notes
    -----
    **Source** JCGM 100:2008, 4.3.7: limits of which nothing else is known are a / sqrt(3).
    """
    scale = one.dial.scale
    if not scale.values[0] <= value <= scale.values[-1]:
        raise RecordError(
            f"dial '{one.dial.id}': given {value:g} {one.dial.unit}; its scale goes from "
            f"{scale.values[0]:g} to {scale.values[-1]:g}; type what the needle shows"
        )
    if most is not None and most <= 0:
        raise RecordError(
            f"dial '{one.dial.id}': ± must be above 0, given {most:g}; or leave it empty"
        )
    if most is not None and most > (scale.values[-1] - scale.values[0]) / 2:
        raise RecordError(
            f"dial '{one.dial.id}': ± {most:g} {one.dial.unit} is wider than the scale itself; "
            "type how far off the reading may be at most, or leave it empty"
        )
    u_value = eye_uncertainty(one.dial) if most is None else most / sqrt(3.0)
    achieved = scale.angle_at(value)
    return _pressed(found, one, achieved, u_value / abs(scale.slope_at(achieved)))


def read_by_camera(found: JobPress, one: DialSet, angle_deg: float, u_deg: float) -> PressedOnto:
    """What the photo reader says, as a pressed needle.

    Parameters
    ----------
    found
        The plan.
    one
        Its dial, which has a place to press at.
    angle_deg
        Direction of the needle, whichever way round it is counted.
    u_deg
        Standard uncertainty (k = 1) of it.

    Returns
    -------
    PressedOnto
        On the branch of its aim.

    Raises
    ------
    RecordError
        If it is nowhere near its aim.
    """
    press = one.planned.press
    assert press is not None
    return _pressed(found, one, beside(angle_deg, press.reference.press_deg), u_deg)


def _pressed(found: JobPress, one: DialSet, achieved_deg: float, u_deg: float) -> PressedOnto:
    press = one.planned.press
    assert press is not None
    at = press.reference
    pressed = PressedOnto(
        one.dial.id,
        found.sheet.name,
        at.value,
        at.approach,
        at.press_deg,
        achieved_deg,
        u_deg,
        tip_deg(one.dial),
    )
    off_tips = abs(achieved_deg - at.press_deg) / pressed.tip_deg
    if off_tips > FURTHEST_TIPS:
        raise RecordError(
            f"job {found.job.tag}, dial '{one.dial.id}': its needle stands {off_tips:.0f} tip "
            "widths from where it was to be pressed; nothing was written down; check that the "
            "movement is told what the plan says, and press it first"
        )
    return pressed
