"""What a reading changes by with the view alone, from views of needles that did not move.

No truth is needed: an unmoved needle has one direction, so whatever its readings differ by beyond
what they state is missing in what they state.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from scipy.special import chdtri

LEAST_VIEWS: Final = 3
INTERVAL: Final = 0.95


@dataclass(frozen=True, slots=True)
class View:
    """One reading of an unmoved needle."""

    angle_deg: float
    u_angle_deg: float
    """Standard uncertainty that the reading states, without a view-dependent part."""


@dataclass(frozen=True, slots=True)
class ViewSpread:
    """What readings of unmoved needles differ by; degrees, standard deviations."""

    needles: int
    """Unmoved needles, each seen from several views."""
    views: int
    spread_deg: float
    """Of the readings about their needle's mean."""
    stated_deg: float
    """Root mean square of what the readings state."""
    u_view_deg: float
    """The part that is missing in what they state; 0 where nothing is."""
    low_deg: float
    high_deg: float
    """Ends of the interval of 95 % of `u_view_deg`."""

    @property
    def freedom(self) -> int:
        """Views less needles."""
        return self.views - self.needles


def view_spread(needles: Sequence[Sequence[View]]) -> ViewSpread:
    """Find the view-dependent part.

    Parameters
    ----------
    needles
        For each unmoved needle its views; those of fewer than two take no part.

    Returns
    -------
    ViewSpread
        From all needles together.

    Raises
    ------
    ValueError
        If there are not three views of any needle.

    Notes
    -----
    With weights 1 / (u^2 + s^2) the weighted squares about each needle's weighted mean fall as s
    grows; s is where they equal views less needles. The interval's ends are where they equal the
    quantiles of chi-square. **Source** Mandel and Paule, Anal. Chem. 42 (1970) 1194, extended to
    several means; interval: Viechtbauer, Stat. Med. 26 (2007) 37 (both from memory).
    """
    groups = [
        (np.array([v.angle_deg for v in one]), np.array([v.u_angle_deg for v in one]))
        for one in needles
        if len(one) > 1
    ]
    if max((len(angles) for angles, _ in groups), default=0) < LEAST_VIEWS:
        raise ValueError("no needle has three views")
    views = sum(len(angles) for angles, _ in groups)
    freedom = views - len(groups)
    squares = sum(float(np.sum((a - a.mean()) ** 2)) for a, _ in groups)
    stated = sqrt(sum(float(np.sum(u**2)) for _, u in groups) / views)
    tail = (1.0 - INTERVAL) / 2.0
    scale = sqrt(squares / freedom)

    def solved(wanted: float) -> float:
        return _root(groups, wanted, scale)

    return ViewSpread(
        needles=len(groups),
        views=views,
        spread_deg=scale,
        stated_deg=stated,
        u_view_deg=solved(float(freedom)),
        low_deg=solved(float(chdtri(freedom, tail))),
        high_deg=solved(float(chdtri(freedom, 1.0 - tail))),
    )


_Group = tuple[np.ndarray, np.ndarray]


def _weighted_squares(groups: Sequence[_Group], s_deg: float) -> float:
    total = 0.0
    for angles, u in groups:
        weights = 1.0 / (u**2 + s_deg**2)
        mean = np.average(angles, weights=weights)
        total += float(np.sum(weights * (angles - mean) ** 2))
    return total


def _root(groups: Sequence[_Group], wanted: float, scale: float) -> float:
    """The s at which the weighted squares fall to `wanted`; 0 where they never exceed it."""
    if scale == 0.0:
        return 0.0
    low = 1e-9 * scale  # a stated uncertainty of zero is allowed, and 1 / 0 is not
    if _weighted_squares(groups, low) <= wanted:
        return 0.0
    high = scale
    while _weighted_squares(groups, high) > wanted:
        high *= 2.0
    from scipy.optimize import brentq  # noqa: PLC0415 (slow to load, and no start waits for it)

    return float(brentq(lambda s: _weighted_squares(groups, s) - wanted, low, high, xtol=1e-9))
