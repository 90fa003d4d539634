"""Drawings of the sums about lamps."""

from needlewright.papers.sums_curve import Curve, Marked, draw_curves
from needlewright.plans.sums.described.lamp_life import LAMP_LIFE
from needlewright.plans.sums.lamp_life import RATIO_LIMITS, LampAtVoltage, lamp_at
from needlewright.plans.sums.wording import number

POINTS = 41


def lamp_life(lamp: LampAtVoltage) -> str:
    """Light and life over the voltage."""
    low, high = (share * lamp.rated_v for share in RATIO_LIMITS)
    volts = [low + (high - low) * i / (POINTS - 1) for i in range(1, POINTS - 1)]
    lamps = [lamp_at(v, lamp.rated_v) for v in volts]

    def curve(title: str, name: str, top: tuple[float, float], logarithmic: bool) -> Curve:
        ranges = [getattr(one, name) for one in lamps]
        lower = tuple((v, r[0]) for v, r in zip(volts, ranges, strict=True))
        upper = tuple((v, r[1]) for v, r in zip(volts, ranges, strict=True))
        least, most = getattr(lamp, name)
        middle = tuple((v, (r[0] * r[1]) ** 0.5) for v, r in zip(volts, ranges, strict=True))
        at = (least * most) ** 0.5
        return Curve(
            title,
            f"voltage at the lamp, V; rated {lamp.rated_v:g}",
            (low, high),
            top,
            lines=(middle,),
            band=(lower, upper),
            marked=(Marked(lamp.volts, at, f"× {number(at)}", least, most),),
            logarithmic=logarithmic,
        )

    return draw_curves(
        (
            curve("Light, of the light at the rated voltage", "light", (0.4, 2.0), False),
            curve("Life, of the life at the rated voltage", "life", (0.05, 40.0), True),
        ),
        LAMP_LIFE.drawing,
    )
