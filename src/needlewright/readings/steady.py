"""When a needle stands still, and what the mean of many looks at it is worth.

A needle stands still for as long as every look agrees with the mean of all looks since, and no
slope shows in them. What differs from look to look falls with their number; what is common to all
of them (the camera's place, the print, the needle's shape) does not, however many there are.

Source: mean of correlated looks: JCGM 100:2008, 4.2 and F.1.2; effective number of observations of
a first-order autoregressive series, n (1 - r) / (1 + r): textbook result, from memory.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

HOLD_S: Final = 1.0
"""So long a needle must have stood still before it is taken; common practice, no source."""
FEWEST: Final = 8
"""Looks in that time; fewer cannot show whether it moves."""
APART_SIGMAS: Final = 4.0
APART_FLOOR_DEG: Final = 0.05
"""One look may stand off the mean by so many standard uncertainties and this."""
SLOPE_SIGMAS: Final = 4.0
SLOPE_FLOOR_DEG: Final = 0.03
"""The looks together may climb or fall by so many standard uncertainties and this."""
GAP_S: Final = 1.0
"""A needle unseen for longer may have been somewhere else meanwhile."""
MOST_HOLDS: Final = 2.0
"""Looks older than so many times the time to hold no longer count."""

State = Literal["unseen", "moving", "settling", "steady"]
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Standing:
    """How long a needle has stood still."""

    state: State
    """`settling`: it stands, but not for long enough yet."""
    still_s: float = 0.0
    since_s: float | None = None
    """Time of the first look that agrees with the last; None where the needle is not seen."""


class StillWatch:
    """Watches one needle, look by look.

    Parameters
    ----------
    hold_s
        How long it must stand, seconds.
    """

    def __init__(self, hold_s: float = HOLD_S) -> None:
        self.hold_s = hold_s
        self._looks: deque[tuple[float, float, float]] = deque()

    def look(self, t_s: float, angle_deg: float | None, u_apart_deg: float = 0.0) -> Standing:
        """Take one look in.

        Parameters
        ----------
        t_s
            When, seconds; rising.
        angle_deg
            Where the needle stood, degrees; None: it was not seen.
        u_apart_deg
            Standard uncertainty of what differs from look to look, degrees.

        Returns
        -------
        Standing
            After this look.
        """
        looks = self._looks
        if looks and not 0 < t_s - looks[-1][0] <= GAP_S:
            looks.clear()
        if angle_deg is None:
            return Standing("unseen")
        looks.append((t_s, angle_deg, u_apart_deg))
        while t_s - looks[0][0] > MOST_HOLDS * self.hold_s:
            looks.popleft()
        while not _agree(self._array()):
            looks.popleft()
        return self._standing()

    def forget(self) -> None:
        """Begin anew, as after a reading was taken."""
        self._looks.clear()

    def mean(self) -> "Mean":
        """What the looks since it stands still come to; raises ValueError where there are none."""
        t_s, angle, u_apart = self._array().T
        return mean_of(t_s, angle, u_apart)

    def _array(self) -> FloatArray:
        return np.array(self._looks, np.float64).reshape(-1, 3)

    def _standing(self) -> Standing:
        since, now = self._looks[0][0], self._looks[-1][0]
        still = now - since
        if still >= self.hold_s and len(self._looks) >= FEWEST:
            return Standing("steady", still, since)
        return Standing("settling" if len(self._looks) > 2 else "moving", still, since)


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean of looks at a needle that stands."""

    angle_deg: float
    u_apart_deg: float
    """Standard uncertainty of the mean from what differs between looks."""
    u_movement_deg: float
    """Standard uncertainty from movement too slow to tell from none."""
    looks: int
    independent: float
    """As how many independent looks they count."""


def mean_of(t_s: Sequence[float] | FloatArray, angle_deg: FloatArray, u_deg: FloatArray) -> Mean:
    """Average looks at a needle that stands still.

    Parameters
    ----------
    t_s
        Their times, seconds, rising.
    angle_deg
        Their angles, degrees.
    u_deg
        Standard uncertainty of what differs between looks, as each states it, degrees.

    Returns
    -------
    Mean
        The larger of the stated and the seen scatter counts, over the number of independent looks.

    Raises
    ------
    ValueError
        If there is no look.
    """
    count = len(angle_deg)
    if count == 0:
        raise ValueError("a mean needs at least one look")
    mean = float(np.mean(angle_deg))
    stated = float(np.sqrt(np.mean(np.square(u_deg))))
    if count < 3:
        return Mean(mean, stated, 0.0, count, 1.0)
    times = np.asarray(t_s, np.float64) - np.mean(t_s)
    slope = float(times @ angle_deg / (times @ times))
    rest = angle_deg - mean - slope * times
    seen = float(np.sqrt(rest @ rest / (count - 2)))
    independent = count * (1 - (r := _correlation(rest))) / (1 + r)
    climbed = abs(slope) * float(times[-1] - times[0])
    apart = max(stated, seen) / np.sqrt(max(independent, 1.0))
    return Mean(mean, float(apart), climbed / float(np.sqrt(12)), count, max(independent, 1.0))


def _agree(looks: FloatArray) -> bool:
    """Whether looks could all be of one needle that stands."""
    if len(looks) < 2:
        return True
    t_s, angle, u = looks.T
    usual = np.sqrt(np.mean(u**2))
    apart = angle - angle.mean()
    if np.any(np.abs(apart) > APART_FLOOR_DEG + APART_SIGMAS * np.maximum(u, usual)):
        return False
    times = t_s - t_s.mean()
    if len(looks) < 4:
        return True
    span, spread = times[-1] - times[0], float(times @ times)
    climbed = abs(float(times @ apart)) / spread * span
    return bool(climbed <= SLOPE_FLOOR_DEG + SLOPE_SIGMAS * usual / np.sqrt(spread) * span)


def _correlation(rest: FloatArray) -> float:
    """Of each look with the one before, not below none and not so near to one that few remain."""
    whole = float(rest @ rest)
    return 0.0 if whole == 0 else float(np.clip(rest[1:] @ rest[:-1] / whole, 0.0, 0.95))
