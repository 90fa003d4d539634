"""How a display loses light with time or warmth: slope, what it may be off by, where it halves.

A straight line is fitted to the natural logarithm of the light, each photo weighted by its own
uncertainty. Where the photos scatter more than they say they may, what the line says is widened.

Of few photos the scatter itself is hardly known: three leave one degree of freedom. So whatever is
stated with a probability goes by the less sure of two: the normal law with what the photos say of
themselves, and Student's t with what they show.

Source: weighted least squares and the factor by Birge (R. T. Birge, 1932, from memory); Student's t
with n - 2 degrees of freedom: GUM, JCGM 100:2008, G.3 and H.3.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Final, Literal

import numpy as np
from scipy.stats import norm, t

from needlewright.errors import RunError

FEWEST: Final = 3
LEAST_LOSS: Final = 0.10
"""Share of its light over the series that a display must lose to count as fading; common practice,
no source."""
K: Final = 2.0
"""Of intervals where what is stated is known well: 95.45 %."""

Against = Literal["minutes", "temperature_c"]


@dataclass(frozen=True, slots=True)
class FadingPoint:
    """One photo of a series."""

    photo: str
    at: float
    """Minutes, or degC."""
    light: float
    """In any one scale, above 0."""
    u_light: float
    """Standard uncertainty, k = 1, of what differs from photo to photo."""


@dataclass(frozen=True, slots=True)
class Fading:
    """What a series says."""

    against: Against
    points: tuple[FadingPoint, ...]
    """Light in that of the line's first point."""
    slope: float
    """Of the natural logarithm of light, per minute or per degC; negative: it fades."""
    u_slope: float
    lost: float
    """Share of its light lost over the series by the line; negative: it grew."""
    u_lost: float
    halves_at: float | None
    """Where the line reaches half of its first light; None: it does not fall."""
    halves_from: float | None
    """Interval of that, 95 %; None: open at this end."""
    halves_to: float | None
    fades: float
    """Probability that more than `LEAST_LOSS` of its light was lost over the series."""
    scatter: float
    """Standard deviation about the line, in what the photos say it may be; 1 is as stated."""
    k: float
    """Times an uncertainty of the line for 95 %: 2; more where few photos say how they scatter."""

    @property
    def lost_within(self) -> tuple[float, float]:
        """Ends of the interval of `lost`, 95 %."""
        span = self.points[-1].at - self.points[0].at
        wide = self.k * self.u_slope
        low, high = (1 - exp((self.slope + side * wide) * span) for side in (1.0, -1.0))
        return low, high


def fit_fading(points: Sequence[FadingPoint], against: Against) -> Fading:
    """Fit a series.

    Parameters
    ----------
    points
        Three photos or more, at two places or more.
    against
        What they go by.

    Returns
    -------
    Fading
        The line.

    Raises
    ------
    RunError
        If there are too few photos, all at one place, or a light or uncertainty is not above 0.
    """
    ordered = sorted(points, key=lambda point: point.at)
    _refuse(ordered, against)
    at = np.array([point.at for point in ordered])
    light = np.array([point.light for point in ordered])
    relative = np.array([point.u_light for point in ordered]) / light
    logs = np.log(light)
    weight = 1 / relative**2
    middle = float(np.sum(weight * at) / weight.sum())
    spread = float(np.sum(weight * (at - middle) ** 2))
    level = float(np.sum(weight * logs) / weight.sum())
    slope = float(np.sum(weight * (at - middle) * logs)) / spread
    left = (logs - level - slope * (at - middle)) / relative
    birge = sqrt(float(np.sum(left**2)) / (len(ordered) - 2))
    u_slope = max(birge, 1.0) / sqrt(spread)
    first, span = float(at[0]), float(at[-1] - at[0])
    scale = float(np.exp(level + slope * (first - middle)))
    lost = 1 - float(np.exp(slope * span))
    u_lost = (1 - lost) * span * u_slope
    k, fades = _less_sure(log(1 - LEAST_LOSS) / span - slope, 1 / sqrt(spread), birge, len(ordered))
    return Fading(
        against,
        tuple(FadingPoint(p.photo, p.at, p.light / scale, p.u_light / scale) for p in ordered),
        slope,
        u_slope,
        lost,
        u_lost,
        _halves(first, slope),
        _halves(first, slope - k * u_slope),
        _halves(first, slope + k * u_slope),
        fades,
        birge,
        k,
    )


def _less_sure(above: float, u_stated: float, birge: float, count: int) -> tuple[float, float]:
    """What to take the line's uncertainty times for 95 %, and how probably its slope lies below."""
    free = count - 2
    share = float(norm.cdf(K))
    u_scatter = birge * u_stated
    wide = max(K * u_stated, float(t.ppf(share, free)) * u_scatter)
    below = [float(norm.cdf(above / u_stated))]
    if u_scatter > 0:
        below.append(float(t.cdf(above / u_scatter, free)))
    return wide / max(u_stated, u_scatter), min(below, key=lambda one: abs(one - 0.5))


def _halves(first: float, slope: float) -> float | None:
    return first - log(2.0) / slope if slope < 0 else None


def _refuse(points: Sequence[FadingPoint], against: Against) -> None:
    if len(points) < FEWEST:
        raise RunError(
            f"a series of {len(points)} photos says nothing of a trend; at least {FEWEST} are "
            "needed; take more"
        )
    for point in points:
        if not point.light > 0 or not point.u_light > 0:
            raise RunError(
                f"{point.photo}: its light is {point.light:g} ± {point.u_light:g}, and both must "
                "be above 0; leave the photo out"
            )
    if points[0].at == points[-1].at:
        raise RunError(
            f"all photos of the series have the same {against}, {points[0].at:g}; a trend needs two"
        )
