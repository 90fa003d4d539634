"""Light of single places of the face: a tell-tale, a segment of a display."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

from needlewright.readings.light.laying import LaidLight, Mask
from needlewright.readings.light.linear import BLACK_LIGHT, Light

RING: Final = (1.5, 2.6)
"""About a spot, in its reaches: what its own light is held against."""
BRIGHT: Final = 85.0
"""Percentile of a spot's pixels that stands for it: a sign fills its disc only in part."""
CHAMBER: Final = 10.0
"""Percentile of its pixels that stands for the dark about a sign, inside its disc."""
FLOODED: Final = 0.3
"""Share of the ring that is blown out, from which the spot cannot be told from its surroundings."""
FEWEST_PX: Final = 6
LEAST_SEEN: Final = 0.6
"""Of the spot's disc inside the photo."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place that lights by itself."""

    id: str
    centre_mm: tuple[float, float]
    reach_mm: float
    colour: tuple[float, float, float] | None = None
    """sRGB, 0..1; None: any."""


@dataclass(frozen=True, slots=True)
class SpotLight:
    """What a photo shows of a spot."""

    spot: Spot
    light: float | None
    """Above its surroundings, 1 the photo's white; None: not seen."""
    u_light: float | None
    """Standard uncertainty, k = 1."""
    why: str | None
    """Why it was not seen."""
    saturated: bool = False
    """Blown out: at least so bright."""


def spot_lights(photo: LaidLight, spots: Sequence[Spot]) -> tuple[SpotLight, ...]:
    """Measure spots.

    Parameters
    ----------
    photo
        Laid over the face plane.
    spots
        Places.

    Returns
    -------
    tuple of SpotLight
        In their order.
    """
    taken = discs(photo, [(one.centre_mm, 1.3 * one.reach_mm) for one in spots])
    return tuple(_measured(photo, spot, taken) for spot in spots)


def discs(photo: LaidLight, at: Sequence[tuple[tuple[float, float], float]]) -> Mask:
    """Where discs lie on a laid photo; centres and radii in mm."""
    x, y = photo.places_mm()
    covered = np.zeros(x.shape, bool)
    for (across, down), radius in at:
        covered |= np.hypot(x - np.float32(across), y - np.float32(down)) < radius
    return covered


def brightness(light: Light, colour: tuple[float, float, float] | None) -> Light:
    """Light in the colour a sign has, or in its strongest.

    Parameters
    ----------
    light
        ... x 3, blue, green, red.
    colour
        sRGB; None: the strongest of the three.

    Returns
    -------
    NDArray
        Without the last axis.
    """
    if colour is None or max(colour) <= 0:
        return np.asarray(light.max(axis=-1), np.float32)
    weights = np.array(colour[::-1], np.float32) ** np.float32(2.2)
    return np.asarray(light @ (weights / weights.sum()), np.float32)


def _measured(photo: LaidLight, spot: Spot, taken: Mask) -> SpotLight:
    x, y = photo.places_mm()
    away = np.hypot(x - np.float32(spot.centre_mm[0]), y - np.float32(spot.centre_mm[1]))
    away = away / np.float32(spot.reach_mm)
    disc, ring = away < 1.0, (away > RING[0]) & (away < RING[1]) & ~taken
    if not disc.any() or photo.seen[disc].mean() < LEAST_SEEN:
        return SpotLight(spot, None, None, "out of the photo")
    disc, ring = disc & photo.seen, ring & photo.seen
    if min(disc.sum(), ring.sum()) < FEWEST_PX:
        return SpotLight(spot, None, None, "too small in the photo")
    blown = float(photo.saturated[disc].mean())
    if float(photo.saturated[ring].mean()) > FLOODED:
        return SpotLight(spot, None, None, "overexposed all round")
    values = brightness(photo.light, spot.colour)
    ground = values[ring]
    # a sign in a lit ground has a dark chamber of its own, and shines in that
    level = min(float(np.median(ground)), float(np.percentile(values[disc], CHAMBER)))
    noise = 1.4826 * float(np.median(np.abs(ground - np.median(ground))))
    light = float(np.percentile(values[disc], BRIGHT)) - level
    u = sqrt(noise**2 * (1 + 1 / ring.sum()) + (BLACK_LIGHT / 2) ** 2)
    return SpotLight(spot, light, u, None, blown > 0.1)
