"""The axle a needle turns about, learned from the lines it was seen on.

A needle's line passes the printed centre at a distance that has three causes: how the needle sits
on its shaft (the same in every direction), how the shaft sits in the print, and how wrongly its
parallax is known (both turn with the needle as a fixed vector seen from the side). Three numbers
say all of it: offset = seat + x cos(angle) + y sin(angle). A line that is known to pass the axle
leaves its direction far less room than a free one, most of all where the needle is short.

Lines in a colour difference are off by two more numbers: few files say how its pixels lie over
the light's. They are the same for every needle of a video. And a shadow beside the needle pulls its
line toward itself, which looks as if the shaft sat there: what is left of that pull after the
shadow was taken off is kept apart, so that it does not pass for knowledge of the shaft.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from dataclasses import dataclass
from math import cos, hypot, radians, sin, sqrt
from typing import Final

import numpy as np

from needlewright.readings.projection import Array

SETTLE_EVERY: Final = 8
"""Lines of known bins are taken in together."""
LEAST_MM: Final = 1e-3
BIN_DEG: Final = 15.0
"""Lines seen within so many degrees of each other err together and count as one."""


@dataclass(frozen=True, slots=True)
class FreeLine:
    """A needle's line, with nothing known of its axle.

    Parameters
    ----------
    angle_deg, offset_mm
        Direction, and distance from the printed centre, positive clockwise.
    u_angle_deg, u_offset_mm
        Their standard uncertainties.
    together
        Their covariance, degrees x millimetres.
    coloured
        Whether it was seen in a colour difference.
    """

    angle_deg: float
    offset_mm: float
    u_angle_deg: float
    u_offset_mm: float
    together: float
    coloured: bool = False


@dataclass(frozen=True, slots=True)
class Siting:
    """How a colour difference lies over the light: right and down (mm), and their covariance."""

    shift_mm: Array
    covariance: Array

    @classmethod
    def unknown(cls, spread_mm: float) -> "Siting":
        """Nothing known but how far it may be off."""
        return cls(np.zeros(2), spread_mm**2 * np.eye(2))


class Axle:
    """Learns the axle of one needle.

    Parameters
    ----------
    spread_mm
        Standard deviation of each of the three numbers before anything was seen.
    floor_mm
        What the three numbers leave open of an offset.
    siting
        What is known of the colour differences.
    """

    def __init__(self, spread_mm: float, floor_mm: float, siting: Siting) -> None:
        self._floor = floor_mm
        self._bins: dict[tuple[int, bool], Array] = {}
        self._waiting = 0
        self._prior_mean = np.concatenate([np.zeros(3), siting.shift_mm, np.zeros(2)])
        covariance = np.diag([(spread_mm / np.sqrt(2)) ** 2] * 3 + 4 * [LEAST_MM**2])
        covariance[3:5, 3:5] = siting.covariance
        self._prior_information = np.linalg.inv(covariance)
        self._mean, self._covariance = self._prior_mean, covariance

    @property
    def siting(self) -> Siting:
        """What is known of the colour differences by now."""
        return Siting(self._mean[3:5], self._covariance[3:5, 3:5])

    def pulled(self, pull_mm: Array) -> None:
        """Say how far lines in the light may be pulled by a shadow, before any was learned.

        Parameters
        ----------
        pull_mm
            Right and down, one standard deviation along this direction.
        """
        self._covariance = self._covariance.copy()
        self._covariance[5:, 5:] += np.outer(pull_mm, pull_mm)
        self._prior_information = np.linalg.inv(self._covariance)

    def learn(self, line: FreeLine) -> None:
        """Take in a line."""
        key = int(np.floor(line.angle_deg / BIN_DEG)), line.coloured
        old = self._bins.get(key)
        new = np.array([1.0, line.angle_deg, line.offset_mm, line.u_offset_mm])
        if old is not None:
            share = 1 / min(old[0] + 1, 50.0)
            new = np.array([old[0] + 1, *(old[1:] + share * (new[1:] - old[1:]))])
        self._bins[key] = new
        self._waiting += 1
        if old is None or self._waiting >= SETTLE_EVERY:
            self._settle()

    def _settle(self) -> None:
        self._waiting = 0
        values = np.array(list(self._bins.values()))
        by = np.array(
            [_basis(v[1], coloured) for v, (_, coloured) in zip(values, self._bins, strict=True)]
        )
        weight = 1 / values[:, 3] ** 2
        information = by.T @ (weight[:, None] * by) + self._prior_information
        self._covariance = np.linalg.inv(information)
        pull = by.T @ (weight * values[:, 2]) + self._prior_information @ self._prior_mean
        self._mean = self._covariance @ pull

    def at(self, angle_deg: float, coloured: bool = False) -> tuple[float, float]:
        """Offset a line has in a direction, and its standard uncertainty, mm."""
        by = _basis(angle_deg, coloured)
        by[5:] = 0.0  # the axle itself is pulled by nothing
        spread = sqrt(by @ self._covariance @ by)
        return float(by @ self._mean), hypot(spread, self._floor)

    def strange(self, line: FreeLine) -> float:
        """How many standard uncertainties a line passes away from the axle."""
        usual, u = self.at(line.angle_deg, line.coloured)
        pull, u_pull = self._pull(line)
        return abs(line.offset_mm - pull - usual) / hypot(u, u_pull, line.u_offset_mm)

    def turned(self, line: FreeLine) -> tuple[float, float, float]:
        """Direction, its uncertainty and the offset of a line, given that it passes the axle.

        What a shadow does to a line's offset it does to its direction too, as the two go together.
        """
        usual, _ = self.at(line.angle_deg, line.coloured)
        pull, u_pull = self._pull(line)
        slope = line.together / line.u_offset_mm**2
        held = self.held(line)
        offset = line.offset_mm - pull
        angle = line.angle_deg - slope * pull + held * slope * (usual - offset)
        left = max(line.u_angle_deg**2 - held * slope * line.together, 0.0)
        shadow = (1 - held) * slope * u_pull
        return angle, hypot(float(np.sqrt(left)), shadow), offset + held * (usual - offset)

    def held(self, line: FreeLine) -> float:
        """How firmly a line is held by the axle: 0 not at all, 1 wholly."""
        _, u = self.at(line.angle_deg, line.coloured)
        return line.u_offset_mm**2 / (line.u_offset_mm**2 + u**2)

    def _pull(self, line: FreeLine) -> tuple[float, float]:
        """How far a shadow pulls a line, and its standard uncertainty, mm."""
        if line.coloured:
            return 0.0, 0.0
        by = _basis(line.angle_deg, False)[5:]
        return float(by @ self._mean[5:]), sqrt(by @ self._covariance[5:, 5:] @ by)


def _basis(angle_deg: float, coloured: bool) -> Array:
    """How the seven numbers enter the offset of a line."""
    a = radians(angle_deg)
    c, s = cos(a), sin(a)
    return np.array([1.0, c, s, c, s, 0.0, 0.0] if coloured else [1.0, c, s, 0.0, 0.0, c, s])
