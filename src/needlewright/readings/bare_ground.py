"""What a dial looks like with no needle: at first the artwork under this video's light."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.dial_view import CAP_OVER_NEEDLE_MM, DialView
from needlewright.readings.frame import WEIGHTS, Frame, Plane
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling import sample

MARGIN_MM: Final = 4.0
PRINT_SHIFT_PX: Final = 0.35
"""How far the drawn print may lie off the frame's."""
PRINT_GAIN_DOUBT: Final = 0.3
"""How far the drawn print's contrast may be off the frame's."""
PLAIN_PX: Final = 21
"""Width over which the face without its print is taken as the median."""
HUB_DOUBT: Final = 60.0
HUB_MARGIN_MM: Final = 1.0
FLOOR_DOUBT: Final = 1.5
"""Grey levels by which even a plain drawn face may be off."""


@dataclass(frozen=True, slots=True)
class BareGround:
    """The bare face about one dial, over the pixels of a plane of the frame it was registered in.

    Parameters
    ----------
    grey
        Grey levels.
    doubt
        Standard uncertainty of each, grey levels.
    corner_px
        Column and row of the first pixel in that plane.
    face_mm
        Face points of the pixels, height x width x 2.
    art_level
        Median grey level of the artwork there.
    """

    grey: NDArray[np.float32]
    doubt: NDArray[np.float32]
    corner_px: Array
    face_mm: Array
    art_level: float


def draw_ground(view: DialView, frame: Frame, plane: Plane) -> BareGround:
    """Draw the bare face about a dial with the light of a frame.

    Parameters
    ----------
    view
        The dial in that frame.
    frame
        The frame.
    plane
        Which of its planes.

    Returns
    -------
    BareGround
        The artwork with a gain and an offset that vary over the dial, fitted robustly.
    """
    centre, reach = view.centre_mm, view.dial.needle.length_mm + MARGIN_MM
    pixels, projection = frame.plane(plane), frame.seen_in(plane, view.projection)
    soft = view.art.as_soft_as(view.softness_mm)
    gains, level = _lit(view, pixels, projection, WEIGHTS[plane], reach)
    corner, face = _pixels(view, pixels, projection, reach)
    drawn = soft.colour_at(face).astype(np.float64) @ WEIGHTS[plane]
    grey = np.clip(_basis(drawn, (face - centre) / reach) @ gains, 0, 255).astype(np.float32)
    doubt = _doubt(grey)
    doubt[_under_hub(view, face)] = HUB_DOUBT
    return BareGround(grey, doubt, corner, face, level)


def _under_hub(view: DialView, face_mm: Array) -> NDArray[np.bool_]:
    """Where the hub stands before the face, which no drawing of the face shows."""
    height = view.dial.needle.height_mm + CAP_OVER_NEEDLE_MM
    middle = view.viewpoint.lifted(view.centre_mm, height / 2)
    reach = view.dial.needle.hub_radius_mm + HUB_MARGIN_MM
    return np.asarray(np.linalg.norm(face_mm - middle, axis=-1) < reach)


def _pixels(
    view: DialView, frame: NDArray[np.uint8], projection: Projection, reach_mm: float
) -> tuple[Array, Array]:
    """The window of the frame that shows the dial: its corner, and its pixels' face points."""
    around = np.radians(np.arange(0.0, 360.0, 5.0))[:, None]
    ring = np.concatenate([np.sin(around), -np.cos(around)], axis=1)
    at = projection.to_photo(
        view.viewpoint.lifted(view.centre_mm + reach_mm * ring, view.dial.needle.height_mm)
    )
    size = np.array(frame.shape[::-1])
    low = np.clip(np.floor(at.min(axis=0)) - 2, 0, size - 2).astype(int)
    high = np.clip(np.ceil(at.max(axis=0)) + 3, low + 2, size).astype(int)
    x, y = np.meshgrid(np.arange(low[0], high[0]), np.arange(low[1], high[1]))
    face = projection.to_face(np.stack([x, y], axis=-1).astype(np.float64))
    return low.astype(np.float64), face


def _doubt(grey: NDArray[np.float32]) -> NDArray[np.float32]:
    """How far a drawn face may be off: at the edges of print most, and by its contrast."""
    across = cv2.Sobel(grey, cv2.CV_32F, 1, 0, scale=1 / 8)
    down = cv2.Sobel(grey, cv2.CV_32F, 0, 1, scale=1 / 8)
    plain = cv2.medianBlur(grey.astype(np.uint8), PLAIN_PX).astype(np.float32)
    doubt = np.hypot(PRINT_SHIFT_PX * np.hypot(across, down), PRINT_GAIN_DOUBT * (grey - plain))
    return np.asarray(np.hypot(doubt, FLOOR_DOUBT), np.float32)


def _lit(
    view: DialView,
    frame: NDArray[np.uint8],
    projection: Projection,
    weights: Array,
    reach_mm: float,
) -> tuple[Array, float]:
    """Gain and offset of a frame's light on the artwork, and the artwork's median there."""
    centre = view.centre_mm
    angles = np.radians(np.arange(0.0, 360.0, 2.0))[:, None]
    radii = np.linspace(1.15 * view.dial.needle.hub_radius_mm, reach_mm - 1.0, 30)[None]
    points = np.stack(
        [centre[0] + radii * np.sin(angles), centre[1] - radii * np.cos(angles)], axis=-1
    ).reshape(-1, 2)
    at = projection.to_photo(points)
    inside = np.all((at > 0) & (at < np.array(frame.shape[::-1]) - 1), axis=1)
    points, at = points[inside], at[inside]
    seen = sample(frame, at[:, 0], at[:, 1]).astype(np.float64)
    soft = view.art.as_soft_as(view.softness_mm)
    art = soft.colour_at(points).astype(np.float64) @ weights
    level = float(np.median(art)) if len(art) else 128.0
    return _gains(art, (points - centre) / reach_mm, seen), level


def _basis(art: Array, place: Array) -> Array:
    a = art / 255.0
    x, y = place[..., 0], place[..., 1]
    return np.stack([np.ones_like(a), x, y, a, a * x, a * y], axis=-1)


def _gains(art: Array, place: Array, seen: Array) -> Array:
    basis = _basis(art, place)
    solution = np.array([0.0, 0, 0, 255.0, 0, 0])
    if len(seen) < 60:
        return solution
    weights = np.ones(len(seen))
    for _ in range(8):
        weighted = basis * weights[:, None]
        solution = np.linalg.lstsq(weighted.T @ basis, weighted.T @ seen, rcond=None)[0]
        residual = seen - basis @ solution
        spread = 1.4826 * np.median(np.abs(residual)) + 0.5
        weights = 1 / (1 + (residual / (2 * spread)) ** 2)
    return np.asarray(solution)
