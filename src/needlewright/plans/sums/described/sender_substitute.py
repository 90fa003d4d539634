"""Resistors in the place of a sender: what is asked and told."""

from math import ceil, log10
from typing import Final, cast

from needlewright.errors import SumError
from needlewright.plans.sums.gauge_table import FIVE_POINTS, gauge_of, read_pairs
from needlewright.plans.sums.model import (
    Amount,
    Choice,
    Figure,
    Given,
    Judged,
    Pasted,
    Step,
    Sum,
    Told,
)
from needlewright.plans.sums.resistor_power import rating_for
from needlewright.plans.sums.sender_substitute import (
    PointSubstitute,
    SenderSubstitute,
    substitutes,
)
from needlewright.plans.sums.wording import number, with_unit
from needlewright.signals.line_table import LineTable
from needlewright.signals.preferred import TOLERANCE, Series
from needlewright.signals.resistance import SENDER_PAIRS

PAIRS: Final = {f"{empty:g}-{full:g}": (empty, full) for empty, full in SENDER_PAIRS}
EXAMPLE: Final = "shows,ohm\n50,830\n70,420\n90,230\n110,134\n130,82\n"
"""Invented: a temperature gauge in degC."""


def resistor_words(point: PointSubstitute) -> str:
    """`330 Ω`, `220 Ω + 22 Ω`, `1 kΩ || 330 Ω`, `a wire`."""
    if point.joined == "wire":
        return "a wire"
    sign = " || " if point.joined == "parallel" else " + "
    return sign.join(_ohm_words(one) for one in point.resistors)


def shown_words(shown: float, found: SenderSubstitute) -> str:
    """What a gauge shows, to a thousandth of its span."""
    places = max(3 - ceil(log10(found.span)), 0)
    return f"{round(shown, places) + 0.0:.{places}f}".replace("-", "−")


def _ohm_words(ohm: float) -> str:
    return f"{ohm / 1000:g} kΩ" if ohm >= 1000 else f"{ohm:g} Ω"


def _work(given: Given) -> SenderSubstitute:
    which = given.word("sender")
    if which == "table":
        gauge = gauge_of(read_pairs(given.word("points"), "Gauge points", ("shows", "ohm")))
        values = gauge.values
    else:
        gauge, values = LineTable((0.0, 100.0), PAIRS[which]), FIVE_POINTS
    return substitutes(
        gauge,
        values,
        cast(Series, given.word("series")),
        one_only=given.word("made-of") == "one",
        gauge_share=given.number("gauge-error") / 100,
        feed=_feed(given.maybe("feed"), given.maybe("gauge-ohm")),
    )


def _feed(volts: float | None, ohm: float | None) -> tuple[float, float] | None:
    """Both or neither of them."""
    if volts is None and ohm is None:
        return None
    if volts is None or ohm is None:
        raise SumError(
            "The gauge's feed and its own resistance go together: give both, or leave both empty"
        )
    return volts, ohm


def _told(found: SenderSubstitute) -> Told:
    figures = [_figure(i, one) for i, one in enumerate(found.points, 1)]
    figures += [
        Figure(f"shows_{i}", f"The gauge at {one.value:g} then shows", one.shows, "",
               one.least, one.most, said=shown_words(one.shows, found))
        for i, one in enumerate(found.points, 1)
    ]  # fmt: skip
    figures.append(
        Figure("worst_share", "Resistors put the needle off by at most, of its span",
               100 * found.worst_share, "%")
    )  # fmt: skip
    if found.hottest is not None and found.hottest.hottest_w:
        watts = found.hottest.hottest_w
        figures += [
            Figure(
                "hottest_w", f"Heat of the hottest resistor, at {found.hottest.value:g}", watts, "W"
            ),
            Figure("rating_w", "Resistors to take, rated", rating_for(watts), "W"),
        ]
    return Told(tuple(figures), _steps(found), (_judged(found),), _notes(found))


def _figure(i: int, one: PointSubstitute) -> Figure:
    spread = 2 * one.u_ohm
    return Figure(
        f"ohm_{i}",
        f"At {one.value:g}, for {with_unit(one.wanted_ohm, 'ohm')}",
        one.ohm,
        "ohm",
        max(one.ohm - spread, 0.0),
        one.ohm + spread,
        said=resistor_words(one),
    )


def _judged(found: SenderSubstitute) -> Judged:
    worst, own = f"{number(100 * found.worst_share, 2)} %", f"{100 * found.gauge_share:g} %"
    if found.fine_enough:
        return Judged(
            "good",
            f"The resistors put the needle off by {worst} of its span at most, not more than a "
            f"quarter of the {own} the gauge may be off: what is seen is the gauge.",
        )
    return Judged(
        "bad",
        f"The resistors put the needle off by up to {worst} of its span, more than a quarter of "
        f"the {own} the gauge may be off: take E96, two resistors, or measure them first.",
    )


def _notes(found: SenderSubstitute) -> tuple[str, ...]:
    notes = [
        "|| is side by side, + is one after the other. Measure what was made, leads included, "
        "before it is believed."
    ]
    if any(one.joined == "wire" for one in found.points):
        notes.append("A wire has some tenths of an ohm: they are in no number here.")
    if found.hottest is None:
        notes.append(
            "How hot the resistors get is not told: give the gauge's feed and its own resistance. "
            "Ten ohms straight across 13.5 V would be 18 W."
        )
    return tuple(notes)


def _steps(found: SenderSubstitute) -> tuple[Step, ...]:
    one = max(found.points, key=lambda p: max(abs(p.least - p.value), abs(p.most - p.value)))
    joined = {
        "series": ("R₁ + R₂", "one after the other"),
        "parallel": ("R₁ R₂ / (R₁ + R₂)", "side by side"),
        "single": ("R", "one resistor"),
        "wire": ("0", "a wire"),
    }[one.joined]
    return (
        Step(
            f"At {one.value:g}, where the needle is put off most: {joined[1]}",
            joined[0],
            f"{resistor_words(one)} = {with_unit(one.ohm, 'ohm', 4)}, wanted "
            f"{with_unit(one.wanted_ohm, 'ohm', 4)}",
        ),
        Step(
            "Its uncertainty, k = 2",
            "2 √(Σ (share × tolerance × R)^2) / √3",
            f"{found.series}, {TOLERANCE[found.series]:.0%}: {with_unit(2 * one.u_ohm, 'ohm')}",
        ),
        Step(
            "On the gauge",
            "straight lines of the resistance between its points",
            f"{shown_words(one.shows, found)}, {shown_words(one.least, found)} to "
            f"{shown_words(one.most, found)}",
        ),
    )


SENDER_SUBSTITUTE: Final = Sum(
    name="sender-substitute",
    title="Resistors in the place of a sender",
    what_for=(
        "Which resistors make a fuel, temperature or pressure gauge show its points at the bench, "
        "and how far their tolerance puts the needle off."
    ),
    inputs=(
        Choice(
            "sender",
            "Sender",
            (
                *((name, f"{name.replace('-', ' to ')} Ω, empty to full") for name in PAIRS),
                ("table", "the points below"),
            ),
            "240-33",
        ),
        Pasted(
            "points",
            "Gauge points",
            EXAMPLE,
            longest=2000,
            hint=(
                "shows,ohm: what the gauge shows in rising order, any unit, with its ohms; used "
                "where the sender is the points below. The example is invented"
            ),
        ),
        Choice("series", "Resistors", (("E24", "E24, 5 %"), ("E96", "E96, 1 %")), "E96"),
        Choice("made-of", "Made of", (("two", "one or two"), ("one", "one only")), "two"),
        Amount("gauge-error", "The gauge itself may be off by", "%", 0.1, 50.0, 5.0, "of its span"),
        Amount(
            "feed", "The gauge is fed with", "V", 0.1, 60.0, None, "for the heat of the resistors"
        ),
        Amount(
            "gauge-ohm", "The gauge's own resistance", "ohm", 0.0, 1e6, None,
            "in line with the sender, from its feed to the sender's pin",
        ),
    ),
    work=_work,
    told=_told,
    source=(
        "Preferred values and tolerances IEC 60063; limits as rectangular, JCGM 100, 4.3.7. Pairs "
        "of senders, and a test that adds at most a quarter of what it tests: common practice, no "
        "source"
    ),
    limits=(
        "A gauge that moves in straight lines of the resistance between the points given. A "
        "damped gauge takes minutes: wait until it stands. The heat is that of a steady feed in "
        "line with the gauge; a gauge with coils to ground takes some of it. Where resistors "
        "stand, near what: see resistor-power."
    ),
    drawing=(
        "The gauge over its resistance, with the resistors of each point and how far their "
        "tolerance moves it."
    ),
    cautions=(
        "A sender's wire held straight to the supply burns some gauges: resistors first, then "
        "power.",
        "Never work at the tank: put the resistors at the cluster's own pin.",
    ),
)  # fmt: skip
