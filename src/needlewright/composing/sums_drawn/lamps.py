"""Drawings of the sums about lamps."""

from typing import Final

from needlewright.papers.sums_circuit import HEIGHT, LedCircuit, draw_leds
from needlewright.papers.sums_curve import Curve, Limit, Marked, draw_curve, draw_curves
from needlewright.papers.sums_sheet import SumSheet
from needlewright.plans.sums.described.lamp_life import LAMP_LIFE
from needlewright.plans.sums.described.led_instead import LED_INSTEAD
from needlewright.plans.sums.lamp_life import RATIO_LIMITS, LampAtVoltage, lamp_at
from needlewright.plans.sums.led_instead import LedString
from needlewright.plans.sums.wording import number, with_unit
from needlewright.signals.preferred import TOLERANCE

POINTS: Final = 41
CURVE_PX: Final = 190.0


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


def led_instead(leds: LedString) -> str:
    """The circuit, and the current over the supply."""
    sheet = SumSheet(HEIGHT + (CURVE_PX if leds.lights else 0), LED_INSTEAD.drawing)
    left_v = leds.supply_v - leds.string_v
    row = "" if leds.count == 1 else f"{leds.count} × "
    draw_leds(
        sheet,
        LedCircuit(
            f"+{leds.supply_v:g} V",
            with_unit(leds.current_a * 1000, "mA") if leds.lights else "0 mA",
            (
                with_unit(leds.ohm, "ohm") if leds.lights else "none",
                with_unit(left_v, "V") if left_v > 0 else "nothing left",
            ),
            (
                f"{row}{leds.forward_v:g} V",
                f"{with_unit(leds.string_v, 'V')}{'' if leds.lights else ' needed: dark'}",
            ),
            leds.count,
            dark=not leds.lights,
        ),
    )
    if leds.lights:
        draw_curve(sheet, _current_curve(leds), HEIGHT)
    return sheet.svg()


def _current_curve(leds: LedString) -> Curve:
    """Current in mA from the lowest to the highest supply, with the resistor's tolerance."""
    first = min(leds.lowest_v, leds.string_v) - 0.5
    last = leds.highest_v + 0.5
    volts = [first + (last - first) * i / (POINTS - 1) for i in range(POINTS)]
    tolerance = TOLERANCE[leds.series]

    def currents(factor: float) -> tuple[tuple[float, float], ...]:
        ohm = leds.ohm * factor
        return tuple((v, 1000 * max(v - leds.string_v, 0.0) / ohm) for v in volts)

    wanted = 1000 * leds.wanted_a
    top = 1.15 * max(currents(1 - tolerance)[-1][1], wanted)
    limits = [Limit(wanted, f"wanted {with_unit(wanted, 'mA')}")]
    if leds.monitor is not None and 1000 * leds.monitor.least_a < 3 * top:
        least = 1000 * leds.monitor.least_a
        limits.append(Limit(least, f"lamp monitor {with_unit(least, 'mA')}"))
        top = max(top, 1.2 * least)
    return Curve(
        "Current of the LEDs, mA",
        "supply, V",
        (first, last),
        (0.0, top),
        lines=(currents(1.0),),
        band=(currents(1 + tolerance), currents(1 - tolerance)),
        limits=tuple(limits),
        marked=tuple(
            Marked(v, 1000 * a, with_unit(1000 * a, "mA"))
            for v, a in ((leds.lowest_v, leds.lowest_a), (leds.highest_v, leds.highest_a))
        ),
        height=CURVE_PX,
    )
