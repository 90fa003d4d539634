"""The face without its needles, from one photo that shows them: hidden places filled in.

One photo cannot say what print lies under a needle. What lies about it is continued over it, so
that at least the needle itself is no part of the face; more photos, or a bare one, do better.
"""

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.ink import on_circle
from needlewright.readings.projection import Array
from needlewright.readings.sampling import sample

TURN_STEP_DEG: Final = 0.5
STEP_MM: Final = 0.2
LEAST: Final = 20.0
STANDS_OUT: Final = 4.0
HALF_WIDTH: Final = 0.075
"""Half the width of what is filled in, in the marks' inner radius."""
HUB: Final = 0.25
TAIL: Final = 0.5
TIP: Final = 1.02
INPAINT_PX: Final = 4.0


def without_needles(
    flat: NDArray[np.uint8], px_per_mm: float, dials: Sequence[tuple[Array, tuple[float, float]]]
) -> NDArray[np.uint8]:
    """Fill in what needles hide.

    Parameters
    ----------
    flat
        The rectified photo, height x width x 3.
    px_per_mm
        Of it.
    dials
        Centre and the marks' inner and outer radius of each, millimetres.

    Returns
    -------
    NDArray
        Of the same shape; hubs and needles are filled from their surroundings.
    """
    hidden = np.zeros(flat.shape[:2], np.uint8)
    for centre, (inner, outer) in dials:
        direction = _needle_deg(flat, px_per_mm, centre, inner)
        at = centre * px_per_mm - 0.5
        hub_px = max(2, round(HUB * inner * px_per_mm))
        cv2.circle(hidden, tuple(np.rint(at).astype(int).tolist()), hub_px, 255, -1)
        if direction is None:
            continue
        turn = np.radians(direction)
        out = np.array([np.sin(turn), -np.cos(turn)])
        side = HALF_WIDTH * inner * np.array([-out[1], out[0]])
        tip, tail = centre + TIP * outer * out, centre - TAIL * inner * out
        corners = np.array([tip + side, tip - side, tail - side, tail + side]) * px_per_mm - 0.5
        cv2.fillConvexPoly(hidden, np.rint(corners).astype(np.int32), 255)
    return np.asarray(cv2.inpaint(flat, hidden, INPAINT_PX, cv2.INPAINT_TELEA), np.uint8)


def _needle_deg(
    flat: NDArray[np.uint8], px_per_mm: float, centre: Array, inner: float
) -> float | None:
    """Direction in which a dial differs all along from what lies about its circles."""
    angles = np.arange(0.0, 360.0, TURN_STEP_DEG)
    radii = np.arange(0.35 * inner, 0.85 * inner, STEP_MM)
    at = on_circle(centre, angles[None], radii[:, None]) * px_per_mm - 0.5
    seen = sample(flat, at[..., 0], at[..., 1])
    apart = np.linalg.norm(seen - np.median(seen, axis=1, keepdims=True), axis=-1)
    along = np.percentile(apart, 30, axis=0)
    around = np.convolve(np.concatenate([along[-2:], along, along[:2]]), np.ones(5) / 5, "valid")
    best, usual = int(np.argmax(around)), float(np.median(around))
    spread = 1.4826 * float(np.median(np.abs(around - usual))) + 1.0
    if around[best] < max(LEAST, usual + STANDS_OUT * spread):
        return None
    return float(angles[best])
