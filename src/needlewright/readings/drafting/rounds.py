"""Printed rounds about a hub whose needle is pulled: a disc in another shade, a ring, a hole.

A small dial's marks lie on one side of its centre and leave it uncertain along the middle of the
scale. What is printed all round it does not. But it may be another pass of ink than the marks, and
on a face with relief it may stand off the plane: so its centre counts for no more than passes of
ink usually agree, and for nothing where it lies clearly beside what the marks say.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.ink import on_circle
from needlewright.readings.drafting.lit import sample_light
from needlewright.readings.projection import Array, Projection

SMALLEST_PX: Final = 12.0
"""Radius below which a round may be the spindle, or its shadow."""
LARGEST: Final = 0.92
"""Radius, in that of the marks' inner ends, above which it may be the marks'."""
TURN_DEG: Final = 1.5
STEP_PX: Final = 0.5
LAG: Final = 3
"""Steps on both sides of an edge, over which light must rise or fall."""
LEAST: Final = 1.5
"""Rise at an edge, in light of 255."""
CLEAR: Final = 2.5
"""Times the usual scatter of the rise from place to place."""
LEAST_SHARE: Final = 0.7
"""Share of the turn in which the edge must be seen."""
EDGE_PX: Final = 2.5
GROUND_PX: Final = 5.0
"""Up to where an edge may reach, and the ground on both sides is taken."""
CELL: Final = 4
"""Directions that make one point, their mean."""
KEPT: Final = 3.0
REGISTER: Final = 0.003
"""Standard deviation of a round's centre beside that of the marks, each way, in the marks' radius:
a tenth of a millimetre for two passes of ink on a large dial (common practice, no source)."""
BESIDE: Final = 3.0
"""Standard deviations beyond which a round is about another point."""


@dataclass(frozen=True, slots=True)
class Round:
    """A printed edge all round a hub."""

    points_px: Array
    """(n, 2), pixels of the picture."""
    spread: float
    """Standard deviation of its points about its circle, on the plane."""
    marks_radius: float
    """Of the dial's marks, on the plane."""

    def centre(self, projection: Projection) -> Array:
        """Its centre on the plane, by the algebraic circle fit (I. Kasa 1976, from memory)."""
        return circle_centre(projection.to_face(self.points_px))

    @property
    def doubt(self) -> float:
        """Standard deviation of its centre beside that of the marks, each way, on the plane."""
        own = self.spread * float(np.sqrt(2.0 / len(self.points_px)))
        return float(np.hypot(own, REGISTER * self.marks_radius))


def circle_centre(points: Array) -> Array:
    """Centre of the circle through points, by linear least squares."""
    middle = points.mean(axis=0)
    out = points - middle
    design = np.column_stack([2 * out, np.ones(len(out))])
    solution, *_ = np.linalg.lstsq(design, np.sum(out**2, axis=1), rcond=None)
    return np.asarray(middle + solution[:2])


def find_round(
    pixels: NDArray[np.uint8], projection: Projection, centre: Array, ring: tuple[float, float]
) -> Round | None:
    """Find the clearest printed edge all round a hub.

    Parameters
    ----------
    pixels
        The picture, height x width x 3, every needle pulled.
    projection
        Plane to picture.
    centre
        (2,), on the plane.
    ring
        Inner and outer radius of the dial's marks, on the plane.

    Returns
    -------
    Round | None
        None where there is none.
    """
    radii = np.arange(SMALLEST_PX - LAG * STEP_PX, LARGEST * ring[0], STEP_PX)
    turns = np.arange(0.0, 360.0, TURN_DEG)
    if len(radii) < 4 * LAG:
        return None
    light = _light(pixels, projection, centre, turns, radii)
    rise = light[:, 2 * LAG :] - light[:, : -2 * LAG]
    usual = np.nanmedian(rise, axis=0)
    scatter = 1.4826 * np.nanmedian(np.abs(rise - usual), axis=0)
    share = np.mean((rise * np.sign(usual) > 0.4 * np.abs(usual)), axis=0)
    good = (np.abs(usual) > np.maximum(LEAST, CLEAR * scatter)) & (share > LEAST_SHARE)
    if not good.any():
        return None
    best = int(np.argmax(np.where(good, np.abs(usual) / (scatter + 0.5), 0.0)))
    radius = float(radii[LAG + best])
    steps = np.arange(-GROUND_PX, GROUND_PX + 1e-9, STEP_PX)
    seen = _light(pixels, projection, centre, turns, radius + steps)
    cells = seen.reshape(-1, CELL, len(steps)).mean(axis=1)
    around = turns.reshape(-1, CELL).mean(axis=1)
    inside = cells[:, steps < -EDGE_PX].mean(axis=1)
    outside = cells[:, steps > EDGE_PX].mean(axis=1)
    edge = np.abs(steps) <= EDGE_PX
    falls = inside - outside
    clear = falls * -np.sign(usual[best]) > 0.4 * abs(float(usual[best]))
    weight = (cells[:, edge] - outside[:, None]) / np.where(clear, falls, 1.0)[:, None]
    off = weight.sum(axis=1) * STEP_PX - (edge.sum() * STEP_PX) / 2
    clear &= np.isfinite(off) & (np.abs(off) < EDGE_PX)
    points = on_circle(centre, around[clear], radius + off[clear])
    return _kept(points, projection, ring[1], len(around))


def _light(
    pixels: NDArray[np.uint8], projection: Projection, centre: Array, turns: Array, radii: Array
) -> Array:
    """Luminance at directions x radii."""
    at = projection.to_photo(on_circle(centre, turns[:, None], radii[None]))
    return np.asarray(sample_light(pixels, at)[..., 3])


def _kept(points: Array, projection: Projection, marks: float, most: int) -> Round | None:
    """The points about one circle; None where too few of the turn are left."""
    spread = 0.0
    for _ in range(4):
        if len(points) < LEAST_SHARE * most:
            return None
        distance = np.linalg.norm(points - circle_centre(points), axis=1)
        off = np.abs(distance - np.median(distance))
        spread = 1.4826 * float(np.median(off)) + 1e-3
        points = points[off < KEPT * spread]
    if len(points) < LEAST_SHARE * most:
        return None
    return Round(projection.to_photo(points), spread, marks)


def agrees(found: Round, projection: Projection, centre: Array, covariance: Array) -> bool:
    """Whether a round is about the point that a dial's marks say, within what both allow."""
    off = found.centre(projection) - centre
    both = covariance + found.doubt**2 * np.eye(2)
    return bool(off @ np.linalg.solve(both, off) < BESIDE**2)
