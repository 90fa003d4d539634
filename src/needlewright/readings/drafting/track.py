"""The thin line that marks stand on, where there is one.

A rim may be raised off the face and is no evidence of the centre. A line that the marks run into
is printed with them: it lies in the face and about the same centre, and it is long.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.grouping import Chain
from needlewright.readings.drafting.ink import Shade, on_circle
from needlewright.readings.drafting.lit import sample_light
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling import sample

FINE_PX: Final = 0.75
"""Spacing at which the line is looked at."""
EVERY: Final = 4
"""Looks that make one point, their mean: nearer ones err together."""
BESIDE_PX: Final = 2.0
"""How far from a mark's side a look stays."""
REACH_PX: Final = 3.0
"""How far on both sides of the outer ends the line is looked for: a rim stands further off."""
THIN_PX: Final = 3.5
"""Half the width within which the line must rise and fall."""
GROUND_PX: Final = (3.25, 5.5)
"""From the line, where the ground on both sides is taken."""
UNEVEN: Final = 0.08
"""Difference of the grounds, in the line's light, above which a look says nothing."""
FAINT: Final = 0.35
"""Share of the marks' ink below which there is no line."""
LEAST_SHARE: Final = 0.5
"""Share of the places at which the line must be seen."""
FEWEST: Final = 5
"""Points below which a line says too little."""
SPREAD_PX: Final = 1.0
STEP_PX: Final = 0.25


def track_points(
    pixels: NDArray[np.uint8],
    ink: tuple[Shade, NDArray[np.uint8], float],
    projection: Projection,
    centre: Array,
    chain: Chain,
) -> Array | None:
    """Points of the line that a dial's marks stand on.

    Parameters
    ----------
    pixels
        The picture, height x width x 3.
    ink
        Whether marks are lighter or darker than the face, the picture's ink in that shade, and
        that of the marks, grey levels.
    projection
        Plane to picture.
    centre
        (2,), on the plane.
    chain
        The dial's marks.

    Returns
    -------
    NDArray | None
        (n, 2) in pixels of the picture; None where there is no such line.
    """
    radius = float(np.median([t.outer for t, m in zip(chain.ticks, chain.major, strict=True) if m]))
    angles, clear = _looks(chain, radius)
    if clear.sum() < FEWEST * EVERY:
        return None
    line = _line_radius(ink, projection, centre, angles[clear], radius)
    if line is None:
        return None
    steps = np.arange(-GROUND_PX[1], GROUND_PX[1] + 1e-9, STEP_PX)
    at = projection.to_photo(on_circle(centre, angles[:, None], line + steps[None]))
    off, seen = _middles(pixels, ink[0], at, steps)
    groups = np.arange(len(angles)) // EVERY
    used = clear & seen
    points = []
    for group in np.unique(groups[used]):
        mine = used & (groups == group)
        if mine.sum() > EVERY // 2:
            points.append((angles[mine].mean(), line + off[mine].mean()))
    if len(points) < FEWEST:
        return None
    around, radii = np.array(points).T
    return projection.to_photo(on_circle(centre, around, radii))


def _looks(chain: Chain, radius: float) -> tuple[Array, NDArray[np.bool_]]:
    """Angles along the scale, and at which of them no mark meets the line."""
    step = np.degrees(FINE_PX / radius)
    angles = np.arange(chain.angles_deg[0], chain.angles_deg[-1], step)
    clear = np.ones(len(angles), dtype=bool)
    for tick, angle in zip(chain.ticks, chain.angles_deg, strict=True):
        away = np.radians(np.abs(angles - angle)) * radius
        clear &= away > tick.width / 2 + BESIDE_PX
    return angles, clear


def _line_radius(
    ink: tuple[Shade, NDArray[np.uint8], float],
    projection: Projection,
    centre: Array,
    angles: Array,
    radius: float,
) -> float | None:
    """Radius of a thin line near a circle, if most of the circle has it."""
    _, plane, level = ink
    steps = np.arange(-REACH_PX - THIN_PX, REACH_PX + THIN_PX + 1e-9, STEP_PX)
    at = projection.to_photo(on_circle(centre, angles[:, None], radius + steps[None]))
    seen = sample(plane, at[..., 0], at[..., 1]).astype(np.float64)
    lag = round(THIN_PX / STEP_PX)
    rise = np.full_like(seen, -np.inf)
    rise[:, lag:-lag] = seen[:, lag:-lag] - np.maximum(seen[:, : -2 * lag], seen[:, 2 * lag :])
    top = rise.argmax(axis=1)
    good = rise[np.arange(len(top)), top] > FAINT * level
    if good.mean() < LEAST_SHARE:
        return None
    usual = float(np.median(steps[top][good]))
    good &= np.abs(steps[top] - usual) < SPREAD_PX
    return radius + usual if good.mean() >= LEAST_SHARE else None


def _middles(
    pixels: NDArray[np.uint8], shade: Shade, at_px: Array, steps: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """How far along steps across it the middle of the line's light lies, and where it says so."""
    light = sample_light(pixels, at_px)[..., 3] * (1.0 if shade == "light" else -1.0)
    inside = light[:, steps < -GROUND_PX[0]].mean(axis=1)
    outside = light[:, steps > GROUND_PX[0]].mean(axis=1)
    near = np.abs(steps) <= GROUND_PX[0]
    line = light[:, near] - (inside + outside)[:, None] / 2
    total, top = line.sum(axis=1), line.max(axis=1)
    usual = float(np.median(top))
    seen = (np.abs(inside - outside) < UNEVEN * usual) & (top > 0.5 * usual) & (total > 0)
    off = np.where(seen, line @ steps[near] / np.where(seen, total, 1.0), 0.0)
    return off, seen & (np.abs(off) < SPREAD_PX)
