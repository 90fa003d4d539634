"""The dropping resistors of a display's filament: what is asked and told."""

from typing import Final, cast

from needlewright.plans.sums.filament_drop import (
    FILAMENT_EXPONENT,
    FILAMENT_K,
    GOOD,
    WORK_FUNCTION_EV,
    Crack,
    FilamentDrop,
    filament_drop,
)
from needlewright.plans.sums.model import (
    HIGH_VOLTAGE,
    SUPPLY_OFF,
    Amount,
    Choice,
    Figure,
    Given,
    Judged,
    Step,
    Sum,
    Told,
)
from needlewright.plans.sums.wording import number, with_unit


def _work(given: Given) -> FilamentDrop:
    return filament_drop(
        given.number("supply"),
        given.number("filament-voltage"),
        given.number("filament-current") / 1000,
        round(given.number("count")),
        each_ohm=given.maybe("resistor"),
        crack_ohm=given.number("crack"),
        crack_in=cast(Crack, given.word("crack-in")),
    )


def _told(drop: FilamentDrop) -> Told:
    low, high = drop.share
    figures = (
        _ranged("share", "Voltage at the filament, of its rated one", (100 * low, 100 * high), "%"),
        _ranged("filament_v", "Voltage at the filament", drop.volts, "V"),
        _ranged("filament_ma", "Its current", _scaled(drop.amps, 1000), "mA"),
        _ranged("power", "Its power, of the rated one", _scaled(drop.power, 100), "%"),
        Figure(
            "brightness",
            "Brightness of the display, of what it should be",
            None,
            "%",
            100 * drop.emission,
            100.0,
            2,
        ),
        Figure("wanted_ohm", "Each resistor should have", drop.wanted_ohm, "ohm"),
        Figure("each_ohm", "Each has", drop.each_ohm, "ohm"),
        _ranged("sound", "Without a crack, of its rated voltage", _scaled(drop.sound, 100), "%"),
        _ranged("resistor_w", "Heat in the hottest resistor", drop.resistor_w, "W"),
        _ranged("crack_w", "Heat in the crack", drop.crack_w, "W"),
    )
    return Told(figures, _steps(drop), (_judged(drop),), NOTES)


NOTES: Final = (
    "A crack warms itself, opens further as it warms, and lets the display fade after some "
    "minutes: measure it warm, and reflow every joint of these resistors.",
    "The brightness is between the two: the lower where the display uses all that its cathode "
    "gives, which an aged one does.",
)


def _ranged(name: str, words: str, range_: tuple[float, float], unit: str) -> Figure:
    low, high = range_
    return Figure(name, words, (low + high) / 2, unit, low, high)


def _scaled(range_: tuple[float, float], factor: float) -> tuple[float, float]:
    return range_[0] * factor, range_[1] * factor


def _judged(drop: FilamentDrop) -> Judged:
    low, high = drop.share
    least, most = GOOD
    if high < least:
        return Judged(
            "bad",
            f"The filament gets at most {number(100 * high)} % of its voltage: it is underheated, "
            "the display dims and its cathode wears.",
        )
    if low > most:
        return Judged(
            "bad",
            f"The filament gets at least {number(100 * low)} % of its voltage: it is overheated "
            "and lives less long; take larger resistors.",
        )
    if low < least or high > most:
        return Judged(
            "none",
            f"It may be within {100 * least:g} to {100 * most:g} % of its voltage and may not: "
            "measure at the filament.",
        )
    return Judged("good", f"The filament is within {100 * least:g} to {100 * most:g} %.")


def _steps(drop: FilamentDrop) -> tuple[Step, ...]:
    first, second = FILAMENT_EXPONENT
    where = (
        "R / n + r" if drop.crack_in == "all" else "1 / ((n − 1) / R + 1 / (R + r)), r at one of n"
    )
    return (
        Step(
            "Each resistor should have",
            "R = n (U − U₀) / I₀",
            f"{drop.count} × ({drop.supply_v:g} − {drop.rated_v:g}) / {drop.rated_a:g} = "
            f"{with_unit(drop.wanted_ohm, 'ohm')}",
        ),
        Step(
            "Between supply and filament, with the crack",
            where,
            f"R = {with_unit(drop.each_ohm, 'ohm')}, n = {drop.count}, r = "
            f"{with_unit(drop.crack_ohm, 'ohm')}: {with_unit(drop.drop_ohm, 'ohm')}",
        ),
        Step(
            "Voltage at the filament",
            f"V + R I₀ (V / U₀)^m = U, m from {first:g} to {second:g}",
            f"V + {number(drop.drop_ohm)} × {drop.rated_a:g} × (V / {drop.rated_v:g})^m = "
            f"{drop.supply_v:g}: V = {number(drop.volts[0])} to {number(drop.volts[1])} V",
        ),
        Step(
            "What the cathode can emit",
            "√p exp(W / (k T) (1 − p^−0.25)), p the share of power",
            f"p = {number(drop.power[0])}, W = {WORK_FUNCTION_EV:g} eV, T = {FILAMENT_K:g} K: "
            f"{number(drop.emission)}",
        ),
    )


FILAMENT_DROP: Final = Sum(
    name="filament-drop",
    title="Dropping resistors of a display's filament",
    what_for=(
        "What the resistors before a display's filament should have, and what a cracked joint in "
        "one of them does to its voltage, its power and the display's brightness."
    ),
    inputs=(
        Amount("supply", "Supply of the filament", "V", 0.5, 60.0, 5.0),
        Amount("filament-voltage", "Rated voltage of the filament", "V", 0.3, 30.0, 3.0),
        Amount("filament-current", "Rated current of the filament", "mA", 1.0, 2000.0, 100.0),
        Amount("count", "Resistors side by side", "", 1.0, 8.0, 2.0, whole=True),
        Amount(
            "resistor",
            "Each of them has",
            "ohm",
            0.1,
            100_000.0,
            None,
            "empty: the nearest of E24 to what it should have",
        ),
        Amount("crack", "The crack adds", "ohm", 0.0, 1e6, 20.0, "1 000 000 for an open joint"),
        Choice(
            "crack-in",
            "It is",
            (("one", "at one of the resistors"), ("all", "where all the current goes through")),
            "one",
        ),
    ),
    work=_work,
    told=_told,
    source=(
        "Ohm's law; the filament's current with the power 0.55 (Standard Handbook for Electrical "
        "Engineers, 11th ed., 22-8, for lamps) to 1 of its voltage; brightness by Richardson's "
        "law with 1.3 eV (1.36 worked out for barium oxide on tungsten, Journal of Applied Physics "
        "95, 2004, 3069) and 900 K, from memory; 90 to 110 % of the rated voltage: common "
        "practice, no source"
    ),
    limits=(
        "A filament on direct current, or the effective values of an alternating one. The "
        "brightness is a bound, not a measurement."
    ),
    drawing="The supply, the resistors with the crack and the filament with their voltages, and "
    "the filament's voltage over what the crack adds.",
    cautions=(HIGH_VOLTAGE, SUPPLY_OFF),
)
