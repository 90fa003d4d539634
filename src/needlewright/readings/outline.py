"""Where a dial's scale and hub lie in a photo, for drawing over it."""

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial

ARC_STEP_DEG: Final = 3.0
MARK_LENGTH: Final = 0.09
"""Drawn length of a mark, in needle lengths beyond the tip's circle."""

Point = tuple[float, float]


class ToPhoto(Protocol):
    """Maps the face plane to a photo: `readings.projection.Projection`."""

    def to_photo(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Pixels (x, y), shape (n, 2), of face points in mm, shape (n, 2)."""


@dataclass(frozen=True, slots=True)
class DialOutline:
    """A dial's drawing in photo pixels (x, y); the centre of the top-left pixel is (0, 0)."""

    centre_px: Point
    hub_px: tuple[Point, ...]
    """The hub's circle, laid on the face plane."""
    arc_px: tuple[Point, ...]
    """The circle of the needle's tip between the end marks, laid on the face plane."""
    marks_px: tuple[tuple[Point, Point], ...]
    """Each mark of the scale, from that arc outwards, in the order of the scale."""


def outline_of(dial: Dial, projection: ToPhoto) -> DialOutline:
    """Lay a dial's scale and hub over a photo.

    Parameters
    ----------
    dial
        The dial.
    projection
        Where the face plane lies in the photo.

    Returns
    -------
    DialOutline
        Polylines in pixels.
    """
    first, last = dial.scale.angles_deg[0], dial.scale.angles_deg[-1]
    arc_deg = np.linspace(first, last, 2 + int(abs(last - first) / ARC_STEP_DEG))
    marks_deg = np.array(dial.scale.angles_deg)
    length = dial.needle.length_mm
    inner = _photo_points(dial, projection, marks_deg, length)
    outer = _photo_points(dial, projection, marks_deg, length * (1 + MARK_LENGTH))
    return DialOutline(
        centre_px=_photo_points(dial, projection, np.zeros(1), 0.0)[0],
        hub_px=_photo_points(
            dial, projection, np.arange(0.0, 361.0, 10.0), dial.needle.hub_radius_mm
        ),
        arc_px=_photo_points(dial, projection, arc_deg, length),
        marks_px=tuple(zip(inner, outer, strict=True)),
    )


def _photo_points(
    dial: Dial, projection: ToPhoto, angles_deg: NDArray[np.float64], radius_mm: float
) -> tuple[Point, ...]:
    angles = np.radians(angles_deg)
    face_mm = np.array(dial.centre_mm) + radius_mm * np.stack(
        [np.sin(angles), -np.cos(angles)], axis=-1
    )
    return tuple((float(x), float(y)) for x, y in projection.to_photo(face_mm))
