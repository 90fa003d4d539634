"""Whether a scale is divided evenly, and at which step each of its marks stands.

An even division is evidence of the centre: seen from a point beside it, steps grow and shrink once
a turn. It is used only where the marks agree with it within what can be measured.
"""

from typing import Final

import numpy as np

from needlewright.readings.projection import Array

FEWEST: Final = 7
LEAST_SPAN_DEG: Final = 60.0
WORST_PX: Final = 0.25
"""Root mean square of the marks' places about an even division, beyond which there is none."""
WORST_SHIFT: Final = 0.012
"""How far the centre may move to make the division even, in radii."""
WORST_FRACTION: Final = 0.12
"""How far from a whole step a mark may stand, in steps."""


def even_steps(angles_deg: Array, radius_px: float) -> Array | None:
    """Steps of an evenly divided scale.

    Parameters
    ----------
    angles_deg
        (n,) rising, about a centre that may be a little off.
    radius_px
        Of the marks' middles in the photo.

    Returns
    -------
    NDArray | None
        (n,) whole numbers; None where the scale is not even, or too short to say.
    """
    if len(angles_deg) < FEWEST or angles_deg[-1] - angles_deg[0] < LEAST_SPAN_DEG:
        return None
    pitch = float(np.median(np.diff(angles_deg)))
    steps = np.round((angles_deg - angles_deg[0]) / pitch)
    for _ in range(3):
        slope, start = np.polyfit(steps, angles_deg, 1)
        places = (angles_deg - start) / slope
        steps = np.round(places)
    if np.any(np.diff(steps) < 1) or np.max(np.abs(places - steps)) > WORST_FRACTION:
        return None
    turn = np.radians(angles_deg)
    design = np.stack([np.ones_like(turn), steps, np.sin(turn), np.cos(turn)], axis=1)
    solution, *_ = np.linalg.lstsq(design, turn, rcond=None)
    off = (turn - design @ solution) * radius_px
    if float(np.sqrt(np.mean(off**2))) > WORST_PX or np.hypot(*solution[2:]) > WORST_SHIFT:
        return None
    return np.asarray(steps, dtype=float)
