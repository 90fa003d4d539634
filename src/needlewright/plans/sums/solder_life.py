"""How long solder joints live in one temperature cycle when it is known for another."""

from dataclasses import dataclass
from math import exp
from typing import Final, Literal

from scipy.constants import zero_Celsius

from needlewright.errors import SumError

Alloy = Literal["tin-lead", "SAC"]


@dataclass(frozen=True, slots=True)
class Constants:
    """What was fitted to lives of one alloy."""

    alloy: Alloy
    swing: float
    """Exponent of the swing."""
    rate: float
    """Exponent of the frequency; of the hot dwell, turned round, where that was fitted."""
    warmth_k: float
    """Barrier by Boltzmann's constant, K."""
    whose: str


CONSTANTS: Final[dict[Alloy, Constants]] = {
    "tin-lead": Constants("tin-lead", 1.9, 1.0 / 3.0, 1414.0, "Norris and Landzberg 1969"),
    "SAC": Constants("SAC", 2.65, 0.136, 2185.0, "Pan and others 2005"),
}
"""**Source**: tin-lead: an open handbook of reliability for space (reliability.space, its
equation of thermo-mechanical stress, seen) has 0.122 eV, 1.9 and 0.33, and finds them fit for
lead-free too; 1414 K are 0.122 eV. SAC: 2.65 and 0.136 as an open collection of acceleration
factors has them (seen), 2185 K from memory: N. Pan and others, SMTA International 2005, fitted to
the time of the hot dwell, which is taken as a fixed share of the cycle here."""
OTHER_SAC: Final = Constants("SAC", 2.3, 0.3, 4562.0, "Lall and others 2012")
"""Another fit to lives of SAC305 (P. Lall and others, Journal of Electronic Packaging 134, 2012;
seen second-hand in the same collection as 2.3, 0.3 and 0.4 eV, the 4562 K from memory are 0.393):
the two stand for how far published fits of lead-free solder lie apart."""
CREEP_DONE_H: Final = 2.0
"""A longer cycle wears a joint no more than one of this length. **Source**: the same handbook,
which counts a cycle's duration up to two hours."""
HIGHEST_C: Final = 150.0
"""Above it the joint is next to melting, and the powers were never fitted (from memory)."""


@dataclass(frozen=True, slots=True)
class Cycle:
    """A cycle of temperature."""

    low_c: float
    high_c: float
    a_day: float
    """How often."""

    @property
    def swing_k(self) -> float:
        """From low to high."""
        return self.high_c - self.low_c


@dataclass(frozen=True, slots=True)
class SolderLife:
    """Life in use by life in a test."""

    use: Cycle
    test: Cycle
    constants: Constants
    swing_share: float
    rate_share: float
    """With the sign that makes slow cycles wear more."""
    warmth_share: float
    test_cycles: float

    @property
    def factor(self) -> float:
        """Cycles in use for one in the test."""
        return self.swing_share * self.rate_share * self.warmth_share

    @property
    def factor_other_sign(self) -> float:
        """The same with the term of frequency turned round, as some examples have it."""
        return self.swing_share / self.rate_share * self.warmth_share

    @property
    def factor_creep_done(self) -> float | None:
        """The same where a cycle longer than `CREEP_DONE_H` wears no more than one that long.

        None where that changes nothing, or was not published for the alloy.
        """
        if self.constants.alloy != "tin-lead":
            return None
        use_h, test_h = (24.0 / one.a_day for one in (self.use, self.test))
        if max(use_h, test_h) <= CREEP_DONE_H:
            return None
        longer = min(test_h, CREEP_DONE_H) / min(use_h, CREEP_DONE_H)
        return float(self.swing_share * longer**self.constants.rate * self.warmth_share)

    @property
    def other_fit(self) -> "SolderLife | None":
        """The same by another published fit; None where none is known to disagree."""
        if self.constants != CONSTANTS["SAC"]:
            return None
        return _by(OTHER_SAC, self.use, self.test, self.test_cycles)

    @property
    def use_cycles(self) -> float:
        """That joints live in use which lived `test_cycles` in the test."""
        return self.factor * self.test_cycles

    @property
    def use_years(self) -> float:
        """The same in years."""
        return self.use_cycles / self.use.a_day / 365.25

    @property
    def use_years_other_sign(self) -> float:
        """The same with the other sign."""
        return self.factor_other_sign * self.test_cycles / self.use.a_day / 365.25


def solder_life(
    use: Cycle,
    test: Cycle,
    test_cycles: float,
    alloy: Alloy = "tin-lead",
    test_alloy: Alloy | None = None,
) -> SolderLife:
    """Life of solder joints in one temperature cycle by that in another.

    Parameters
    ----------
    use
        The cycle asked about.
    test
        The cycle whose life is known.
    test_cycles
        That the joints lived there.
    alloy
        Of the joints in use.
    test_alloy
        Of the joints in the test; None: the same.

    Returns
    -------
    SolderLife
        The three shares, and both signs of the disputed one.

    Raises
    ------
    SumError
        If a cycle has no swing, or the two joints are of different alloys: what was fitted to one
        says nothing of the other.

    Notes
    -----
    **Source**: Norris and Landzberg (1969): (dT test / dT use)^n x (f use / f test)^m x
    exp(B (1 / T use - 1 / T test)), T the highest of the cycle in kelvins; `CONSTANTS` for n, m and
    B. Published examples disagree on the sign of the frequency term; the handbook named at
    `CONSTANTS` has the one used here, by the cycle's duration; derivation: docs/decisions/0062.
    """
    if test_alloy is not None and test_alloy != alloy:
        raise SumError(
            f"Joint in the test: it is {test_alloy} and the joint in use {alloy}; no "
            "published numbers carry a life from one to the other, so take a test of the same alloy"
        )
    for words, cycle in (("In use", use), ("In the test", test)):
        if cycle.swing_k <= 0:
            raise SumError(
                f"{words}: hottest: {cycle.high_c:g} °C is not above the coldest, "
                f"{cycle.low_c:g} °C; correct one of the two"
            )
    return _by(CONSTANTS[alloy], use, test, test_cycles)


def _by(constants: Constants, use: Cycle, test: Cycle, test_cycles: float) -> SolderLife:
    return SolderLife(
        use,
        test,
        constants,
        swing_share=(test.swing_k / use.swing_k) ** constants.swing,
        rate_share=(use.a_day / test.a_day) ** constants.rate,
        warmth_share=exp(
            constants.warmth_k
            * (1 / (use.high_c + zero_Celsius) - 1 / (test.high_c + zero_Celsius))
        ),
        test_cycles=test_cycles,
    )
