"""The axle a needle turns about, learned from the lines it was seen on.

A needle's line passes the printed centre at a distance that has three causes: how the needle sits
on its shaft (the same in every direction), how the shaft sits in the print, and how wrongly its
parallax is known (both turn with the needle as a fixed vector seen from the side). Three numbers
say all of it: offset = seat + x cos(angle) + y sin(angle). A line that is known to pass the axle
leaves its direction far less room than a free one, most of all where the needle is short.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from dataclasses import dataclass
from math import hypot
from typing import Final

import numpy as np

BIN_DEG: Final = 6.0
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
    """

    angle_deg: float
    offset_mm: float
    u_angle_deg: float
    u_offset_mm: float
    together: float


class Axle:
    """Learns the axle of one needle.

    Parameters
    ----------
    spread_mm
        Standard deviation of each of the three numbers before anything was seen.
    floor_mm
        What the three numbers leave open of an offset.
    noise_mm
        Standard deviation of what a line's offset is wrong by and does not say.
    """

    def __init__(self, spread_mm: float, floor_mm: float, noise_mm: float) -> None:
        self._spread, self._floor, self._noise = spread_mm, floor_mm, noise_mm
        self._bins: dict[int, tuple[float, float, float]] = {}
        self._mean = np.zeros(3)
        self._covariance = np.diag([(spread_mm / np.sqrt(2)) ** 2] * 3)

    def learn(self, line: FreeLine) -> None:
        """Take in a line."""
        key = int(np.floor(line.angle_deg / BIN_DEG))
        count, offset, u = self._bins.get(key, (0.0, 0.0, 0.0))
        share = 1 / min(count + 1, 50.0)
        self._bins[key] = (
            count + 1,
            offset + share * (line.offset_mm - offset),
            u + share * (line.u_offset_mm - u),
        )
        self._settle()

    def _settle(self) -> None:
        angles = np.radians((np.array(list(self._bins)) + 0.5) * BIN_DEG)
        values = np.array(list(self._bins.values()))
        by = np.stack([np.ones_like(angles), np.cos(angles), np.sin(angles)], axis=1)
        weight = 1 / (values[:, 2] ** 2 + self._noise**2)
        prior = 2 / self._spread**2
        information = by.T @ (weight[:, None] * by) + prior * np.eye(3)
        self._covariance = np.linalg.inv(information)
        self._mean = self._covariance @ (by.T @ (weight * values[:, 1]))

    def at(self, angle_deg: float) -> tuple[float, float]:
        """Offset a needle has in a direction, and its standard uncertainty, mm."""
        a = np.radians(angle_deg)
        by = np.array([1.0, np.cos(a), np.sin(a)])
        return float(by @ self._mean), hypot(
            float(np.sqrt(by @ self._covariance @ by)), self._floor
        )

    def strange(self, line: FreeLine) -> float:
        """How many standard uncertainties a line passes away from the axle."""
        usual, u = self.at(line.angle_deg)
        return abs(line.offset_mm - usual) / hypot(u, line.u_offset_mm)

    def turned(self, line: FreeLine) -> tuple[float, float, float]:
        """Direction, its uncertainty and the offset of a line, given that it passes the axle."""
        usual, u = self.at(line.angle_deg)
        share = line.together / (line.u_offset_mm**2 + u**2)
        angle = line.angle_deg + share * (usual - line.offset_mm)
        left = max(line.u_angle_deg**2 - share * line.together, 0.0)
        pull = line.u_offset_mm**2 / (line.u_offset_mm**2 + u**2)
        return angle, float(np.sqrt(left)), line.offset_mm + pull * (usual - line.offset_mm)
