"""Light that leaks round a hub: the ring beside the cap against the bare ground further out."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Final

import cv2
import numpy as np

from needlewright.families.model import Dial, Family
from needlewright.readings.light.laying import LaidLight, Mask

RING_MM: Final = (-0.6, 2.2)
"""From the hub's rim: where leaking light shows; the cap, higher than the face, hides a side."""
OUTSIDE_MM: Final = (3.2, 7.0)
STEP_MM: Final = 0.5
PRINT_SHARE: Final = 0.08
"""Of white: print from there on is left out, with a little about it."""
ABOUT_PRINT_MM: Final = 0.7
FEWEST_PX: Final = 8
LEAST_GROUND: Final = 0.35
"""Share of a ring without print that is needed."""
FLOOR: Final = 0.004
"""Of lit print: what scatters in a lens anyway; common practice, no source."""


@dataclass(frozen=True, slots=True)
class HubLight:
    """Light round one hub."""

    dial: str
    light: float | None
    """Of the ring over its surroundings, in the light of the dial's own print; None: not seen."""
    u_light: float | None
    """Standard uncertainty, k = 1."""
    why: str | None
    """Why it was not seen."""


def hub_lights(
    family: Family, photo: LaidLight, print_of: LaidLight, lit_print: Mapping[str, float]
) -> tuple[HubLight, ...]:
    """Measure the light round every hub.

    Parameters
    ----------
    family
        The cluster design.
    photo
        Laid over the face plane.
    print_of
        The family's own print on the same pixels.
    lit_print
        Dial to the light of its white print in this photo; none: it is not lit.

    Returns
    -------
    tuple of HubLight
        In the family's order.
    """
    pad = 2 * round(ABOUT_PRINT_MM * photo.px_per_mm) + 1
    printed = (print_of.luminance > PRINT_SHARE).astype(np.uint8)
    bare = cv2.dilate(printed, np.ones((pad, pad), np.uint8)) == 0
    return tuple(
        _hub(dial, photo, np.asarray(bare), lit_print.get(dial.id, 0.0)) for dial in family.dials
    )


def _hub(dial: Dial, photo: LaidLight, bare: Mask, lit_print: float) -> HubLight:
    x, y = photo.places_mm()
    off = np.hypot(x - np.float32(dial.centre_mm[0]), y - np.float32(dial.centre_mm[1]))
    off = off - np.float32(dial.needle.hub_radius_mm)
    if lit_print <= 0:
        return HubLight(dial.id, None, None, "its dial is not lit")
    outside = _ring(photo, bare, off, *OUTSIDE_MM)
    rings = [
        ring
        for start in np.arange(RING_MM[0], RING_MM[1] - STEP_MM + 1e-6, STEP_MM / 2)
        if (ring := _ring(photo, bare, off, start, start + STEP_MM)) is not None
    ]
    if outside is None or not rings:
        return HubLight(dial.id, None, None, "print, glare or the photo's edge lies round the hub")
    brightest = max(rings)
    light = (brightest[0] - outside[0]) / lit_print
    noise = sqrt(brightest[1] ** 2 + outside[1] ** 2) / lit_print
    return HubLight(dial.id, light, sqrt(noise**2 + FLOOR**2), None)


def _ring(
    photo: LaidLight, bare: Mask, off: np.ndarray, near: float, far: float
) -> tuple[float, float] | None:
    """Median light of the bare ground in a ring, and its standard error."""
    whole = (off >= near) & (off < far)
    ground = whole & bare & photo.seen & ~photo.saturated
    if ground.sum() < FEWEST_PX or ground.sum() < LEAST_GROUND * whole.sum():
        return None
    values = photo.luminance[ground]
    middle = float(np.median(values))
    spread = 1.4826 * float(np.median(np.abs(values - middle)))
    return middle, 1.2533 * spread / sqrt(ground.sum() / 4)
