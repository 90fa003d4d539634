"""The thin line that marks stand on, where there is one.

A rim may be raised off the face and is no evidence of the centre. A line that the marks run into
is printed with them: it lies in the face and about the same centre, and it is long.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.grouping import Chain
from needlewright.readings.drafting.ink import on_circle
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling import sample

EVERY_PX: Final = 3.0
"""Spacing of the points along the line, pixels of the photo: nearer ones err together."""
CLEAR_OF_MARKS: Final = 0.9
"""How far from a mark's axis a point stays, in widths of the mark, plus `BESIDE_PX`."""
BESIDE_PX: Final = 1.5
REACH_PX: Final = 3.0
"""How far on both sides of the outer ends the line is looked for: a rim stands further off."""
THIN_PX: Final = 3.5
"""Half the width within which the line must rise and fall."""
FAINT: Final = 0.35
"""Share of the marks' ink below which there is no line."""
LEAST_SHARE: Final = 0.5
"""Share of the places at which the line must be seen."""
SPREAD_PX: Final = 1.0
STEP_PX: Final = 0.25


def track_points(
    plane: NDArray[np.uint8], projection: Projection, centre: Array, chain: Chain, level: float
) -> Array | None:
    """Points of the line that a dial's marks stand on.

    Parameters
    ----------
    plane
        The picture's ink.
    projection
        Plane to picture.
    centre
        (2,), on the plane.
    chain
        The dial's marks.
    level
        Their ink, grey levels.

    Returns
    -------
    NDArray | None
        (n, 2) in pixels of the picture; None where there is no such line.
    """
    radius = float(np.median([t.outer for t, m in zip(chain.ticks, chain.major, strict=True) if m]))
    angles = _between(chain, radius)
    if len(angles) < 8:
        return None
    steps = np.arange(-REACH_PX - THIN_PX, REACH_PX + THIN_PX + 1e-9, STEP_PX)
    at = projection.to_photo(on_circle(centre, angles[:, None], radius + steps[None]))
    seen = sample(plane, at[..., 0], at[..., 1]).astype(np.float64)
    lag = round(THIN_PX / STEP_PX)
    rise = np.full_like(seen, -np.inf)
    rise[:, lag:-lag] = seen[:, lag:-lag] - np.maximum(seen[:, : -2 * lag], seen[:, 2 * lag :])
    top = rise.argmax(axis=1)
    good = rise[np.arange(len(top)), top] > FAINT * level
    places = np.array([_middle(row, k, lag, steps) for row, k in zip(seen, top, strict=True)])
    if good.mean() < LEAST_SHARE:
        return None
    usual = float(np.median(places[good]))
    good &= np.abs(places - usual) < SPREAD_PX
    if good.mean() < LEAST_SHARE or good.sum() < 8:
        return None
    return projection.to_photo(on_circle(centre, angles[good], radius + places[good]))


def _between(chain: Chain, radius: float) -> Array:
    """Angles along the scale at which no mark meets the line."""
    wanted = np.arange(chain.angles_deg[0], chain.angles_deg[-1], np.degrees(EVERY_PX / radius))
    clear = np.ones(len(wanted), dtype=bool)
    for tick, angle in zip(chain.ticks, chain.angles_deg, strict=True):
        away = np.radians(np.abs(wanted - angle)) * radius
        clear &= away > CLEAR_OF_MARKS * tick.width + BESIDE_PX
    return wanted[clear]


def _middle(profile: Array, top: int, lag: int, steps: Array) -> float:
    """Where the middle of a thin line's ink lies."""
    part = slice(max(top - lag, 0), top + lag + 1)
    ground = max(float(profile[part][0]), float(profile[part][-1]))
    ink = np.clip(profile[part] - ground, 0.0, None)
    total = float(ink.sum())
    return float(ink @ steps[part] / total) if total > 0 else float(steps[top])
