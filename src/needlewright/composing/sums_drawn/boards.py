"""Drawings of the sums about coils and boards."""

from typing import Final

from needlewright.papers.sums_band import Band, draw_band
from needlewright.papers.sums_curve import Curve, Limit, Marked, draw_curve
from needlewright.papers.sums_section import HEIGHT, draw_sections
from needlewright.papers.sums_sheet import SumSheet
from needlewright.plans.sums.coil_resistance import CoilResistance
from needlewright.plans.sums.described.coil_resistance import COIL_RESISTANCE
from needlewright.plans.sums.described.trace import TRACE, rise_words
from needlewright.plans.sums.trace import MIL_MM, RISE_LIMITS_K, Trace, trace_current, trace_rise
from needlewright.plans.sums.wording import number, with_unit

POINTS: Final = 41
CURVE_PX: Final = 190.0


def coil_resistance(coil: CoilResistance) -> str:
    """The resistance on its line."""
    band = Band(
        "Ω",
        (coil.lower_ohm, coil.upper_ohm),
        (coil.lower_ohm + coil.upper_ohm) / 2,
        coil.measured_ohm,
        f"as read, {coil.at_c:g} °C",
        coil.ohm,
        coil.expanded_ohm,
        f"at 20 °C: {number(coil.ohm, 4)} ± {with_unit(coil.expanded_ohm, 'ohm', 2)}",
        bool(coil.decision.accepted),
    )
    return draw_band(band, COIL_RESISTANCE.drawing)


def broken_trace(trace: Trace) -> str:
    """The two sections, and the rise over the current."""
    sheet = SumSheet(HEIGHT + CURVE_PX, TRACE.drawing)
    wire = trace.wire
    words = "none" if wire is None else f"gauge {wire.gauge}, {wire.diameter_mm:.2f} mm"
    diameter = None if wire is None else wire.diameter_mm
    draw_sections(sheet, trace.width_mm, trace.copper_um / 1000, diameter, words)
    draw_curve(sheet, _rise_curve(trace), HEIGHT)
    return sheet.svg()


def _rise_curve(trace: Trace) -> Curve:
    """The rise over the current, as far as the formula is good for."""
    area = trace.area_mm2 / MIL_MM**2
    last = 1.4 * max(trace.amps, trace.carries_a)
    known = min(last, trace_current(RISE_LIMITS_K[1], area, trace.side))
    amps = [known * i / (POINTS - 1) for i in range(1, POINTS)]
    line = ((0.0, 0.0), *((a, trace_rise(a, area, trace.side)) for a in amps))
    limits: tuple[Limit, ...] = (Limit(trace.allowed_k, f"may be {trace.allowed_k:g} K"),)
    marked: tuple[Marked, ...] = ()
    if trace.rise_k is None:
        words = f"{trace.amps:g} A: {rise_words(trace)}"
        limits += (Limit(trace.amps, words, upright=True),)
    else:
        words = rise_words(trace)
        marked = (Marked(trace.amps, trace.rise_k, words, bad=trace.is_too_warm),)
    top = RISE_LIMITS_K[1] if trace.rise_k is None else trace.rise_k
    return Curve(
        "The track is warmer than the board by, K",
        "current, A",
        (0.0, last),
        (0.0, 1.5 * max(trace.allowed_k, top)),
        lines=(line,),
        limits=limits,
        marked=marked,
        height=CURVE_PX,
    )
