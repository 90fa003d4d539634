"""How much faster something ages when it is warmer, where one barrier governs it."""

from dataclasses import dataclass
from math import exp
from typing import Final

from scipy.constants import Boltzmann, elementary_charge, zero_Celsius

EV_K: Final = Boltzmann / elementary_charge
"""Boltzmann's constant, eV/K (CODATA, exact since 2019)."""

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Aging:
    """Ageing at a test's temperature beside that in use."""

    energy_ev: float
    within_ev: float
    use_c: float
    test_c: float
    factor: float
    """How much faster the test ages."""
    factor_range: Range
    test_h: float

    @property
    def use_h(self) -> float:
        """Hours in use that age as much as the test."""
        return self.factor * self.test_h

    @property
    def use_h_range(self) -> Range:
        """The same by what the barrier may be."""
        low, high = self.factor_range
        return low * self.test_h, high * self.test_h


def arrhenius_factor(energy_ev: float, use_c: float, test_c: float) -> float:
    """How much faster something ages at one temperature than at another.

    Parameters
    ----------
    energy_ev
        The barrier, eV.
    use_c
        degC.
    test_c
        degC.

    Returns
    -------
    float
        Above 1 where the test is warmer.

    Notes
    -----
    **Source**: Arrhenius' law, exp(E / k (1 / T use - 1 / T test)), as the documentation of the
    open package `reliability` has it, with a worked example.
    """
    inverse = 1 / (use_c + zero_Celsius) - 1 / (test_c + zero_Celsius)
    return exp(energy_ev / EV_K * inverse)


def aging(energy_ev: float, within_ev: float, use_c: float, test_c: float, test_h: float) -> Aging:
    """Hours in use that age as much as hours in a test.

    Parameters
    ----------
    energy_ev
        The barrier, eV.
    within_ev
        How near it is known, eV: limits either way; it stays above 0.
    use_c
        degC.
    test_c
        degC.
    test_h
        h.

    Returns
    -------
    Aging
        With the range that the barrier's makes.
    """
    ends = sorted(
        arrhenius_factor(energy, use_c, test_c)
        for energy in (max(energy_ev - within_ev, 0.0), energy_ev + within_ev)
    )
    factor = arrhenius_factor(energy_ev, use_c, test_c)
    return Aging(energy_ev, within_ev, use_c, test_c, factor, (ends[0], ends[1]), test_h)
