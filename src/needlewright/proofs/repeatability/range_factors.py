"""Mean and spread of the range of normal samples, from their definition instead of a table."""

from functools import lru_cache
from math import hypot
from typing import Final

import numpy as np
from scipy.special import ndtr

_REACH: Final = 9.0
"""Standard deviations to both sides; beyond lies nothing a double can hold."""
_STEPS: Final = 1801
_MANY: Final = 15


@lru_cache(maxsize=64)
def range_moments(count: int) -> tuple[float, float]:
    """Mean and standard deviation of the range of a sample of a unit normal law.

    Parameters
    ----------
    count
        Values in the sample, 2 or more.

    Returns
    -------
    tuple of float
        d2 and d3 of quality control.

    Raises
    ------
    ValueError
        For a sample of fewer than two.

    Notes
    -----
    With F the distribution, the mean is the integral of 1 - F^n - (1 - F)^n, and the mean square
    twice the integral over x < y of 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n.
    **Source** Tippett, Biometrika 17 (1925) 364 (from memory).
    """
    if count < 2:
        raise ValueError(f"a range needs two values, given {count}")
    x, step = np.linspace(-_REACH, _REACH, _STEPS, retstep=True)
    below = ndtr(x)
    none_below, none_above = (1.0 - below) ** count, below**count
    d2 = float(np.sum(1.0 - none_above - none_below) * step)
    both = np.maximum(below[np.newaxis, :] - below[:, np.newaxis], 0.0) ** count
    inside = 1.0 - none_above[np.newaxis, :] - none_below[:, np.newaxis] + both
    # The sum over x < y takes half of the diagonal, which belongs to it.
    square = float(2.0 * (np.sum(np.triu(inside, 1)) + 0.5 * np.sum(np.diag(inside))) * step**2)
    return d2, float(np.sqrt(square - d2**2))


def range_to_sigma(count: int, samples: int) -> float:
    """Factor that makes a standard deviation of a mean range.

    Parameters
    ----------
    count
        Values in each sample.
    samples
        How many samples the mean range is of.

    Returns
    -------
    float
        Of one sample 1 / d2*, with d2*^2 = d2^2 + d3^2; of more than fifteen 1 / d2.

    Notes
    -----
    **Source** AIAG, Measurement Systems Analysis, 4th edition, appendix C (from memory): d2*
    tends to d2, which is taken for more than fifteen samples.
    """
    d2, d3 = range_moments(count)
    return 1.0 / (d2 if samples > _MANY else hypot(d2, d3 / np.sqrt(samples)))


def printed_factor(count: int, samples: int) -> float:
    """The factor with the four decimals that tables print, so that results agree with theirs.

    Parameters
    ----------
    count
        Values in each sample.
    samples
        How many samples the mean range is of.

    Returns
    -------
    float
        `range_to_sigma`, rounded.
    """
    return round(range_to_sigma(count, samples), 4)
