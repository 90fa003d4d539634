"""Where the marks of one dial converge.

A mark points at the centre its dial was drawn about; a rim may be raised off the face, or printed
about another point. So the centre is where the marks' own lines meet: weighted least squares of
their distances from it, each line weighing what its length and its distance allow, and lines that
pass it by far (a numeral's stroke, a needle) losing their say.

Source: derivation in docs/decisions/0040-drafting.md.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.readings.projection import Array

ROUNDS: Final = 12
TUNING: Final = 2.0
"""Times its standard deviation at which a line's say is halved."""


@dataclass(frozen=True, slots=True)
class Convergence:
    """A point that lines meet in."""

    centre: Array
    """(2,)."""
    covariance: Array
    """2 x 2, scaled by how well the lines in fact meet."""
    offsets: Array
    """(n,): distance of each line from the centre, to its left seen along it."""


def line_doubt(
    inner: Array,
    outer: Array,
    scatter: Array | float,
    centre: Array,
    seen: Array | float = 1.0,
) -> Array:
    """Standard deviation of the distance at which each line passes a far point.

    Parameters
    ----------
    inner
        (n, 2), ends of the lines.
    outer
        (n, 2), their other ends.
    scatter
        Standard deviation of a line's points about it, for points a unit apart.
    centre
        The point; (2,), or one for each line (n, 2).
    seen
        Share of each line's length that it was measured on.

    Returns
    -------
    NDArray
        (n,): the line's place and its direction, over the lever from its middle to the point.
    """
    length = seen * np.linalg.norm(outer - inner, axis=1)
    lever = np.linalg.norm((inner + outer) / 2 - centre, axis=1)
    place = scatter / np.sqrt(length)
    turn = scatter * np.sqrt(12.0 / length) / length
    return np.asarray(np.hypot(place, lever * turn))


def converge(inner: Array, outer: Array, doubt: Array) -> Convergence | None:
    """Find where lines meet.

    Parameters
    ----------
    inner
        (n, 2), ends of at least two lines.
    outer
        (n, 2), their other ends.
    doubt
        (n,), standard deviation of each line's distance from the point, see `line_doubt`.

    Returns
    -------
    Convergence | None
        None when the lines are parallel or too few.
    """
    if len(inner) < 2:
        return None
    along = outer - inner
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    normals = np.stack([-along[:, 1], along[:, 0]], axis=1)
    at = np.sum(normals * inner, axis=1)
    weights = 1.0 / doubt**2
    say = np.ones(len(inner))
    centre = np.zeros(2)
    for _ in range(ROUNDS):
        matrix = (normals * (weights * say)[:, None]).T @ normals
        if np.linalg.cond(matrix) > 1e7:
            return None
        centre = np.linalg.solve(matrix, (normals * (weights * say * at)[:, None]).sum(axis=0))
        ratio = np.abs(normals @ centre - at) / doubt
        spread = max(1.4826 * float(np.median(ratio)), 1.0)
        say = 1.0 / (1.0 + (ratio / (TUNING * spread)) ** 2)
    offsets = normals @ centre - at
    free = max(float(say.sum()) - 2.0, 1.0)
    variance = float(np.sum(weights * say * offsets**2)) / free
    return Convergence(centre, np.linalg.inv(matrix) * max(variance, 1.0), offsets)
