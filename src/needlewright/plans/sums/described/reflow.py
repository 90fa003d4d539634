"""A reflow profile from thermocouples: what is asked and told."""

from dataclasses import replace
from itertools import pairwise
from typing import Final, cast

from needlewright.plans.sums.described.reflow_paste import (
    PASTE_INPUTS,
    UNITS,
    limit_words,
    limits_notes,
    limits_step,
    what_words,
)
from needlewright.plans.sums.model import (
    Amount,
    Choice,
    Figure,
    Given,
    HeldTo,
    Judged,
    Pasted,
    Result,
    Step,
    Sum,
    Told,
)
from needlewright.plans.sums.reflow import Held, Reflow, hold_profile
from needlewright.plans.sums.reflow_example import EXAMPLE
from needlewright.plans.sums.reflow_limits import Alloys, Thermocouple
from needlewright.plans.sums.reflow_stated import limits_of
from needlewright.plans.sums.thermocouple_table import read_tracks
from needlewright.plans.sums.wording import number
from needlewright.rules.decision import people_words


def value_words(held: Held) -> str:
    """The value with its unit: `3.62 K/s`, `52 s`."""
    if held.value is None:
        return "not recorded"
    places = 2 if UNITS[held.what] == "K/s" else 1
    return f"{held.value:.{places}f} {UNITS[held.what].replace('degC', '°C')}"


def _work(given: Given) -> Reflow:
    alloy = cast(Alloys, given.word("alloy"))
    part_c = (given.maybe("peak-least"), given.maybe("peak-most"))
    limits = limits_of(alloy, part_c, given.maybe)
    profile = hold_profile(
        read_tracks(given.word("csv"), given.number("gap")),
        limits,
        cast(Thermocouple, given.word("thermocouple")),
        given.number("logger"),
        given.number("window"),
    )
    is_example = given.word("csv").split() == EXAMPLE.split()
    return replace(profile, is_example=is_example, alloy=alloy)


def _told(profile: Reflow) -> Told:
    first = Figure("verdict", "The profile", None, said=people_words(profile.code))
    order = {name: i for i, name in enumerate((t.name for t in profile.tracks), 1)}
    figures = [first] + [_figure(one, order[one.track], profile) for one in profile.held]
    return Told(tuple(figures), _steps(profile), _judged(profile), _notes(profile))


def _figure(held: Held, track: int, profile: Reflow) -> Figure:
    return Figure(
        f"{held.what}_{track}",
        f"{held.track}: {what_words(held.what, profile.limits)} "
        f"({limit_words(held.what, profile.limits)})",
        held.value,
        UNITS[held.what],
        held.low,
        held.high,
        said="" if held.value is not None and held.value != 0 else value_words(held),
        held_to=_held_to(held, profile),
    )


def _held_to(held: Held, profile: Reflow) -> HeldTo:
    low_of, high_of = profile.limits.whose(held.what)
    return HeldTo(*held.limits, low_of or "", high_of or "")


def _judged(profile: Reflow) -> tuple[Judged, ...]:
    marked = [one for one in profile.held if one.is_marked]
    if not marked:
        return (Judged("good", "Every limit stated is kept at every thermocouple."),)
    return tuple(
        Judged(
            _result(one),
            f"{i}. {one.track}, {what_words(one.what, profile.limits)}: {people_words(one.code)}; "
            f"{value_words(one)}, {limit_words(one.what, profile.limits)}"
            f"{f' ({one.why})' if one.why else ''}.",
        )
        for i, one in enumerate(marked, 1)
    )


def _result(held: Held) -> Result:
    return "none" if held.code in ("not_read", "conditional_pass") else "bad"


def _notes(profile: Reflow) -> tuple[str, ...]:
    notes = [
        f"{track.name}: {track.missing} missing value{'s' * (track.missing > 1)} bridged by a "
        "straight line."
        for track in profile.tracks
        if track.missing
    ]
    if profile.is_example:
        notes.insert(0, "These are the invented readings of the example: give a recording.")
    notes += limits_notes(profile.limits, profile.alloy)
    for track in profile.tracks:
        step = max(b - a for a, b in pairwise(track.t_s))
        if step > profile.window_s:
            notes.append(
                f"{track.name}: up to {step:g} s between readings, longer than the "
                f"{profile.window_s:g} s of a slope: shorter steep parts are not seen."
            )
    return tuple(notes)


def _steps(profile: Reflow) -> tuple[Step, ...]:
    w = profile.window_s
    level = profile.limits.liquidus_c
    ramp = next(one for one in profile.held if one.what == "ramp")
    above = next(one for one in profile.held if one.what == "above")
    ramp_words = "not recorded" if ramp.value is None else f"{number(ramp.value)} K/s"
    above_words = (
        "not recorded"
        if above.value is None or above.low is None or above.high is None
        else f"{above.value:.1f} s; {above.low:.1f} to {above.high:.1f} s when it reads "
        f"{profile.expanded_k:.1f} K wrong"
    )
    return (
        limits_step(profile.limits),
        Step(
            "Slope, before the peak and after it",
            "(T(t + w) − T(t)) / w, the steepest",
            f"{ramp.track}: over {w:g} s, {ramp_words}",
        ),
        Step(
            "Time above the liquidus",
            "all the time that T is above it",
            f"{above.track}, above {level:g} °C: {above_words}",
        ),
        Step(
            "A thermocouple reads wrong all through a recording",
            "U = 2 √(a^2 + b^2) / √3, a of its class, b of the logger",
            f"at {level:g} °C: {number(profile.expanded_k)} K; durations and peak are measured at "
            "T − U to T + U",
        ),
    )


REFLOW: Final = Sum(
    name="reflow",
    title="Reflow profile from thermocouples",
    what_for=(
        "Whether a recorded profile keeps its limits at every thermocouple, before it is used on a "
        "customer's board."
    ),
    inputs=(
        Pasted(
            "csv",
            "Recording",
            EXAMPLE,
            hint=(
                "first row: names; time_s or time_min, then one column for each thermocouple, "
                "ending in _c or _f. The example is invented"
            ),
        ),
        Choice(
            "alloy",
            "Solder",
            (("lead-free", "lead-free, SAC305"), ("tin-lead", "tin-lead, Sn63Pb37")),
            "lead-free",
        ),
        *PASTE_INPUTS,
        Amount(
            "peak-most",
            "Peak of the part at most",
            "degC",
            100.0,
            350.0,
            None,
            "of the most delicate part; may be left empty",
        ),
        Amount(
            "peak-least",
            "Peak of the part at least",
            "degC",
            100.0,
            350.0,
            None,
            "may be left empty",
        ),
        Choice(
            "thermocouple",
            "Thermocouple",
            (
                ("K-2", "type K, class 2"),
                ("K-1", "type K, class 1"),
                ("T-2", "type T, class 2"),
                ("T-1", "type T, class 1"),
                ("J-2", "type J, class 2"),
                ("none", "calibrated, its errors taken off"),
            ),
            "K-2",
        ),
        Amount("logger", "The logger may be off by", "K", 0.0, 20.0, 1.0, "either way"),
        Amount("window", "A slope is taken over", "s", 1.0, 60.0, 10.0),
        Amount("gap", "A straight line may bridge", "s", 0.1, 60.0, 10.0, "of missing values"),
    ),
    work=_work,
    told=_told,
    source=(
        "Where the paste states no limit: J-STD-020, classification reflow profiles: climb, soak, "
        "time above the liquidus, from 25 °C to the peak, fall, as makers of parts print its table "
        "(tin-lead by revision C, lead-free by D); peak: whoever states it. IEC 60584-1:2013 for "
        "the thermocouple's class, as its makers print it; words of the decision by "
        "ILAC-G8:09/2019, 4.2.3"
    ),
    limits=(
        "The standard's time within 5 °C of the peak is not held: it counts from what the part was "
        "classified to, which its maker states. The standard's limits are those that parts are "
        "tested to; a paste's own can be tighter: state them. Slopes are judged at their steepest, "
        "which is stricter than the mean slope from liquidus to peak; a least slope, as some data "
        "sheets have it, is not held, but its times are. A thermocouple that has "
        "lifted off reads the air: the uncertainty is of one that sits in the joint."
    ),
    drawing=(
        "Temperature over time for each thermocouple, with the limits of soak, liquidus, peak, "
        "climb and fall and whose they are; whatever is past a limit, or in doubt, carries a "
        "number that is explained underneath."
    ),
    cautions=(
        "Hot board, hot oven: let it cool before it is touched, and take the fumes away.",
        "A cluster's display, needles, lens and stickers do not stand a reflow: take them off, or "
        "shield them, and measure at them too.",
    ),
)
