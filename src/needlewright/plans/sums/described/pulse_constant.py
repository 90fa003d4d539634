"""The pulse constant from tyre and axle: what is asked and told."""

from dataclasses import replace
from math import pi
from typing import Final

from needlewright.errors import SignalError, SumError
from needlewright.plans.sums.bench_units import MILE_M
from needlewright.plans.sums.model import (
    Amount,
    Choice,
    Figure,
    Given,
    Judged,
    Line,
    Result,
    Step,
    Sum,
    Told,
)
from needlewright.plans.sums.pulse_constant import (
    LOADED_SHARE,
    PulseConstant,
    SpeedHeld,
    hz_at,
    pulse_constant,
    way_of_tyre,
)
from needlewright.plans.sums.wording import number, with_unit
from needlewright.rules.decision import people_words
from needlewright.signals.tyres import Tyre

RESULTS: Final[dict[str, Result]] = {"pass": "good", "conditional_pass": "none"}
"""What is in doubt is told: a setting that is just right reads low half the time."""
MEASURED_WITHIN: Final = (
    "0.5 is usual for a way measured; a size +1.5 to −2.5 % of its table (from memory)"
)


def _work(given: Given) -> PulseConstant:
    tyre = _marked(given.word("marking")) if given.word("by") == "marking" else None
    stated = given.number("within") / 100
    found = pulse_constant(
        _way_mm(given, tyre),
        stated if tyre is None else max(stated, tyre.within),
        given.number("axle"),
        given.number("pulses"),
        set_a_km=given.maybe("set"),
        fastest_kmh=given.number("fastest"),
    )
    return replace(found, tyre=tyre)


def _marked(marking: str) -> Tyre:
    try:
        return Tyre.parse(marking)
    except SignalError as error:
        raise SumError(f"Marking on the side wall: {error}") from None


def _way_mm(given: Given, tyre: Tyre | None) -> float:
    """Of one turn of the wheel, by what was chosen."""
    loaded = given.number("loaded") / 100
    if tyre is not None:
        return way_of_tyre(tyre.width_mm, tyre.aspect, tyre.rim_inch, loaded)
    if given.word("by") == "way":
        return given.number("way") / given.number("turns")
    aspect = given.number("aspect") / 100
    return way_of_tyre(given.number("width"), aspect, given.number("rim"), loaded)


def _told(found: PulseConstant) -> Told:
    figures = [
        Figure("pulses_km", "Pulses on a kilometre", found.a_km, "1/km",
               found.low_a_km, found.high_a_km, 4),
        Figure("never_low_km", "Set to this or less, it does not read low", found.never_low_a_km,
               "1/km", digits=4),
        Figure("way_mm", "Way of one turn of the wheel", found.way_mm, "mm",
               found.way_mm * (1 - found.within), found.way_mm * (1 + found.within), 4),
        Figure("radius_mm", "Radius it rolls on", found.way_mm / (2 * pi), "mm"),
        _turns("turns_km", "Turns of the wheel on a kilometre", 1e6, "1/km", found),
        _turns("turns_mile", "On a mile", 1000 * MILE_M, "1/mile", found),
        Figure("hz_50", "Frequency at 50 km/h", hz_at(found.a_km, 50.0), "Hz"),
        Figure("set_km", "The speedometer is set to", found.set_a_km, "1/km", digits=4),
        Figure("shown_percent", "It shows, of the true speed", 100 * found.shown_share, "%",
               digits=4),
    ]  # fmt: skip
    figures += [
        Figure(
            f"shown_{one.true_kmh:g}",
            f"At {one.true_kmh:g} km/h, where {one.true_kmh:g} to {one.upper_kmh:g} may be shown",
            one.shown_kmh,
            "km/h",
            one.shown_kmh - 2 * one.u_kmh,
            one.shown_kmh + 2 * one.u_kmh,
        )
        for one in found.held
    ]
    return Told(tuple(figures), _steps(found), _judged(found), _notes(found))


def _turns(name: str, words: str, of_mm: float, unit: str, found: PulseConstant) -> Figure:
    turns = of_mm / found.way_mm
    return Figure(name, words, turns, unit, turns / (1 + found.within), turns / (1 - found.within))


def _judged(found: PulseConstant) -> tuple[Judged, ...]:
    said = [_held(one) for one in found.held]
    if found.reads_low:
        said.insert(
            0,
            Judged(
                "bad",
                f"Set to {number(found.set_a_km, 4)} on a kilometre it reads low: a speedometer "
                "may never do that. Set a lower number.",
            ),
        )
    return tuple(said)


def _held(one: SpeedHeld) -> Judged:
    words = people_words(one.decision.code)
    return Judged(
        RESULTS.get(one.decision.code, "bad"),
        f"At {one.true_kmh:g} km/h, UN R39: {words}; shows {number(one.shown_kmh, 4)} ± "
        f"{number(2 * one.u_kmh, 2)} km/h.",
    )


def _notes(found: PulseConstant) -> tuple[str, ...]:
    notes = [
        "The distance is counted with the same constant. The mileage is recorded as it is, and "
        "never altered: what another tyre made of it stays in it, and is said on the papers."
    ]
    if found.tyre is not None and found.tyre.marked != "height":
        notes.insert(0, _marking_note(found.tyre, found.within))
    if found.worst.code == "conditional_pass" and not found.reads_low:
        notes.insert(
            0,
            "A setting near what the vehicle gives has no room below for a larger tyre: "
            f"{number(found.never_low_a_km, 4)} on a kilometre, or less, would have.",
        )
    return tuple(notes)


def _marking_note(tyre: Tyre, within: float) -> str:
    """What a marking without the height of the side wall leaves open."""
    height_mm = f"{tyre.width_mm * tyre.aspect:.0f} mm"
    left = f"{number(100 * tyre.within, 2)} %"
    measure = (
        f"; the way is taken as known within {number(100 * within, 2)} %. Measure it on the ground "
        "where it decides."
    )
    if tyre.marked == "diameter":
        return (
            f"The marking says the diameter, {number(tyre.diameter_mm, 4)} mm, new and unloaded, "
            f"and makers have up to half an inch less ({left}){measure}"
        )
    return (
        f"The marking says no height of the side wall: {height_mm} are taken, {tyre.aspect:.2f} of "
        f"its width, which for tyres marked so is right to {left} of the diameter (from "
        f"memory){measure}"
    )


def _steps(found: PulseConstant) -> tuple[Step, ...]:
    return (
        Step(
            "Way of one turn",
            "2π k (rim / 2 + width × aspect), or the way measured / turns",
            f"{number(found.way_mm, 5)} mm",
        ),
        Step(
            "Pulses on a kilometre",
            "10^6 / way × axle × pulses",
            f"10^6 / {number(found.way_mm, 5)} × {found.axle_ratio:g} × {found.pulses_a_turn:g} = "
            f"{with_unit(found.a_km, '1/km', 4)}",
        ),
        Step(
            "Speed shown, of the true one",
            "pulses of the vehicle / setting",
            f"{number(found.a_km, 4)} / {number(found.set_a_km, 4)} = "
            f"{number(found.shown_share, 4)}",
        ),
        Step(
            "Uncertainty of what is shown, k = 2",
            "U = 2 a / √3, a the limits of the way",
            f"2 × {100 * found.within:g} % / √3 = {number(200 * found.u_share, 3)} %",
        ),
    )


PULSE_CONSTANT: Final = Sum(
    name="pulse-constant",
    title="Pulses on a kilometre, from tyre and axle",
    what_for=(
        "What a speedometer must be set to when its constant is not known or other tyres are on, "
        "and whether a setting keeps the rule."
    ),
    inputs=(
        Choice(
            "by",
            "The way of a turn is",
            (
                ("size", "by the three numbers of the tyre's size"),
                ("marking", "by the tyre's marking"),
                ("way", "measured on the ground"),
            ),
            "size",
        ),
        Line(
            "marking", "Marking on the side wall", "195/65 R15 91H",
            "used where the way is by the marking: 195/65 R15 91H, 165 R13, 6.00-16, 31x10.50R15",
        ),
        Amount("width", "Width on the side wall", "mm", 100.0, 500.0, 195.0, "195 of 195/65 R15"),
        Amount("aspect", "Height of the side wall", "%", 20.0, 100.0, 65.0, "65 of 195/65 R15"),
        Amount("rim", "Rim", "in", 8.0, 30.0, 15.0, "15 of 195/65 R15"),
        Amount(
            "loaded", "Loaded radius, of the unloaded", "%", 90.0, 100.0,
            round(100 * LOADED_SHARE, 1), "97 is usual",
        ),
        Amount(
            "way", "Way measured", "mm", 500.0, 50_000.0, 5805.0, "loaded, at its pressure"
        ),
        Amount("turns", "in so many turns", "", 1.0, 50.0, 3.0, whole=True),
        Amount("within", "The way is known within", "%", 0.05, 10.0, 2.5, MEASURED_WITHIN),
        Amount("axle", "Turns of the sensor's shaft for one of the wheel", "", 0.05, 40.0, 1.0),
        Amount("pulses", "Pulses for one turn of that shaft", "", 0.1, 10_000.0, 8.0),
        Amount(
            "set", "The speedometer is set to", "1/km", 10.0, 1e6, None,
            "empty: to what the vehicle gives",
        ),
        Amount("fastest", "Maximum design speed", "km/h", 20.0, 400.0, 180.0),
    ),
    work=_work,
    told=_told,
    source=(
        "Derivation: 10^6 mm / way × axle × pulses. Loaded radius 97.1 % of the unloaded: from "
        "memory, as tables of tyres have it; the European Commission's model CO2MPAS has 97.5 %. "
        "Height of a side wall that is not marked: 0.80 of the width for 165 R13 (suppliers of "
        "older tyres, seen) to 0.82, about the width for 6.00-16, 0.83 of it for 6.95-14 (from "
        "memory); 31x10.50R15: the diameter in inches (a vehicle's manual, seen). "
        "UN Regulation No. 39, 0 ≤ V1 − V2 ≤ 0.1 V2 + 4 km/h, test speeds from memory; limits as "
        "rectangular, JCGM 100, 4.3.7"
    ),
    limits=(
        "A speedometer without an error of its own: add what its run at the bench found. Wear "
        "takes 1 to 2 % off the way, pressure and load another; slip is not in it. The size gives "
        "a nominal way: measure it where it decides."
    ),
    drawing="What is shown above the true speed, with what the rule allows as a band, and the test "
    "speeds marked with their uncertainty.",
    cautions=(
        "Never set a speedometer so that it reads low.",
        "The mileage is recorded, never altered.",
        "Measure the way on level ground with the vehicle held: nobody before or behind it.",
    ),
)  # fmt: skip
