"""A thermistor's equation and its substitute: what is asked and told."""

from typing import Final, cast

from needlewright.plans.sums.gauge_table import read_pairs
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
from needlewright.plans.sums.thermistor import GOOD_FIT_K, ThermistorFit, fit_thermistor
from needlewright.plans.sums.wording import number, with_unit
from needlewright.signals.preferred import Series

RAISED: Final = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
EXAMPLE: Final = "temperature_c,ohm\n0,32128\n10,19549\n20,12262\n25,9814\n30,7908\n50,3542\n"
"""Rows of a printed table of a 10 k thermistor; no source is named: it is a maker's."""


def _work(given: Given) -> ThermistorFit:
    table = read_pairs(given.word("table"), "Table", ("temperature_c", "ohm"), 3)
    return fit_thermistor(table, given.number("at"), cast(Series, given.word("series")))


def _told(fit: ThermistorFit) -> Told:
    equation = fit.equation
    made = fit.substitute
    sign = " || " if made.joined == "parallel" else " + "
    return Told(
        (
            Figure("ohm", f"Resistance at {fit.at_c:g} °C", fit.at_ohm, "ohm", digits=4),
            Figure(
                "substitute_ohm", f"In its place, {made.series}", made.ohm, "ohm",
                said=sign.join(f"{one:g} Ω" for one in made.resistors),
            ),
            Figure(
                "substitute_c", "Which stands for", fit.substitute_c, "degC",
                fit.substitute_c - fit.within_k, fit.substitute_c + fit.within_k,
            ),
            _coefficient("a", equation.a),
            _coefficient("b", equation.b),
            _coefficient("c", equation.c),
            Figure("worst_k", "A row of the table is missed by at most", fit.worst_k, "K"),
        ),
        _steps(fit),
        (_judged(fit),),
        _notes(fit),
    )  # fmt: skip


def _coefficient(name: str, value: float) -> Figure:
    mantissa, power = f"{value:.7e}".split("e")
    raised = str(int(power)).translate(RAISED)
    said = f"{mantissa} × 10{raised}".replace("-", "−")
    return Figure(name, name.upper(), value, said=said)


def _judged(fit: ThermistorFit) -> Judged:
    worst = f"{number(fit.worst_k, 2)} K"
    if fit.worst_k <= GOOD_FIT_K:
        return Judged("good", f"The equation meets every row within {worst}.")
    t, _ = fit.table[max(range(len(fit.table)), key=lambda i: abs(fit.misses[i]))]
    return Judged(
        "bad",
        f"The equation misses the row of {t:g} °C by {worst}, more than the {GOOD_FIT_K:g} K that "
        "one thermistor's table leaves: look for a wrong row, or two parts in one table.",
    )


def _notes(fit: ThermistorFit) -> tuple[str, ...]:
    notes = []
    if len(fit.table) == 3:
        notes.append("Three rows are met whatever they are: a fourth would say whether they fit.")
    if fit.extrapolated:
        notes.append(
            f"{fit.at_c:g} °C lies outside the table, {fit.table[0][0]:g} to {fit.table[-1][0]:g} "
            "°C: the equation is continued."
        )
    return tuple(notes)


def _steps(fit: ThermistorFit) -> tuple[Step, ...]:
    equation = fit.equation
    through = ", ".join(f"{t:g} °C {r:g} Ω" for t, r in fit.fitted)
    return (
        Step(
            "Equation, T in kelvins",
            "1 / T = A + B ln R + C (ln R)^3",
            f"through {through}: A = {number(equation.a, 8)}, B = {number(equation.b, 8)}, "
            f"C = {number(equation.c, 8)}",
        ),
        Step(
            "Resistance at a temperature",
            "the root of the cubic in ln R",
            f"at {fit.at_c:g} °C: {with_unit(fit.at_ohm, 'ohm', 5)}",
        ),
        Step(
            "What the substitute stands for",
            "T of its resistance, ± 2 u (dT / dR)",
            f"{with_unit(fit.substitute.ohm, 'ohm', 5)}: {number(fit.substitute_c, 4)} ± "
            f"{number(fit.within_k, 2)} °C",
        ),
    )


THERMISTOR: Final = Sum(
    name="thermistor",
    title="Thermistor: equation, and a resistor in its place",
    what_for=(
        "Which resistance a temperature sender has at a temperature between the rows of its "
        "table, and which resistors stand in for it."
    ),
    inputs=(
        Pasted(
            "table",
            "Table",
            EXAMPLE,
            longest=2000,
            hint="temperature_c,ohm: three rows or more of one thermistor",
        ),
        Amount("at", "Temperature to stand in for", "degC", -50.0, 200.0, 40.0),
        Choice("series", "Resistors", (("E24", "E24, 5 %"), ("E96", "E96, 1 %")), "E96"),
    ),
    work=_work,
    told=_told,
    source=(
        "Steinhart and Hart, Deep-Sea Research 15 (1968) 497, equation seen second-hand; preferred "
        "values IEC 60063. That a table is met within 0.1 K: five times the 0.02 K that a trade "
        "journal has for spans up to 100 K"
    ),
    limits=(
        "Thermistors whose resistance falls as they warm, between the ends of the table. The "
        "part's own tolerance, a degree or two in vehicles, is not in it."
    ),
    drawing="The equation over temperature with the rows of the table, and the substitute marked.",
    cautions=(
        "Hot coolant: open no cooling system to reach a sender; stand in for it at the plug.",
    ),
)
