"""Value <-> angle on one dial, by the marks of its scale.

Angles are degrees clockwise from 12 o'clock, on the scale's own branch: neither the marks nor
what is computed from them is wrapped into one turn.
"""

from bisect import bisect_right
from dataclasses import dataclass
from typing import Final

from needlewright.errors import ScaleError

BEYOND_DEG: Final = 20.0
"""How far past an end mark the last segment is continued (common practice, no source)."""

ROUNDING_DEG: Final = 1e-9
"""A needle told to stand exactly at the limit is not refused for the last binary digit."""


def segment_of(rising: tuple[float, ...], at: float) -> int:
    """Index of the segment between rising knots that holds `at`; the end ones beyond the knots."""
    return min(max(bisect_right(rising, at) - 1, 0), len(rising) - 2)


@dataclass(frozen=True, slots=True)
class Scale:
    """The marks of a dial: linear in the angle from mark to mark.

    Parameters
    ----------
    values
        Values of the marks in the dial's unit, strictly rising.
    angles_deg
        Angles of the marks, strictly rising (`cw`) or strictly falling (`ccw`).
    beyond_deg
        How far past an end mark the last segment is continued, degrees of needle.
    """

    values: tuple[float, ...]
    angles_deg: tuple[float, ...]
    beyond_deg: float = BEYOND_DEG

    @property
    def sense(self) -> int:
        """+1 when the needle turns clockwise as the value rises, -1 when it turns the other way."""
        return 1 if self.angles_deg[-1] > self.angles_deg[0] else -1

    @property
    def span(self) -> float:
        """Last mark minus first mark, in the dial's unit."""
        return self.values[-1] - self.values[0]

    @property
    def smallest_step(self) -> float:
        """The smallest interval between neighbouring marks, in the dial's unit."""
        return min(b - a for a, b in zip(self.values, self.values[1:], strict=False))

    @property
    def middle_deg(self) -> float:
        """The angle half way between the end marks: the middle of the scale's branch."""
        return (self.angles_deg[0] + self.angles_deg[-1]) / 2

    @property
    def reach_deg(self) -> float:
        """Half the angle between the end marks."""
        return abs(self.angles_deg[-1] - self.angles_deg[0]) / 2

    def on_branch(self, angle_deg: float) -> float:
        """Add whole turns until an angle lies within half a turn of the scale's middle."""
        return angle_deg - 360.0 * round((angle_deg - self.middle_deg) / 360.0)

    def contains_angle(self, angle_deg: float) -> bool:
        """Whether the needle stands between the end marks."""
        low, high = sorted((self.angles_deg[0], self.angles_deg[-1]))
        return low <= angle_deg <= high

    def reaches_angle(self, angle_deg: float) -> bool:
        """Whether a value can be stated at this angle: on the scale, or a little beyond it."""
        low, high = sorted((self.angles_deg[0], self.angles_deg[-1]))
        reach = self.beyond_deg + ROUNDING_DEG
        return low - reach <= angle_deg <= high + reach

    def angle_at(self, value: float) -> float:
        """Angle of the needle that shows a value.

        Parameters
        ----------
        value
            In the dial's unit.

        Returns
        -------
        float
            Degrees clockwise from 12 o'clock, on the scale's branch.

        Raises
        ------
        ScaleError
            If the value lies further than `beyond_deg` past an end mark.
        """
        i = segment_of(self.values, value)
        v0, v1 = self.values[i], self.values[i + 1]
        a0, a1 = self.angles_deg[i], self.angles_deg[i + 1]
        angle = a0 + (value - v0) * (a1 - a0) / (v1 - v0)
        if not self.reaches_angle(angle):
            raise ScaleError(
                f"value {value:g} lies more than {self.beyond_deg:g} degrees of needle past the "
                f"scale, whose marks run from {self.values[0]:g} to {self.values[-1]:g}"
            )
        return angle

    def value_at(self, angle_deg: float) -> float:
        """Value shown by a needle at an angle.

        Parameters
        ----------
        angle_deg
            Degrees clockwise from 12 o'clock, on the scale's branch (see `on_branch`).

        Returns
        -------
        float
            In the dial's unit.

        Raises
        ------
        ScaleError
            If the angle lies further than `beyond_deg` past an end mark.
        """
        if not self.reaches_angle(angle_deg):
            raise ScaleError(
                f"angle {angle_deg:.2f} deg lies more than {self.beyond_deg:g} degrees past the "
                f"scale, whose marks run from {self.angles_deg[0]:g} to {self.angles_deg[-1]:g} deg"
            )
        i = self._angle_segment(angle_deg)
        v0, v1 = self.values[i], self.values[i + 1]
        a0, a1 = self.angles_deg[i], self.angles_deg[i + 1]
        return v0 + (angle_deg - a0) * (v1 - v0) / (a1 - a0)

    def slope_at(self, angle_deg: float) -> float:
        """Units of value per degree of needle at an angle; negative on a `ccw` dial."""
        i = self._angle_segment(angle_deg)
        return (self.values[i + 1] - self.values[i]) / (self.angles_deg[i + 1] - self.angles_deg[i])

    def _angle_segment(self, angle_deg: float) -> int:
        rising = tuple(self.sense * a for a in self.angles_deg)
        return segment_of(rising, self.sense * angle_deg)
