"""A straight needle over the face, and the line it is seen as from somewhere.

The needle turns about a shaft at the dial's centre C. Its axis has the direction theta in the face
plane, passes the centre at the distance `beside`, and stands at the height h + r tan p at the
distance r along it, with p its pitch. A camera whose foot is F and whose height is Z sees a point
at height z over X where the plane's point X + z (X - F) / (Z - z) is seen.

Source: derivation in docs/calibrating.md.
"""

from dataclasses import dataclass

import numpy as np

from needlewright.readings.projection import Array
from needlewright.readings.viewpoint import Viewpoint


@dataclass(frozen=True, slots=True)
class Standing:
    """How a needle stands: the four numbers its line depends on."""

    turn_rad: float
    """Direction, from the frame's own."""
    beside_mm: float
    """Sideways distance of its axis from the printed centre, positive clockwise."""
    height_mm: float
    """Top of the needle over the face, at the centre."""
    pitch_rad: float
    """Positive: the tip is higher."""

    @classmethod
    def of(cls, numbers: Array) -> "Standing":
        """From an array of the four in this order."""
        turn, beside, height, pitch = (float(number) for number in numbers)
        return cls(turn, beside, height, pitch)


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Along and across a needle: the frame its lines are compared in."""

    centre_mm: Array
    direction_deg: float
    """Near the needle's."""

    @property
    def along(self) -> Array:
        """Unit vector from the shaft to the tip."""
        return self._axes(0.0)[0]

    @property
    def across(self) -> Array:
        """Unit vector sideways, positive clockwise."""
        return self._axes(0.0)[1]

    def line(self, standing: Standing, viewpoint: Viewpoint, at_mm: Array) -> Array:
        """Where a needle's axis is seen.

        Parameters
        ----------
        standing
            How it stands.
        viewpoint
            From where.
        at_mm
            (n,) places along the frame, as they are seen.

        Returns
        -------
        NDArray
            (n,) sideways distances from the centre there, mm on the face.
        """
        along, across = self._axes(standing.turn_rad)
        ends = np.array([at_mm.min(), at_mm.max()])
        axis = self.centre_mm + ends[:, None] * along + standing.beside_mm * across
        height = (standing.height_mm + ends * np.tan(standing.pitch_rad))[:, None]
        foot = np.asarray(viewpoint.foot_mm)
        seen = axis + height * (axis - foot) / (viewpoint.height_mm - height) - self.centre_mm
        at, beside = seen @ self.along, seen @ self.across
        slope = (beside[1] - beside[0]) / (at[1] - at[0])
        return np.asarray(beside[0] + slope * (at_mm - at[0]))

    def lever(self, viewpoint: Viewpoint) -> float:
        """How far a millimetre of height moves the needle sideways, seen from somewhere, mm."""
        lean = self.centre_mm - np.asarray(viewpoint.foot_mm)
        return float(self.across @ lean) / viewpoint.height_mm

    def _axes(self, turn_rad: float) -> tuple[Array, Array]:
        angle = np.radians(self.direction_deg) + turn_rad
        sine, cosine = float(np.sin(angle)), float(np.cos(angle))
        return np.array([sine, -cosine]), np.array([cosine, sine])
