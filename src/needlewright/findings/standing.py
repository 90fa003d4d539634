"""Where a needle stands still, and smooth motion through the frames around it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from needlewright.findings.motion import Motion

FloatArray = NDArray[np.float64]

_STILL: Final = 3.0
_LEAST_S: Final = 0.055
_RARE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class Stand:
    """Frames `first` to `last` in which a needle did not move."""

    first: int
    last: int
    angle_deg: float
    u_angle_deg: float


@dataclass(frozen=True, slots=True)
class Smooth:
    """A polynomial of time through some frames."""

    coefficients: FloatArray
    covariance: FloatArray
    centre_s: float
    fits: bool

    def at(self, t_s: float) -> tuple[float, float]:
        """Angle at a time and its standard uncertainty, deg."""
        row = (t_s - self.centre_s) ** np.arange(len(self.coefficients))
        return float(row @ self.coefficients), float(np.sqrt(row @ self.covariance @ row))

    def rate_at(self, t_s: float) -> tuple[float, float]:
        """Rate at a time and its standard uncertainty, deg/s."""
        power = np.arange(len(self.coefficients))
        row = np.zeros(len(power))
        row[1:] = power[1:] * (t_s - self.centre_s) ** (power[1:] - 1)
        return float(row @ self.coefficients), float(np.sqrt(row @ self.covariance @ row))


def stands(motion: Motion) -> list[Stand]:
    """Find where the needle stands still for longer than a frame or two.

    Parameters
    ----------
    motion
        Its way.

    Returns
    -------
    list[Stand]
        In time order, apart from each other.
    """
    angle_deg, u_deg, t_s = motion.angle_deg, motion.u_deg, motion.t_s
    found: list[Stand] = []
    first = 0
    while first < len(t_s) - 1:
        last, total, weight = first, angle_deg[first] / u_deg[first] ** 2, 1 / u_deg[first] ** 2
        while last + 1 < len(t_s):
            off = angle_deg[last + 1] - total / weight
            if abs(off) > _STILL * np.hypot(u_deg[last + 1], weight**-0.5):
                break
            last += 1
            total += angle_deg[last] / u_deg[last] ** 2
            weight += 1 / u_deg[last] ** 2
        if t_s[last] - t_s[first] >= _LEAST_S and not _creeps(motion, first, last):
            found.append(Stand(first, last, float(total / weight), float(weight**-0.5)))
            first = last + 1
        else:
            first += 1
    return found


def joined(motion: Motion, standing: list[Stand], within_deg: float) -> list[Stand]:
    """Make one of stands that only the shake of a hand has parted.

    Parameters
    ----------
    motion
        The needle's way.
    standing
        Where it stands.
    within_deg
        How far all of it may lie from the first part.

    Returns
    -------
    list[Stand]
        In time order.
    """
    found: list[Stand] = []
    for stand in standing:
        if found:
            last = found[-1]
            between = motion.angle_deg[last.last : stand.last + 1]
            if np.all(np.abs(between - last.angle_deg) < within_deg):
                angle_deg = float(np.mean(motion.angle_deg[last.first : stand.last + 1]))
                found[-1] = Stand(last.first, stand.last, angle_deg, last.u_angle_deg)
                continue
        found.append(stand)
    return found


def _creeps(motion: Motion, first: int, last: int) -> bool:
    """Whether it moves slowly after all: a line through the frames rises surely."""
    if last - first < 2:
        return False
    line = smooth_through(motion, np.arange(first, last + 1), 1)
    rate, u_rate = line.rate_at(line.centre_s)
    return abs(rate) > max(_STILL * u_rate, 2.0)


def smooth_through(motion: Motion, frames: NDArray[np.int64], degree: int) -> Smooth:
    """Lay a polynomial through frames.

    Parameters
    ----------
    motion
        The needle's way.
    frames
        Their numbers, more of them than the degree.
    degree
        Of the polynomial.

    Returns
    -------
    Smooth
        With whether the frames scatter about it no more than their noise.
    """
    t_s, y, u = motion.t_s[frames], motion.angle_deg[frames], motion.u_deg[frames]
    centre_s = float((t_s[0] + t_s[-1]) / 2)
    rows = (t_s - centre_s)[:, None] ** np.arange(degree + 1) / u[:, None]
    size = np.sqrt(np.sum(rows**2, axis=0))
    covariance = np.linalg.pinv((rows / size).T @ (rows / size)) / np.outer(size, size)
    coefficients = covariance @ rows.T @ (y / u)
    free = len(frames) - degree - 1
    off = float(np.sum((y / u - rows @ coefficients) ** 2))
    return Smooth(
        coefficients, covariance, centre_s, free > 0 and off <= float(chdtri(free, _RARE))
    )
