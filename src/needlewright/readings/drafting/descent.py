"""Least squares of some dozens of numbers: Gauss-Newton steps, damped where they do not help.

A few hundred residuals by some forty numbers: the normal equations are solved in no time, where a
decomposition of the whole design takes most of a second on a busy machine.

Source: K. Levenberg, A method for the solution of certain non-linear problems in least squares,
Quarterly of Applied Mathematics 2 (1944); tested against SciPy's `least_squares`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.readings.projection import Array

STEPS: Final = 60
SMALL: Final = 1e-6
"""Share of its sum of squares that a step must still gain."""
MOST_DAMPING: Final = 1e6


@dataclass(frozen=True, slots=True)
class Least:
    """A minimum."""

    x: Array
    jacobian: Array
    residuals: Array


def descend(residuals: Callable[[Array], Array], x: Array, scales: Array, *, robust: bool) -> Least:
    """Minimise a sum of squares.

    Parameters
    ----------
    residuals
        Of n numbers, in standard deviations.
    x
        Where to begin, (n,).
    scales
        Of each number, what is a usual change of it.
    robust
        Whether residuals beyond a standard deviation count by their size instead of its square.

    Returns
    -------
    Least
        With the derivatives of the residuals (not weighed) at the minimum.
    """
    off = residuals(x)
    damping, weights = 1e-3, _weights(off, robust)
    best = float(weights @ off**2)
    jacobian = _jacobian(residuals, x, off, scales)
    for _ in range(STEPS):
        weighed = jacobian * weights[:, None]
        normal = weighed.T @ jacobian
        pull = weighed.T @ off
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-12), -pull)
        trial = residuals(x + step)
        gained = best - float(weights @ trial**2)
        if gained < 0:
            damping *= 10.0
            if damping > MOST_DAMPING:
                break
            continue
        x, off, damping = x + step, trial, max(damping / 10.0, 1e-9)
        jacobian = _jacobian(residuals, x, off, scales)
        done = gained < SMALL * best
        weights = _weights(off, robust)
        best = float(weights @ off**2)
        if done:
            break
    return Least(x, jacobian, off)


def _weights(off: Array, robust: bool) -> Array:
    return 1.0 / np.sqrt(1.0 + off**2) if robust else np.ones_like(off)


def _jacobian(residuals: Callable[[Array], Array], x: Array, off: Array, scales: Array) -> Array:
    columns = []
    for i, scale in enumerate(scales):
        moved = x.copy()
        moved[i] += 1e-4 * scale
        columns.append((residuals(moved) - off) / (1e-4 * scale))
    return np.stack(columns, axis=1)
