"""Resistor power and derating: what is asked and told."""

from typing import Final

from needlewright.plans.sums.model import SUPPLY_OFF, Amount, Figure, Given, Judged, Step, Sum, Told
from needlewright.plans.sums.resistor_power import (
    SHARE_OF_RATING,
    ResistorHeat,
    rating_for,
    resistor_heat,
)
from needlewright.plans.sums.wording import number, with_unit


def _work(given: Given) -> ResistorHeat:
    volts, amps = given.maybe("voltage"), given.maybe("current")
    if volts is None and amps is None:
        volts = VOLTAGE_AT_FIRST
    return resistor_heat(
        given.number("resistance"),
        volts,
        amps,
        rated_w=given.number("rated-power"),
        full_to_c=given.number("full-to"),
        none_at_c=given.number("none-at"),
        around_c=given.number("around"),
    )


def _told(heat: ResistorHeat) -> Told:
    share = heat.load_share
    figures = [
        Figure("heat_w", "It turns into heat", heat.heat_w, "W"),
        Figure("allowed_w", "It may, where it stands", heat.allowed_w, "W"),
        Figure("allowed_share", "That is, of its rating", 100 * heat.allowed_share, "%"),
        Figure("rating_w", "Rating that is loaded to half at most", rating_for(heat.heat_w), "W"),
    ]
    if share is not None:
        figures.insert(2, Figure("load_share", "Load, of what it may", 100 * share, "%"))
    if heat.hottest_c is not None:
        figures.append(
            Figure("hottest_c", "It bears this load up to a place of", heat.hottest_c, "degC")
        )
    return Told(tuple(figures), _steps(heat), (_judged(share),))


def _judged(share: float | None) -> Judged:
    if share is None:
        return Judged("bad", "Where it stands it may take no load at all.")
    if share > 1:
        return Judged("bad", f"It is loaded to {number(100 * share)} % of what it may take.")
    if share > SHARE_OF_RATING:
        return Judged(
            "good",
            f"It bears the load, {number(100 * share)} % of what it may take, but gets hot: keep "
            "it off the board and its neighbours, or take a larger one.",
        )
    return Judged("good", f"It bears the load with room: {number(100 * share)} % of what it may.")


def _steps(heat: ResistorHeat) -> tuple[Step, ...]:
    ohm = f"{heat.ohm:g}"
    if heat.volts is not None:
        load = Step(
            "Heat", "P = U^2 / R", f"{heat.volts:g}^2 / {ohm} = {with_unit(heat.heat_w, 'W')}"
        )
    else:
        load = Step("Heat", "P = I^2 R", f"{heat.amps:g}^2 × {ohm} = {with_unit(heat.heat_w, 'W')}")
    span = f"({heat.none_at_c:g} − {heat.full_to_c:g})"
    return (
        load,
        Step(
            "What it may take",
            "P = P₀ (T₀ − T) / (T₀ − T₁), at most P₀ and at least nothing",
            f"{heat.rated_w:g} × ({heat.none_at_c:g} − {heat.around_c:g}) / {span}, so "
            f"{with_unit(heat.allowed_w, 'W')}",
        ),
    )


VOLTAGE_AT_FIRST: Final = 5.0
"""Where neither voltage nor current is given."""

RESISTOR_POWER: Final = Sum(
    name="resistor-power",
    title="Resistor power and derating",
    what_for=(
        "Whether a resistor bears its load where it stands: near a lamp, in a closed housing, in "
        "the sun."
    ),
    inputs=(
        Amount("resistance", "Resistance", "ohm", 0.001, 1e7, 100.0),
        Amount(
            "voltage",
            "Voltage across it",
            "V",
            1e-6,
            1000.0,
            None,
            f"or the current; {VOLTAGE_AT_FIRST:g} V where both are empty",
        ),
        Amount("current", "Current through it", "A", 1e-6, 100.0, None, "or the voltage"),
        Amount("rated-power", "Rated power", "W", 0.01, 500.0, 0.5),
        Amount("full-to", "Bears all of it up to", "degC", 0.0, 200.0, 70.0),
        Amount("none-at", "Bears nothing from", "degC", 50.0, 400.0, 155.0),
        Amount("around", "Where it stands it is", "degC", -55.0, 400.0, 25.0),
    ),
    work=_work,
    told=_told,
    source=(
        "Joule's law; the straight derating line, and loading to half, SD-18 of the US Navy, "
        "resistors, derating (it has 50 to 70 %); 70 and 155 °C of film resistors: a maker's "
        "tutorial, 35 % at 125 °C"
    ),
    limits=(
        "Steady loads. The two temperatures are the resistor's own: take them from its data. "
        "Pulses, and the board's share in the cooling, are not in it."
    ),
    drawing="What the resistor may take over the temperature around it, with the load marked.",
    cautions=(SUPPLY_OFF, "A resistor at its full rating burns fingers and browns boards."),
)
