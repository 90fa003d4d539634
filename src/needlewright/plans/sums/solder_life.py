"""How long solder joints live in one temperature cycle when it is known for another."""

from dataclasses import dataclass
from math import exp
from typing import Final

from scipy.constants import zero_Celsius

from needlewright.errors import SumError

SWING_EXPONENT: Final = 1.9
RATE_EXPONENT: Final = 1.0 / 3.0
WARMTH_K: Final = 1414.0
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


def solder_life(use: Cycle, test: Cycle, test_cycles: float) -> SolderLife:
    """Life of tin-lead joints in one temperature cycle by that in another.

    Parameters
    ----------
    use
        The cycle asked about.
    test
        The cycle whose life is known.
    test_cycles
        That the joints lived there.

    Returns
    -------
    SolderLife
        The three shares, and both signs of the disputed one.

    Raises
    ------
    SumError
        If a cycle has no swing, or comes near melting.

    Notes
    -----
    **Source**: Norris and Landzberg (1969) for tin-lead: (dT test / dT use)^1.9 x
    (f use / f test)^(1/3) x exp(1414 K (1 / T use - 1 / T test)), T the highest of the cycle in
    kelvins. Published examples disagree on the sign of the frequency term; derivation:
    docs/decisions/0062.
    """
    for words, cycle in (("use", use), ("test", test)):
        if cycle.swing_k <= 0:
            raise SumError(
                f"Cycle in {words}: its high, {cycle.high_c:g} °C, is not above its low, "
                f"{cycle.low_c:g} °C; correct one of the two"
            )
    return SolderLife(
        use,
        test,
        swing_share=(test.swing_k / use.swing_k) ** SWING_EXPONENT,
        rate_share=(use.a_day / test.a_day) ** RATE_EXPONENT,
        warmth_share=exp(
            WARMTH_K * (1 / (use.high_c + zero_Celsius) - 1 / (test.high_c + zero_Celsius))
        ),
        test_cycles=test_cycles,
    )
