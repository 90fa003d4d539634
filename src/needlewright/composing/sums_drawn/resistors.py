"""Drawings of the sums about resistors."""

from typing import Final

from needlewright.papers.sums_circuit import HEIGHT, FilamentCircuit, draw_filament
from needlewright.papers.sums_curve import Curve, Limit, Marked, draw_curve, draw_curves
from needlewright.papers.sums_sheet import SumSheet
from needlewright.plans.sums.described.filament_drop import FILAMENT_DROP
from needlewright.plans.sums.described.resistor_power import RESISTOR_POWER
from needlewright.plans.sums.filament_drop import GOOD, FilamentDrop, filament_drop
from needlewright.plans.sums.resistor_power import ResistorHeat
from needlewright.plans.sums.wording import with_unit

POINTS: Final = 41
CURVE_PX: Final = 200.0


def resistor_power(heat: ResistorHeat) -> str:
    """The derating line with the load."""
    first = min(0.0, heat.around_c)
    last = max(heat.none_at_c, heat.around_c) + 10.0
    line = (
        (first, heat.rated_w),
        (heat.full_to_c, heat.rated_w),
        (heat.none_at_c, 0.0),
        (last, 0.0),
    )
    top = 1.2 * max(heat.rated_w, min(heat.heat_w, 3 * heat.rated_w))
    curve = Curve(
        "What it may turn into heat, W",
        "temperature around it, °C",
        (first, last),
        (0.0, top),
        lines=(line,),
        band=(tuple((x, 0.0) for x, _ in line), line),
        marked=(
            Marked(
                heat.around_c,
                heat.heat_w,
                with_unit(heat.heat_w, "W"),
                bad=heat.heat_w > heat.allowed_w,
            ),
        ),
        height=CURVE_PX,
    )
    return draw_curves((curve,), RESISTOR_POWER.drawing)


def filament_drop_drawing(drop: FilamentDrop) -> str:
    """The circuit, and the filament's voltage over the crack."""
    sheet = SumSheet(HEIGHT + CURVE_PX, FILAMENT_DROP.drawing)
    low, high = drop.volts
    draw_filament(
        sheet,
        FilamentCircuit(
            f"+{drop.supply_v:g} V",
            with_unit(drop.each_ohm, "ohm"),
            drop.count,
            f"crack {with_unit(drop.crack_ohm, 'ohm')}" if drop.crack_ohm else "",
            drop.crack_in == "all",
            (
                f"{low:.2f} to {high:.2f} V",
                f"{1000 * drop.amps[0]:.1f} to {1000 * drop.amps[1]:.1f} mA",
            ),
        ),
    )
    draw_curve(sheet, _crack_curve(drop), HEIGHT)
    return sheet.svg()


def _crack_curve(drop: FilamentDrop) -> Curve:
    """Share of the filament's voltage, in %, over what the crack adds, with its range."""
    last = min(max(1.6 * drop.crack_ohm, 2.0 * drop.each_ohm), 12.0 * drop.each_ohm)
    cracks = [last * i / (POINTS - 1) for i in range(POINTS)]
    drops = [
        filament_drop(
            drop.supply_v,
            drop.rated_v,
            drop.rated_a,
            drop.count,
            each_ohm=drop.each_ohm,
            crack_ohm=crack,
            crack_in=drop.crack_in,
        )
        for crack in cracks
    ]
    lower = tuple((r, 100 * one.share[0]) for r, one in zip(cracks, drops, strict=True))
    upper = tuple((r, 100 * one.share[1]) for r, one in zip(cracks, drops, strict=True))
    least, most = (100 * share for share in GOOD)
    ends = [y for _, y in (*lower, *upper)]
    low, high = 100 * drop.share[0], 100 * drop.share[1]
    bad = high < least or low > most
    beyond = f" at {with_unit(drop.crack_ohm, 'ohm')}" if drop.crack_ohm > last else ""
    words = f"{(low + high) / 2:.1f} %{beyond}"
    return Curve(
        "Voltage of the filament, % of the rated",
        "the crack adds, Ω",
        (0.0, last),
        (max(min(*ends, low, least) - 5.0, 0.0), max(*ends, high, most) + 8.0),
        band=(lower, upper),
        lines=(tuple((r, (a + b) / 2) for (r, a), (_, b) in zip(lower, upper, strict=True)),),
        limits=(Limit(least, f"{least:g} %"), Limit(most, f"{most:g} %")),
        marked=(Marked(min(drop.crack_ohm, last), (low + high) / 2, words, low, high, bad=bad),),
        height=CURVE_PX,
    )
