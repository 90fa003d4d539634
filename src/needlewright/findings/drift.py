"""Whether a needle drifts: the same check point, read again and again over hours.

The camera stands, so what is common to all readings falls out of their differences; what is left is
seen in their scatter about a line. A trend is told by ranks, which no single bad reading makes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import comb, erfc, factorial, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

ALPHA: Final = 0.05
"""Probability that any of a unit's sound check points is said to drift."""
FEWEST: Final = 3
"""Looks below which no line has a scatter."""
EXACT: Final = 60
"""Looks up to which the ranks' distribution is counted out."""
LEAST_SCATTER_DEG: Final = 0.005
"""No line is taken to be better known than this (common practice, no source)."""
ALIKE_DEGC: Final = 5.0
"""Looks further from the first one's temperature are not compared with it."""
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LookAgain:
    """A reading of a check point."""

    hours: float
    angle_deg: float
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class Drift:
    """What the looks at one check point say.

    Parameters
    ----------
    looks
        How many are compared.
    left_out
        Looks at another temperature.
    hours
        From the first to the last of them.
    rate_deg_h, u_rate_deg_h
        Degrees clockwise an hour, by the line of least squares, with standard uncertainty (k = 1);
        None: too few looks.
    change_deg, u_change_deg
        The same over all the hours.
    scatter_deg
        Standard deviation of the readings about the line.
    p
        Probability that sound readings look as much like a trend (Mann and Kendall); None: too few.
    drifts
        Whether they are said to drift; None: too few looks to tell.
    """

    looks: int
    left_out: int
    hours: float
    rate_deg_h: float | None = None
    u_rate_deg_h: float | None = None
    change_deg: float | None = None
    u_change_deg: float | None = None
    scatter_deg: float | None = None
    p: float | None = None
    drifts: bool | None = None


def drift_of(looks: Sequence[LookAgain], points: int = 1) -> Drift:
    """Look for a drift at one check point.

    Parameters
    ----------
    looks
        In time.
    points
        How many check points of the unit are judged; their risks are shared out.

    Returns
    -------
    Drift
        Judged where there are enough looks.

    Notes
    -----
    The line and its uncertainty: NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1. The
    trend: H. B. Mann, Econometrica 13 (1945) 245, and M. G. Kendall, Rank Correlation Methods; the
    shared risk: Bonferroni (all from memory). **Source**: derivation: docs/decisions/0064.
    """
    alike = [one for one in looks if _is_alike(looks[0], one)]
    left_out = len(looks) - len(alike)
    hours = np.array([one.hours for one in alike])
    angles = np.array([one.angle_deg for one in alike])
    span = float(hours[-1] - hours[0]) if len(hours) else 0.0
    if len(alike) < FEWEST or span <= 0:
        return Drift(len(alike), left_out, span)
    rate, u_rate, scatter = _line(hours, angles)
    p = trend_p(angles)
    allowed = ALPHA / max(points, 1)
    least = 2 / factorial(len(alike))
    drifts = p <= allowed if least <= allowed else None
    return Drift(
        len(alike), left_out, span, rate, u_rate, rate * span, u_rate * span, scatter, p, drifts
    )


def fewest_looks(points: int) -> int:
    """Looks from which a trend can be told at all.

    Parameters
    ----------
    points
        How many check points are judged.

    Returns
    -------
    int
        The least n with 2 / n! no more than each point's share of the risk.
    """
    n = FEWEST
    while 2 / factorial(n) > ALPHA / max(points, 1):
        n += 1
    return n


def trend_p(values: FloatArray) -> float:
    """How likely values in chance order look as much like a trend.

    Parameters
    ----------
    values
        In time, at least two.

    Returns
    -------
    float
        Two-sided, of the test by Mann and Kendall: counted out for up to `EXACT` values without
        ties, else by the normal approximation with ties and continuity corrected.
    """
    n = len(values)
    signs = np.sign(values[None, :] - values[:, None])
    s = int(np.triu(signs, 1).sum())
    if len(np.unique(values)) == n and n <= EXACT:
        return _exact(n, abs(s))
    ties = [int(count) for count in np.unique(values, return_counts=True)[1]]
    variance = n * (n - 1) * (2 * n + 5) - sum(t * (t - 1) * (2 * t + 5) for t in ties)
    if variance <= 0 or s == 0:
        return 1.0
    z = (abs(s) - 1) / sqrt(variance / 18)
    return erfc(z / sqrt(2))


def _exact(n: int, s: int) -> float:
    """Share of all orders of n values whose score is as far from 0 as s."""
    pairs = comb(n, 2)
    as_far = sum(
        count for inversions, count in enumerate(_ways(n)) if abs(pairs - 2 * inversions) >= s
    )
    return as_far / factorial(n)


@cache
def _ways(n: int) -> list[int]:
    """Orders of n values by their number of inversions; the same for every check point."""
    ways = [1]
    for place in range(1, n):  # orders by number of inversions, one value more each time
        longer = [0] * (len(ways) + place)
        for shift in range(place + 1):
            for at, count in enumerate(ways):
                longer[at + shift] += count
        ways = longer
    return ways


def _line(hours: FloatArray, angles: FloatArray) -> tuple[float, float, float]:
    """Slope, its standard uncertainty, and the scatter about the line."""
    off = hours - hours.mean()
    squares = float(off @ off)
    rate = float(off @ (angles - angles.mean())) / squares
    left = angles - angles.mean() - rate * off
    scatter = max(sqrt(float(left @ left) / (len(hours) - 2)), LEAST_SCATTER_DEG)
    return rate, scatter / sqrt(squares), scatter


def _is_alike(first: LookAgain, one: LookAgain) -> bool:
    if first.temperature_c is None or one.temperature_c is None:
        return first.temperature_c is one.temperature_c
    return abs(one.temperature_c - first.temperature_c) <= ALIKE_DEGC
