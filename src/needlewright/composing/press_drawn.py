"""Where a needle is pressed, as a drawing."""

from needlewright.composing.job_press import DialSet
from needlewright.papers.press_strip import Landing, PressStrip, Room, press_svg
from needlewright.plans.pressing.hand import tip_deg
from needlewright.plans.pressing.press import Press
from needlewright.plans.pressing.reference import marks_of
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people

MOST_ROWS = 14
"""Of those that leave least room; more would be no drawing but a hatching."""


def press_drawing(one: DialSet) -> str:
    """The strip of one needle; empty where there is no plan.

    Parameters
    ----------
    one
        The dial with its plan; where its needle was pressed, at the value it was pressed at.

    Returns
    -------
    str
        An SVG document.
    """
    press = one.planned.press if one.landed is None else one.landed.press
    if press is None:
        return ""
    dial, at = one.dial, press.reference
    sense = dial.scale.sense
    landing = None
    if one.landed is not None:
        landing = Landing(one.landed.off_deg, COVERAGE_K * one.landed.u_deg)
    return press_svg(
        PressStrip(
            title=f"{dial.id}: press at {at.press_value:.4g} {unit_for_people(dial.unit)}",
            rooms=_rooms(press),
            marks=[
                (
                    sense * (dial.scale.angle_at(value) - at.press_deg),
                    f"{value:g}" if value in dial.scale.values else "",
                )
                for value in marks_of(dial)
            ],
            spread_deg=at.spread_deg,
            programme_deg=press.programme_rise_deg - press.rise_deg,
            not_low_deg=max(one.low_deg for one in press.low) - press.rise_deg
            if press.low
            else None,
            tip_deg=tip_deg(dial),
            landing=landing,
        )
    )


def _rooms(press: Press) -> list[Room]:
    """Row by row in the order of the check; of many, those that leave least."""
    windows = press.judged
    if len(windows) > MOST_ROWS:
        tightest = sorted(windows, key=lambda one: one.nearest(press.rise_deg))[:MOST_ROWS]
        windows = tuple(one for one in windows if one in tightest)
    return [
        Room(one.name, one.low_deg - press.rise_deg, one.high_deg - press.rise_deg)
        for one in windows
    ]
