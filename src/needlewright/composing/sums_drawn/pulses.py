"""The drawing of the sum about pulses."""

from typing import Final

from needlewright.papers.sums_curve import Curve, Marked, draw_curves
from needlewright.plans.sums.described.pulse_constant import PULSE_CONSTANT
from needlewright.plans.sums.pulse_constant import PulseConstant
from needlewright.plans.sums.wording import number
from needlewright.rules.un_r39 import ALLOWANCE_KMH, SHARE_HIGH

ROOM: Final = 1.25
HEIGHT: Final = 250.0


def pulse_constant(found: PulseConstant) -> str:
    """What is shown above the true speed, and what is allowed."""
    last = 1.15 * max(one.true_kmh for one in found.held)
    over = found.shown_share - 1
    ends = ((0.0, 0.0), (last, over * last))
    most = SHARE_HIGH * last + ALLOWANCE_KMH
    spread = max(2 * one.u_kmh for one in found.held)
    low = min(0.0, over * last) - spread - 2
    high = max(most, over * last + spread) * ROOM
    marked = tuple(
        Marked(
            one.true_kmh,
            one.shown_kmh - one.true_kmh,
            f"{one.shown_kmh - one.true_kmh:+.1f}".replace("-", "−"),
            one.shown_kmh - one.true_kmh - 2 * one.u_kmh,
            one.shown_kmh - one.true_kmh + 2 * one.u_kmh,
            bad=not one.decision.accepted,
        )
        for one in found.held
    )
    curve = Curve(
        "Shown above the true speed, km/h",
        f"true speed, km/h; set to {number(found.set_a_km, 4)} on a kilometre",
        (0.0, last),
        (low, high),
        lines=(ends,),
        band=(((0.0, 0.0), (last, 0.0)), ((0.0, ALLOWANCE_KMH), (last, most))),
        marked=marked,
        height=HEIGHT,
    )
    return draw_curves((curve,), PULSE_CONSTANT.drawing)
