"""Something between the camera and the cluster: a finger, a screwdriver, a cable."""

from dataclasses import dataclass
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.canvas import Colour
from needlewright.rehearsal.light import Light, Picture, linear_of

Thing = Literal["finger", "screwdriver", "cable"]

_SKINS: Final[tuple[Colour, ...]] = ((0.87, 0.67, 0.55), (0.62, 0.43, 0.32), (0.36, 0.24, 0.18))
_HANDLES: Final[tuple[Colour, ...]] = ((0.1, 0.25, 0.6), (0.75, 0.15, 0.1), (0.85, 0.7, 0.1))


@dataclass(frozen=True, slots=True)
class Occluder:
    """A round thing that reaches into the picture from outside and ends at a point."""

    thing: Thing
    tip_px: tuple[float, float]
    comes_from_deg: float
    """Direction from the tip to where it comes from, clockwise from up."""
    radius_px: float
    dial: str
    look: int = 0
    """Which of the colours."""


def lay_over(picture: Picture, occluder: Occluder, light: Light) -> NDArray[np.float32]:
    """Draw a thing over a picture, in place.

    Parameters
    ----------
    picture
        Linear light.
    occluder
        What and where.
    light
        What lights it.

    Returns
    -------
    ndarray
        Height x width, the share of each pixel it covers.
    """
    high, wide = picture.shape[:2]
    mask, across, along = _body(occluder, wide, high)
    shadow = cv2.GaussianBlur(mask, (0, 0), occluder.radius_px * 0.35 + 1)
    aside = np.array([[1, 0, -0.5 * occluder.radius_px], [0, 1, 0.6 * occluder.radius_px]])
    shadow = cv2.warpAffine(shadow, aside, (wide, high))
    picture *= (1.0 - 0.55 * shadow)[..., None]
    colour = _colours(occluder, along)
    round_light = 0.45 + 0.55 * np.sqrt(np.clip(1.0 - across * across, 0.05, 1.0))
    round_light += 0.25 * np.exp(-(((across + 0.35) / 0.18) ** 2)) * (occluder.thing != "finger")
    strength = (light.room + light.lamp) * round_light
    picture += (colour * strength[..., None].astype(np.float32) - picture) * mask[..., None]
    return mask


def _body(
    occluder: Occluder, wide: int, high: int
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Cover, place across in radii, place along from the tip in radii."""
    a = np.radians(occluder.comes_from_deg)
    dx, dy = float(np.sin(a)), float(-np.cos(a))
    x = np.arange(wide, dtype=np.float32)[None, :] - np.float32(occluder.tip_px[0])
    y = np.arange(high, dtype=np.float32)[:, None] - np.float32(occluder.tip_px[1])
    along, across = x * dx + y * dy, y * dx - x * dy
    r = np.float32(occluder.radius_px)
    if occluder.thing == "cable":
        across = across + 1.5 * r * np.sin(along / (7 * r)).astype(np.float32)
    radius = np.full_like(along, r)
    if occluder.thing == "finger":
        radius = r * (0.86 + 0.14 * np.clip(along / (5 * r), 0, 1.4))
    elif occluder.thing == "screwdriver":
        radius = np.where(along < 9 * r, 0.42 * r, r).astype(np.float32)
    before = np.minimum(along - radius, 0.0)
    depth = radius - np.hypot(before, across)
    cover = np.clip(depth + 0.5, 0, 1).astype(np.float32)
    return cover, (across / radius).astype(np.float32), (along / r).astype(np.float32)


def _colours(occluder: Occluder, along: NDArray[np.float32]) -> NDArray[np.float32]:
    if occluder.thing == "finger":
        skin = linear_of(_SKINS[occluder.look % len(_SKINS)])
        crease = 1.0 - 0.12 * np.exp(-(((along - 4.2) / 0.25) ** 2))
        return np.asarray(skin * crease[..., None], dtype=np.float32)
    if occluder.thing == "screwdriver":
        steel = linear_of((0.55, 0.55, 0.57))
        handle = linear_of(_HANDLES[occluder.look % len(_HANDLES)])
        return np.where((along < 9)[..., None], steel, handle).astype(np.float32)
    black = linear_of((0.07, 0.07, 0.08))
    return np.broadcast_to(black, (*along.shape, 3))
