"""A live look in words and numbers, as the page's script shows it."""

from typing import TYPE_CHECKING, Any

from needlewright.papers.figures import decimals_for, with_expanded
from needlewright.papers.wording import plus_minus
from needlewright.readings.flags import FLAGS, REASONS
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people

if TYPE_CHECKING:
    from needlewright.readings.live import LiveDial, LiveLook


def look_document(number: int, look: "LiveLook", size_px: tuple[int, int]) -> dict[str, Any]:
    """One frame's answer.

    Parameters
    ----------
    number
        Of the frame.
    look
        What was seen.
    size_px
        Width and height of the frame, in which lines are given.

    Returns
    -------
    dict
        For JSON; a dial that is not read has no number, and says why.
    """
    return {
        "n": number,
        "t_s": look.t_s,
        "found": look.found,
        "reason": _reason(look.reason),
        "shaken": look.shaken,
        "size": list(size_px),
        "dials": [_dial(one) for one in look.dials],
    }


def value_words(one: "LiveDial") -> str:
    """A value with its expanded uncertainty, without its unit; empty where there is none."""
    if one.value is None:
        return ""
    expanded = None if one.u_value is None else COVERAGE_K * one.u_value
    whole = with_expanded(one.value, expanded, one.unit)
    return whole.removesuffix(f" {unit_for_people(one.unit)}").replace("-", "−")


def angle_words(one: "LiveDial") -> str:
    """A direction with its expanded uncertainty; empty where there is none."""
    if one.angle_deg is None or not one.u_angle_deg:
        return ""
    expanded = COVERAGE_K * one.u_angle_deg
    return f"{plus_minus(one.angle_deg, expanded, min(decimals_for(expanded), 3))}°"


def _dial(one: "LiveDial") -> dict[str, Any]:
    return {
        "dial": one.dial,
        "state": one.state,
        "still_s": round(one.still_s, 3),
        "angle_deg": one.angle_deg,
        "value": one.value,
        "shown": value_words(one),
        "direction": angle_words(one),
        "flags": [FLAGS[flag].short for flag in one.flags if flag in FLAGS],
        "reason": _reason(one.reason),
        "line": None if one.line_px is None else [list(end) for end in one.line_px],
        "wheel": None if one.wheel_px is None else [list(tip) for tip in one.wheel_px],
    }


def _reason(code: str | None) -> dict[str, str] | None:
    if code is None:
        return None
    word = REASONS.get(code)
    return {"code": code, "short": word.short if word else code.replace("_", " ")}
