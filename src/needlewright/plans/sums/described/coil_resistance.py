"""Coil resistance corrected to 20 degC and judged: what is asked and told."""

from typing import Final

from needlewright.plans.sums.coil_resistance import CoilResistance, coil_resistance
from needlewright.plans.sums.model import SUPPLY_OFF, Amount, Figure, Given, Judged, Step, Sum, Told
from needlewright.plans.sums.wording import number, with_unit
from needlewright.rules.decision import COVERAGE_K, people_words


def _work(given: Given) -> CoilResistance:
    return coil_resistance(
        given.number("read"),
        given.number("leads"),
        given.number("at"),
        nominal_ohm=given.number("nominal"),
        tolerance=given.number("tolerance") / 100,
        meter=given.number("meter") / 100,
        within_k=given.number("within"),
    )


def _told(coil: CoilResistance) -> Told:
    spread = coil.expanded_ohm
    return Told(
        (
            Figure(
                "ohm_at_20",
                "Resistance at 20 °C",
                coil.ohm,
                "ohm",
                coil.ohm - spread,
                coil.ohm + spread,
                4,
            ),
            Figure("u_expanded_ohm", "U, k = 2", spread, "ohm", digits=2),
            Figure(
                "allowed",
                "Allowed",
                (coil.lower_ohm + coil.upper_ohm) / 2,
                "ohm",
                coil.lower_ohm,
                coil.upper_ohm,
            ),
            Figure(
                "probability",
                "Probability that it conforms",
                100 * (coil.decision.probability or 0.0),
                "%",
            ),
        ),
        _steps(coil),
        (_judged(coil),),
    )


def _judged(coil: CoilResistance) -> Judged:
    words = people_words(coil.decision.code)
    if coil.ohm < coil.lower_ohm:
        words += ": too low, as with turns that touch each other, or another winding"
    elif coil.ohm > coil.upper_ohm:
        words += ": too high, as with a bad joint or a breaking wire; look at the joints first"
    return Judged("good" if coil.decision.accepted else "bad", f"{words}.")


def _steps(coil: CoilResistance) -> tuple[Step, ...]:
    measured = number(coil.measured_ohm, 4)
    return (
        Step(
            "Corrected to 20 °C",
            "R₂₀ = R / (1 + 0.00393 (t − 20))",
            f"{measured} / (1 + 0.00393 × ({coil.at_c:g} − 20)) = {with_unit(coil.ohm, 'ohm', 4)}",
        ),
        Step(
            "Standard uncertainty: meter, temperature",
            "u = √(u₁^2 + u₂^2), each its limits / √3",
            f"√({number(coil.u_meter_ohm, 2)}^2 + {number(coil.u_warmth_ohm, 2)}^2) = "
            f"{with_unit(coil.u_ohm, 'ohm', 2)}; U = {COVERAGE_K:g} u",
        ),
    )


COIL_RESISTANCE: Final = Sum(
    name="coil-resistance",
    title="Coil resistance at 20 °C",
    what_for=(
        "Whether a movement's coil is sound, though it was measured in a warm or a cold room: "
        "copper changes by 4 % in ten kelvins."
    ),
    inputs=(
        Amount("read", "Read on the meter", "ohm", 0.01, 1e6, 287.0),
        Amount("leads", "Read with the leads held together", "ohm", 0.0, 100.0, 0.2),
        Amount("at", "Temperature of the coil", "degC", -50.0, 200.0, 23.0),
        Amount("within", "Known within", "K", 0.0, 50.0, 2.0, "either way"),
        Amount("meter", "Meter may be off by", "%", 0.0, 20.0, 0.8, "of the reading"),
        Amount("nominal", "Should have at 20 °C", "ohm", 0.01, 1e6, 280.0),
        Amount("tolerance", "Tolerance of that", "%", 0.1, 50.0, 10.0),
    ),
    work=_work,
    told=_told,
    source=(
        "IEC 60028: annealed copper changes by 0.00393 a kelvin, of its value at 20 °C; limits as "
        "rectangular, JCGM 100, 4.3.7; decision ILAC-G8:09/2019, 4.2.3. The nominal value and its "
        "tolerance are those of whoever states them; 280 Ω within 10 % is from memory, of a class"
    ),
    limits=(
        "Copper windings from −50 to 200 °C. A coil that has just been driven is warmer than the "
        "room: let it stand, or take its own temperature."
    ),
    drawing="The resistance on a line with what is allowed as a band: hollow as read, filled at "
    "20 °C with its uncertainty.",
    cautions=(
        SUPPLY_OFF,
        "Lift one end of the coil, or pull the movement: what lies beside it is read with it.",
    ),
)
