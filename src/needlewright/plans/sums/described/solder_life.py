"""Solder-joint life between two temperature cycles: what is asked and told."""

from typing import Final, cast

from needlewright.plans.sums.model import Amount, Choice, Figure, Given, Step, Sum, Told
from needlewright.plans.sums.solder_life import (
    CREEP_DONE_H,
    HIGHEST_C,
    Alloy,
    Cycle,
    SolderLife,
    solder_life,
)
from needlewright.plans.sums.wording import number


def _work(given: Given) -> SolderLife:
    use, test = (
        Cycle(given.number(f"{which}-low"), given.number(f"{which}-high"),
              given.number(f"{which}-rate"))
        for which in ("use", "test")
    )  # fmt: skip
    return solder_life(
        use,
        test,
        given.number("cycles"),
        cast(Alloy, given.word("alloy")),
        cast(Alloy, given.word("test-alloy")),
    )


def _told(life: SolderLife) -> Told:
    figures = [
        Figure("factor", "Cycles in use for one of the test", life.factor, "", *_range(life)),
        Figure("use_cycles", "Cycles in use", life.use_cycles),
        Figure("use_years", "Years in use", life.use_years),
        Figure(
            "factor_other_sign",
            "Cycles for one, with the frequency term turned round",
            life.factor_other_sign,
        ),
        Figure(
            "use_years_other_sign",
            "Years in use, with the frequency term turned round",
            life.use_years_other_sign,
        ),
    ]
    done = life.factor_creep_done
    if done is not None:
        words = f"where creep ends after {CREEP_DONE_H:g} h"
        figures += [
            Figure("factor_creep_done", f"Cycles for one, {words}", done),
            Figure(
                "use_years_creep_done",
                f"Years in use, {words}",
                life.use_years * done / life.factor,
            ),
        ]
    other = life.other_fit
    if other is not None:
        words = f"by another published fit ({other.constants.whose})"
        figures += [
            Figure("factor_other_fit", f"Cycles for one, {words}", other.factor),
            Figure("use_years_other_fit", f"Years in use, {words}", other.use_years),
        ]
    return Told(tuple(figures), _steps(life), notes=_notes(life))


def _range(life: SolderLife) -> tuple[float | None, float | None]:
    """Between two published fits, where they disagree."""
    other = life.other_fit
    if other is None:
        return None, None
    return min(life.factor, other.factor), max(life.factor, other.factor)


def _notes(life: SolderLife) -> tuple[str, ...]:
    return tuple(one for one in (_fits(life), _sign(life), _creep_done(life)) if one is not None)


def _fits(life: SolderLife) -> str | None:
    other = life.other_fit
    if other is None:
        return None
    return (
        f"Published fits of lead-free solder disagree: {life.constants.whose} give "
        f"{number(life.factor)}, {other.constants.whose} {number(other.factor)}. The first was "
        "fitted to the time at the hottest, which is taken as the same share of either cycle here. "
        "Neither holds for every part."
    )


def _sign(life: SolderLife) -> str:
    if life.use.a_day == life.test.a_day:
        return "Both cycle equally often: the disputed term is 1, and both signs agree."
    return (
        "Published examples disagree on the sign of the frequency term. Here slower cycles wear a "
        "joint more, each of them, because it creeps for longer: so do published lives that were "
        f"measured at several frequencies. The factor is {number(life.factor)}; with the term "
        f"turned round it would be {number(life.factor_other_sign)}."
    )


def _creep_done(life: SolderLife) -> str | None:
    done = life.factor_creep_done
    if done is None or life.use.a_day == life.test.a_day:
        return None
    return (
        f"A handbook lets no cycle wear a joint more than one of {CREEP_DONE_H:g} hours does, "
        "because the solder has crept by then; the first answer lets longer ones wear it more. By "
        f"the handbook the factor is {number(done)}."
    )


def _steps(life: SolderLife) -> tuple[Step, ...]:
    use, test, by = life.use, life.test, life.constants
    rate = "1/3" if by.alloy == "tin-lead" else f"{by.rate:g}"
    power = f"({rate})" if "/" in rate else rate
    return (
        Step(
            "Swing",
            f"(ΔT test / ΔT use)^{by.swing:g}",
            f"({test.swing_k:g} / {use.swing_k:g})^{by.swing:g} = {number(life.swing_share)}",
        ),
        Step(
            "Frequency",
            f"(f use / f test)^{power}",
            f"({use.a_day:g} / {test.a_day:g})^{power} = {number(life.rate_share)}; turned round "
            f"{number(1 / life.rate_share)}",
        ),
        Step(
            "Highest temperature",
            f"exp({by.warmth_k:g} (1 / T use − 1 / T test))",
            f"exp({by.warmth_k:g} × (1 / {use.high_c + 273.15:g} − "
            f"1 / {test.high_c + 273.15:g})) = {number(life.warmth_share)}",
        ),
        Step(
            "All together",
            "the product of the three",
            f"{number(life.swing_share)} × {number(life.rate_share)} × "
            f"{number(life.warmth_share)} = {number(life.factor)}",
        ),
    )


def _cycle(which: str, words: str, low: float, high: float, rate: float) -> tuple[Amount, ...]:
    return (
        Amount(f"{which}-low", f"{words}: coldest", "degC", -65.0, HIGHEST_C, low),
        Amount(f"{which}-high", f"{words}: hottest", "degC", -60.0, HIGHEST_C, high),
        Amount(f"{which}-rate", f"{words}: cycles a day", "", 0.01, 1000.0, rate),
    )


ALLOYS: Final = (("tin-lead", "tin-lead"), ("SAC", "lead-free: tin, silver, copper"))

SOLDER_LIFE: Final = Sum(
    name="solder-life",
    title="Life of solder joints between two temperature cycles",
    what_for=(
        "How many years in a vehicle a joint may live that lived so many cycles in a chamber, or "
        "how much harder a hot vehicle is on it than a mild one."
    ),
    inputs=(
        Choice("alloy", "Joint in use", ALLOYS, "tin-lead"),
        Choice("test-alloy", "Joint in the test", ALLOYS, "tin-lead", "must be the same"),
        *_cycle("use", "In use", 10.0, 60.0, 2.0),
        *_cycle("test", "In the test", -40.0, 125.0, 48.0),
        Amount("cycles", "Cycles lived in the test", "", 1.0, 1e6, 1000.0),
    ),
    work=_work,
    told=_told,
    source=(
        "Norris and Landzberg, IBM Journal of Research and Development 13 (1969) 266, tin-lead: "
        "exponent 1.9, frequency 1/3, 1414 K, as an open handbook of reliability for space has "
        "them (0.122 eV; thermo-mechanical stress, seen), with the sign used here and cycles "
        "counted up to two hours. Tin-silver-copper: Pan and others, SMTA International 2005: "
        "2.65, 0.136 of the hot dwell (seen second-hand), 2185 K (from memory); beside it Lall and "
        "others, Journal of Electronic Packaging 134 (2012): 2.3, 0.3, 0.39 eV (seen second-hand). "
        "The sign of the frequency term is disputed and both are given. That no numbers fit all "
        'lead-free joints: "Limitations of Norris-Landzberg equation", abstract, seen'
    ),
    limits=(
        "Joints of one alloy that fail by fatigue, of the same part on the same board; a joint "
        "where leaded and lead-free solder were mixed has no published numbers. Good to compare "
        "two cycles; a single joint scatters by more than a factor of two (common practice, no "
        "source), and vibration is not in it."
    ),
    drawing=(
        "Cycles in use for one of the test over the swing in use, with both signs of the frequency "
        "term and the case given marked."
    ),
    cautions=(
        "A promise of years to a customer does not follow from this: it compares two cycles.",
    ),
)
