"""A straight line through measured points, with the uncertainties and correlation of its two parts.

**Source** JCGM 100:2008 (GUM), H.3.2, equations H.13a to H.13g (equal unknown uncertainties, from
the residuals); the weighted form for stated uncertainties is the same least squares with weights
1/u^2.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np


@dataclass(frozen=True, slots=True)
class LineFit:
    """y = intercept + slope (x - x_zero)."""

    intercept: float
    slope: float
    u_intercept: float
    """Standard uncertainty (k = 1)."""
    u_slope: float
    """Standard uncertainty (k = 1)."""
    correlation: float
    """Of intercept and slope, -1..1."""
    x_zero: float
    degrees_of_freedom: int

    def value_at(self, x: float) -> float:
        """The line's value."""
        return self.intercept + self.slope * (x - self.x_zero)

    def u_value_at(self, x: float) -> float:
        """Standard uncertainty (k = 1) of the line's value, correlation included."""
        run = (x - self.x_zero) * self.u_slope
        cross = 2.0 * run * self.u_intercept * self.correlation
        return sqrt(max(hypot(self.u_intercept, run) ** 2 + cross, 0.0))


def fit_line(
    x: Sequence[float],
    y: Sequence[float],
    u: Sequence[float] | None = None,
    x_zero: float = 0.0,
) -> LineFit:
    """Fit a straight line by least squares.

    Parameters
    ----------
    x
        Where, at two places at least; taken as exact.
    y
        What was measured there.
    u
        Standard uncertainties (k = 1) of `y`, above zero; None: equal and not known, so that they
        come from the residuals, for which three points at least are needed.
    x_zero
        Where the intercept is taken.

    Returns
    -------
    LineFit
        The line.

    Raises
    ------
    ValueError
        If there are too few points or they all stand at one place.

    Notes
    -----
    **Source** JCGM 100:2008, H.3.2.
    """
    needed = 3 if u is None else 2
    if len(x) < needed or len(set(x)) < 2:
        raise ValueError(f"a line needs {needed} points at two places or more; given: {len(x)}")
    at = np.asarray(x, dtype=float) - x_zero
    seen = np.asarray(y, dtype=float)
    weights = np.ones_like(at) if u is None else 1.0 / np.asarray(u, dtype=float) ** 2
    total, middle = weights.sum(), np.average(at, weights=weights)
    spread = float((weights * (at - middle) ** 2).sum())
    slope = float((weights * (at - middle) * seen).sum()) / spread
    intercept = float(np.average(seen, weights=weights) - slope * middle)
    freedom = len(x) - 2
    residuals = seen - intercept - slope * at
    variance = float((residuals**2).sum()) / freedom if u is None else 1.0
    u_slope = sqrt(variance / spread)
    u_intercept = sqrt(variance * (1.0 / total + middle**2 / spread))
    correlation = -middle * u_slope / u_intercept if u_intercept > 0 else 0.0
    return LineFit(intercept, slope, u_intercept, u_slope, float(correlation), x_zero, freedom)
