"""What a dial would look like with no needle: the artwork under this video's light."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.dial_view import DialView
from needlewright.readings.projection import Array
from needlewright.readings.sampling import sample

MARGIN_MM: Final = 4.0
OVERSAMPLED: Final = 1.5
"""Texels of the ground per pixel of the frame."""
PRINT_SHIFT_PX: Final = 0.35
"""How far the drawn print may lie off the frame's."""
PRINT_GAIN_DOUBT: Final = 0.3
"""How far the drawn print's contrast may be off the frame's."""


@dataclass(frozen=True, slots=True)
class BareGround:
    """The bare face about one dial, as this video shows it.

    Parameters
    ----------
    grey
        Grey levels over the face plane.
    origin_mm
        Face point of the first pixel's centre.
    px_per_mm
        Resolution.
    art_level
        Median grey level of the artwork there.
    doubt
        (2,): pixels by which the print may be shifted (per column of a strip), and the share by
        which its contrast may be off.
    """

    grey: NDArray[np.float32]
    origin_mm: tuple[float, float]
    px_per_mm: float
    art_level: float
    doubt: Array


def learn_ground(view: DialView, frame: NDArray[np.uint8]) -> BareGround:
    """Draw the bare face about a dial with the light of a frame.

    Parameters
    ----------
    view
        The dial in that frame.
    frame
        The frame, height x width.

    Returns
    -------
    BareGround
        The artwork with a gain and an offset that vary over the dial, fitted robustly.
    """
    centre, reach = view.centre_mm, view.dial.needle.length_mm + MARGIN_MM
    angles = np.radians(np.arange(0.0, 360.0, 2.0))[:, None]
    radii = np.linspace(1.15 * view.dial.needle.hub_radius_mm, reach - 1.0, 30)[None]
    points = np.stack(
        [centre[0] + radii * np.sin(angles), centre[1] - radii * np.cos(angles)], axis=-1
    )
    points = points.reshape(-1, 2)
    at = view.projection.to_photo(points)
    inside = np.all((at > 0) & (at < np.array(frame.shape[::-1]) - 1), axis=1)
    points, at = points[inside], at[inside]
    soft = view.art.as_soft_as(view.softness_mm)
    seen = sample(frame, at[:, 0], at[:, 1]).astype(np.float64)
    art = soft.grey_at(points).astype(np.float64)
    gains = _gains(art, (points - centre) / reach, seen)

    resolution = OVERSAMPLED * view.px_per_mm
    side = int(2 * reach * resolution)
    origin = centre - reach
    x, y = np.meshgrid(np.arange(side) / resolution, np.arange(side) / resolution)
    texels = np.stack([x + origin[0], y + origin[1]], axis=-1)
    drawn = soft.grey_at(texels).astype(np.float64)
    grey = _basis(drawn, (texels - centre) / reach) @ gains
    return BareGround(
        np.ascontiguousarray(np.clip(grey, 0, 255), np.float32),
        (float(origin[0]), float(origin[1])),
        resolution,
        float(np.median(art)) if len(art) else 128.0,
        np.array([PRINT_SHIFT_PX / 0.75, PRINT_GAIN_DOUBT]),
    )


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
