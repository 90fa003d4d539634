"""Height, pitch and seat of a needle from where its axis is seen, by weighted least squares.

Source: Gauss-Newton of a weighted sum of squares, JCGM 100:2008 (GUM) 5.2.2 for what the inputs'
covariances leave open of the four numbers; derivation of the model in docs/calibrating.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import chdtrc

from needlewright.readings.projection import Array
from needlewright.readings.standing.geometry import Frame, Standing
from needlewright.readings.standing.looks import AxisSeen
from needlewright.readings.viewpoint import Viewpoint

PASSES: Final = 12
SETTLED: Final = 1e-9
STEPS: Final = np.array([1e-6, 1e-5, 1e-5, 1e-6])
"""By which derivatives are taken: radians, mm, mm, radians."""
LOOSE: Final = np.array([0.2, 3.0, 30.0, 0.3])
"""Standard deviations of a prior so wide that it only keeps what is not told from running away."""


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """What the lines say."""

    standing: Standing
    covariance: Array
    """(4, 4) of turn (rad), beside (mm), height (mm), pitch (rad), by the lines alone."""
    chi2: float
    each: Array
    """(n,) share of `chi2` of each photo."""
    degrees_of_freedom: int

    @property
    def chance(self) -> float:
        """Probability that lines of a needle that rests differ at least so much: of chi-squared."""
        # not of scipy.stats: loading that takes longer than the question
        return float(chdtrc(max(self.degrees_of_freedom, 1), self.chi2))


def solve(
    frame: Frame,
    seen: Sequence[AxisSeen],
    viewpoints: Sequence[Viewpoint],
    begin: Standing,
) -> Solution:
    """Find how a needle stands.

    Parameters
    ----------
    frame
        Along and across it.
    seen
        Its axis in each photo.
    viewpoints
        Where each was taken from.
    begin
        To begin with.

    Returns
    -------
    Solution
        The weighted least squares of all lines together.
    """
    numbers = np.array([begin.turn_rad, begin.beside_mm, begin.height_mm, begin.pitch_rad])
    first = numbers.copy()
    roots = [np.linalg.cholesky(np.linalg.inv(one.covariance)).T for one in seen]

    def residuals(at: Array) -> Array:
        standing = Standing.of(at)
        return np.concatenate(
            [
                root @ (one.beside_mm - frame.line(standing, viewpoint, one.at_mm))
                for root, one, viewpoint in zip(roots, seen, viewpoints, strict=True)
            ]
        )

    hold = np.diag(1 / LOOSE**2)
    for _ in range(PASSES):
        left = residuals(numbers)
        slopes = np.stack(
            [(residuals(numbers + step) - left) / step.sum() for step in np.diag(STEPS)], axis=1
        )
        normal = slopes.T @ slopes + hold
        change = np.linalg.solve(normal, -slopes.T @ left - hold @ (numbers - first))
        numbers = numbers + change
        if float(change @ normal @ change) < SETTLED:
            break
    left = residuals(numbers)
    each = (left**2).reshape(len(seen), 2).sum(axis=1)
    return Solution(
        Standing.of(numbers), np.linalg.inv(normal), float(each.sum()), each, 2 * len(seen) - 4
    )
