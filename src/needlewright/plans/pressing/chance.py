"""How likely it is that every row of the final check conforms, before a needle is pressed.

What all rows share (the hand, the movement's place while it is pressed, its reading) shifts them
together; what each row has of its own strays on top. Given the shift the rows are independent, so

    P = integral of phi(x; spread) product over rows (Phi((high - rise - x) / stray)
        - Phi((low - rise - x) / stray)) dx

**Source** conformance probability with normal distributions, JCGM 106:2012, 7; propagation of
distributions by Monte Carlo, JCGM 101:2008, 5 and 7.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Final

import numpy as np
from scipy.special import ndtr

from needlewright.plans.pressing.windows import Window

_REACH: Final = 8.0
"""Spreads on either side over which is integrated; beyond lies 1e-15."""
_POINTS: Final = 8001
_LEAST_DEG: Final = 1e-9
TRIALS: Final = 200_000
SEED: Final = 20_101


@dataclass(frozen=True, slots=True)
class Trialled:
    """A probability counted from trials."""

    probability: float
    u_probability: float
    """Standard uncertainty (k = 1) from the number of trials."""
    trials: int


def chance_by_integration(windows: Sequence[Window], rise_deg: float, spread_deg: float) -> float:
    """Probability that every row conforms.

    Parameters
    ----------
    windows
        Of all rows.
    rise_deg
        The turn that is aimed for, up the scale.
    spread_deg
        Standard deviation of what all rows share.

    Returns
    -------
    float
        0..1; 1 without any row.

    Notes
    -----
    Trapezoidal rule over 16 spreads; against the closed form of one row to 1e-6.
    """
    if not windows:
        return 1.0
    spread = max(spread_deg, _LEAST_DEG)
    steps = np.linspace(-_REACH, _REACH, _POINTS)
    inside = np.ones_like(steps)
    for one in windows:
        inside *= _inside(one, rise_deg + spread * steps)
    density = np.exp(-(steps**2) / 2) / sqrt(2 * np.pi)
    return float(min(max(np.trapezoid(inside * density, steps), 0.0), 1.0))


def _inside(one: Window, at: np.ndarray) -> np.ndarray:
    stray = max(one.stray_deg, _LEAST_DEG)
    return np.clip(ndtr((one.high_deg - at) / stray) - ndtr((one.low_deg - at) / stray), 0.0, 1.0)


def chance_of_one(window: Window, rise_deg: float, spread_deg: float) -> float:
    """The closed form for a dial judged at one row: a normal distribution between two limits.

    Parameters
    ----------
    window
        Of the row.
    rise_deg
        The turn that is aimed for, up the scale.
    spread_deg
        Standard deviation of what all rows share.

    Returns
    -------
    float
        0..1.

    Notes
    -----
    **Source** JCGM 106:2012, 7.4.
    """
    u = max(float(np.hypot(spread_deg, window.stray_deg)), _LEAST_DEG)
    return float(ndtr((window.high_deg - rise_deg) / u) - ndtr((window.low_deg - rise_deg) / u))


def chance_by_trials(
    windows: Sequence[Window],
    rise_deg: float,
    spread_deg: float,
    *,
    trials: int = TRIALS,
    seed: int = SEED,
) -> Trialled:
    """The same, counted: needles are pressed and checked as often as asked.

    Parameters
    ----------
    windows
        Of all rows.
    rise_deg
        The turn that is aimed for, up the scale.
    spread_deg
        Standard deviation of what all rows share.
    trials
        How many.
    seed
        Of the random numbers, so that the same input gives the same answer.

    Returns
    -------
    Trialled
        The share that conforms in every row.

    Notes
    -----
    **Source** JCGM 101:2008, 5.9 and 6.4.7.
    """
    rng = np.random.default_rng(seed)
    shift = rise_deg + spread_deg * rng.standard_normal(trials)
    conforms = np.ones(trials, bool)
    for one in windows:
        at = shift + one.stray_deg * rng.standard_normal(trials)
        conforms &= (at >= one.low_deg) & (at <= one.high_deg)
    share = float(conforms.mean())
    return Trialled(share, sqrt(max(share * (1 - share), 1 / trials) / trials), trials)


def balanced_rise(windows: Sequence[Window], spread_deg: float) -> float | None:
    """The rise whose smallest margin, counted in what may come, is largest.

    Parameters
    ----------
    windows
        Of all rows.
    spread_deg
        Standard deviation of what all rows share.

    Returns
    -------
    float or None
        Degrees up the scale; None where the limits are on one side only.

    Notes
    -----
    Every distance to a lower limit grows with the rise and every one to an upper limit shrinks,
    each in its own spread; so the smallest of each kind cross once. **Source** derivation:
    docs/needle-set.md.
    """
    lower = [(one.low_deg, _spread(one, spread_deg)) for one in windows if one.low_deg > -inf]
    upper = [(one.high_deg, _spread(one, spread_deg)) for one in windows if one.high_deg < inf]
    if not lower or not upper:
        return None
    # Two lines (x - low) / a and (high - x) / b cross at (low b + high a) / (a + b); the lowest
    # crossing of all pairs is where the smallest of both kinds meet, seen from either side.
    low_at, low_u = np.array(lower).T
    high_at, high_u = np.array(upper).T
    crossing = (low_at[:, None] * high_u + high_at * low_u[:, None]) / (low_u[:, None] + high_u)
    height = (high_at - low_at[:, None]) / (low_u[:, None] + high_u)
    return float(crossing.flat[int(np.argmin(height))])


def smallest_in_spreads(windows: Sequence[Window], rise_deg: float, spread_deg: float) -> float:
    """The smallest margin of a rise, in standard deviations of what may come; infinite without."""
    return min((one.nearest(rise_deg) / _spread(one, spread_deg) for one in windows), default=inf)


def _spread(one: Window, spread_deg: float) -> float:
    return max(float(np.hypot(spread_deg, one.stray_deg)), _LEAST_DEG)
