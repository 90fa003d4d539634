"""Ageing by temperature: what is asked and told."""

from typing import Final

from needlewright.plans.sums.arrhenius import EV_K, Aging, aging
from needlewright.plans.sums.model import Amount, Figure, Given, Step, Sum, Told
from needlewright.plans.sums.wording import number, with_unit


def _work(given: Given) -> Aging:
    return aging(
        given.number("energy"),
        given.number("within"),
        given.number("use"),
        given.number("test"),
        given.number("hours"),
    )


def _told(aged: Aging) -> Told:
    low, high = aged.factor_range
    notes: tuple[str, ...] = ()
    if aged.test_c < aged.use_c:
        notes = ("The test is colder than the use: it ages slower, and the factor is below 1.",)
    return Told(
        (
            Figure("factor", "The test ages faster by", aged.factor, "", low, high, 4),
            Figure("use_h", "Hours in use that age as much", aged.use_h, "h", *aged.use_h_range),
            Figure(
                "use_years",
                "Years in use that age as much, day and night",
                aged.use_h / 8766,
                "",
                aged.use_h_range[0] / 8766,
                aged.use_h_range[1] / 8766,
            ),
        ),
        (
            Step(
                "Factor",
                "exp(E / k (1 / T use − 1 / T test))",
                f"exp({aged.energy_ev:g} / ({number(EV_K, 5)}) × "
                f"(1 / {aged.use_c + 273.15:g} − 1 / {aged.test_c + 273.15:g})) = "
                f"{number(aged.factor, 4)}",
            ),
            Step(
                "Hours in use",
                "factor × hours in the test",
                f"{number(aged.factor, 4)} × {aged.test_h:g} = {with_unit(aged.use_h, 'h')}",
            ),
        ),
        notes=notes,
    )


ARRHENIUS: Final = Sum(
    name="arrhenius",
    title="Ageing by temperature",
    what_for=(
        "How many hours in a vehicle a part is aged by a burn-in at a higher temperature, where "
        "one chemical barrier governs it."
    ),
    inputs=(
        Amount("energy", "Barrier", "eV", 0.05, 2.0, 0.5, "what ages decides it: see the source"),
        Amount("within", "Known within", "eV", 0.0, 0.5, 0.1, "either way"),
        Amount("use", "In use", "degC", -60.0, 200.0, 25.0),
        Amount("test", "In the test", "degC", -60.0, 250.0, 125.0),
        Amount("hours", "Hours in the test", "h", 0.01, 1e6, 48.0),
    ),
    work=_work,
    told=_told,
    source=(
        "Arrhenius' law; Boltzmann's constant CODATA. A barrier of 0.5 eV from 25 to 125 °C makes "
        "132.7 (published, computed). Barriers of single causes run from 0.3 to 1.1 eV (common "
        "practice, no source): the data of the part decide"
    ),
    limits=(
        "One cause, one barrier, and nothing that melts, dries out or changes between the two "
        "temperatures. Early failures by cracks and cycles do not follow it: see solder-life."
    ),
    drawing=(
        "The factor over the temperature of the test, a band by what the barrier may be, with the "
        "case given marked."
    ),
    cautions=("Hot oven: let parts cool before they are touched.",),
)
