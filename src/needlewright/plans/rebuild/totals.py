"""The exact sum of many fractions, without reducing every sum on the way."""

from collections.abc import Iterable
from fractions import Fraction
from math import lcm


def total_of(amounts: Iterable[Fraction]) -> Fraction:
    """Add fractions over their common denominator.

    Parameters
    ----------
    amounts
        Any number of them, of one unit.

    Returns
    -------
    Fraction
        Their sum in the same unit, exact and reduced; 0 of none.
    """
    pairs = [one.as_integer_ratio() for one in amounts if one]
    common = lcm(*(below for _, below in pairs))
    return Fraction(sum(above * (common // below) for above, below in pairs), common)
