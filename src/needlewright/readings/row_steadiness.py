"""Stretches of a needle that pull the line aside: how little each row then counts.

A shadow across the needle, print that touches it, the light of the hub: what is not in the model
moves whole stretches, and no single sample looks wrong. So each row is also judged by the stretch
about it: how far the middle of that stretch lies from the line through all of them.

Source: derivation in docs/decisions/0004-needle-fit.md.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.projection import Array

STRETCH_PX: Final = 4.0
ASIDE: Final = 4.0
"""Spreads beyond which a stretch counts less than half (Cauchy weights)."""
LEAST_SPREAD_PX: Final = 0.03
PASSES: Final = 4


def row_weights(
    r_px: Array, shift_px: Array, information: Array, accepted: NDArray[np.bool_]
) -> Array:
    """Weights of rows by how far the stretch about them lies from the line.

    Parameters
    ----------
    r_px
        (rows,) places along the needle, rising.
    shift_px
        (rows,) how far each row alone would move the needle sideways.
    information
        (rows,) inverse variance of that.
    accepted
        (rows,) rows in which the needle is there.

    Returns
    -------
    NDArray
        (rows,) 0..1.
    """
    heavy = information * accepted
    if np.count_nonzero(heavy) < 3:
        return np.ones(len(r_px))
    first = np.searchsorted(r_px, r_px - STRETCH_PX / 2 - 1e-9)
    last = np.searchsorted(r_px, r_px + STRETCH_PX / 2 + 1e-9)
    weighed = _sums(heavy, first, last) + 1e-12
    weights = np.ones(len(r_px))
    for _ in range(PASSES):
        aside = _sums(heavy * (shift_px - _line(r_px, shift_px, weights * heavy)), first, last)
        aside /= weighed
        spread = max(1.4826 * float(np.median(np.abs(aside[accepted]))), LEAST_SPREAD_PX)
        weights = 1 / (1 + (aside / (ASIDE * spread)) ** 2)
    return np.asarray(weights)


def _line(r_px: Array, shift_px: Array, weights: Array) -> Array:
    """The weighted straight line through the shifts, at every row."""
    total = weights.sum() + 1e-12
    middle, level = weights @ r_px / total, weights @ shift_px / total
    away = r_px - middle
    slope = (weights * away) @ shift_px / ((weights * away) @ away + 1e-12)
    return np.asarray(level + slope * away)


def _sums(values: Array, first: NDArray[np.intp], last: NDArray[np.intp]) -> Array:
    running = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray(running[last] - running[first])
