"""Drawings of the sums about senders."""

from typing import Final

from needlewright.papers.sums_curve import Curve, Marked, draw_curve, draw_curves
from needlewright.papers.sums_sheet import SMALL_PX, SumSheet
from needlewright.plans.sums.described.sender_on_gauge import SENDER_ON_GAUGE, SenderOnGauge
from needlewright.plans.sums.described.sender_substitute import (
    SENDER_SUBSTITUTE,
    resistor_words,
    shown_words,
)
from needlewright.plans.sums.described.thermistor import THERMISTOR
from needlewright.plans.sums.sender_substitute import SenderSubstitute
from needlewright.plans.sums.thermistor import ThermistorFit
from needlewright.plans.sums.wording import number, with_unit

POINTS: Final = 41
HEIGHT: Final = 240.0
ROW_PX: Final = 18.0


def sender_substitute(found: SenderSubstitute) -> str:
    """The gauge over its resistance, and a row of words for every point."""
    ohms, values = found.gauge.levels, found.gauge.values
    made = [one.ohm for one in found.points]
    first, last = min(*ohms, *made), max(*ohms, *made)
    room = 0.06 * (last - first)
    rise = found.span
    sheet = SumSheet(HEIGHT + ROW_PX * len(found.points) + 16, SENDER_SUBSTITUTE.drawing)
    draw_curve(
        sheet,
        Curve(
            "What the gauge shows",
            "resistance, Ω",
            (first - room, last + room),
            (values[0] - 0.15 * rise, values[-1] + 0.2 * rise),
            lines=(tuple(sorted(zip(ohms, values, strict=True))),),
            marked=tuple(
                Marked(one.ohm, one.shows, str(i), one.least, one.most)
                for i, one in enumerate(found.points, 1)
            ),
            height=HEIGHT,
        ),
    )
    y = HEIGHT + 10
    for i, one in enumerate(found.points, 1):
        sheet.words(18, y, str(i), bold=True, size=SMALL_PX)
        sheet.words(34, y, f"at {one.value:g}: {resistor_words(one)}", size=SMALL_PX)
        shows = f"shows {shown_words(one.least, found)} to {shown_words(one.most, found)}"
        sheet.words(346, y, shows, anchor="end", size=SMALL_PX)
        y += ROW_PX
    return sheet.svg()


def sender_on_gauge(on: SenderOnGauge) -> str:
    """What is shown over what is there."""
    shown = [value for _, value in on.shown]
    low, high = min(0.0, *shown), max(100.0, *shown)
    room = 0.1 * (high - low)
    curve = Curve(
        "Shown, % of full",
        "in the tank, % of full; dashed: a gauge that is right",
        (0.0, 100.0),
        (low - room, high + room),
        lines=(on.shown,),
        dashed=(((0.0, 0.0), (100.0, 100.0)),),
        marked=tuple(
            Marked(there, value, f"{number(value)} %", bad=abs(value - there) > on.allowed)
            for there, value in (on.shown[0], on.shown[2], on.shown[-1])
        ),
        height=HEIGHT,
    )
    return draw_curves((curve,), SENDER_ON_GAUGE.drawing)


def thermistor(fit: ThermistorFit) -> str:
    """The equation with the table's rows and the substitute."""
    first = min(fit.table[0][0], fit.at_c, fit.substitute_c) - 3
    last = max(fit.table[-1][0], fit.at_c, fit.substitute_c) + 3
    temps = [first + (last - first) * i / (POINTS - 1) for i in range(POINTS)]
    line = tuple((t, fit.equation.ohm_at(t)) for t in temps)
    ohms = [r for _, r in (*line, *fit.table)]
    rows = tuple(Marked(t, r, "") for t, r in fit.table)
    words = with_unit(fit.substitute.ohm, "ohm", 4)
    curve = Curve(
        "Resistance, Ω",
        "temperature, °C; dots: rows of the table",
        (first, last),
        (min(ohms) / 1.3, max(ohms) * 1.5),
        lines=(line,),
        marked=(*rows, Marked(fit.substitute_c, fit.substitute.ohm, words)),
        logarithmic=True,
        height=HEIGHT,
    )
    return draw_curves((curve,), THERMISTOR.drawing)
