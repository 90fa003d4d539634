"""A photo of a lit face, made linear and laid over the face plane."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.face import open_face
from needlewright.families.model import Family
from needlewright.readings.light.linear import (
    BLACK,
    SATURATED,
    TOP,
    WHOLE_CURVE,
    Light,
    linear_light,
    luminance,
)
from needlewright.readings.light.lit_face import FoundFace
from needlewright.readings.picture import Picture
from needlewright.readings.projection import Array, Projection

FINEST_PX_PER_MM: Final = 4.0
"""Of the face as light is measured on it."""
MOST_PX: Final = 1600
LARGEST_PX: Final = 6000
"""Longer side above which a photo is averaged down first, to spare memory."""
AROUND_MM: Final = (5.0, 60.0)
"""About the face: where a dark bench shows nothing."""

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class LaidLight:
    """A face's light on the face plane, one pixel a place.

    Parameters
    ----------
    said
        What the picture is called in sentences.
    light
        Height x width x 3, linear, blue, green, red.
    seen
        Height x width: inside the photo.
    saturated
        Blown out.
    black
        Too dark for its codes to say how dark.
    px_per_mm
        The same both ways; pixel (column i, row j) has its centre at ((i + 0.5), (j + 0.5)) / it.
    softness_mm
        Blur of the picture, standard deviation.
    around
        Upper quartile of the luminance about the face; None: the photo shows nothing of it.
    projection
        How the face lies in the photo; None: the print itself.
    size_px
        Width and height of the photo.
    """

    said: str
    light: Light
    seen: Mask
    saturated: Mask
    black: Mask
    px_per_mm: float
    softness_mm: float
    around: float | None
    projection: Projection | None
    size_px: tuple[int, int]

    @property
    def luminance(self) -> Light:
        """Height x width."""
        return luminance(self.light)

    def places_mm(self) -> tuple[Light, Light]:
        """Face coordinates of every pixel, x and y."""
        high, wide = self.seen.shape
        return grid_mm((high, wide), self.px_per_mm)


def grid_mm(shape: tuple[int, int], px_per_mm: float) -> tuple[Light, Light]:
    """Face coordinates of the pixels of a laid picture, x and y."""
    high, wide = shape
    x = (np.arange(wide, dtype=np.float32) + np.float32(0.5)) / np.float32(px_per_mm)
    y = (np.arange(high, dtype=np.float32) + np.float32(0.5)) / np.float32(px_per_mm)
    along, down = np.meshgrid(x, y)
    return np.asarray(along, np.float32), np.asarray(down, np.float32)


def scale_for(family: Family, projection: Projection) -> float:
    """Pixels a millimetre at which a photo's light is measured.

    Parameters
    ----------
    family
        The cluster design.
    projection
        How its face lies in the photo.

    Returns
    -------
    float
        Not finer than the photo, nor than is worth the while.
    """
    wide, high = family.face_size_mm
    there = projection.px_per_mm_at(np.array([wide / 2, high / 2]))
    return float(min(there, FINEST_PX_PER_MM, MOST_PX / max(wide, high)))


def lay_photo(
    family: Family, picture: Picture, found: FoundFace, said: str, px_per_mm: float
) -> LaidLight:
    """Lay a photo's light over the face plane.

    Parameters
    ----------
    family
        The cluster design.
    picture
        The photo.
    found
        Where the face lies in it.
    said
        What the photo is called in sentences.
    px_per_mm
        How finely.

    Returns
    -------
    LaidLight
        Ready to be measured.
    """
    codes, projection = picture.pixels, found.projection
    size = (codes.shape[1], codes.shape[0])
    if max(size) > LARGEST_PX:
        share = LARGEST_PX / max(size)
        smaller = (round(size[0] * share), round(size[1] * share))
        codes = np.asarray(cv2.resize(codes, smaller, interpolation=cv2.INTER_AREA), np.uint8)
        projection = projection.in_photo(*smaller)
    blown = np.asarray((codes >= SATURATED).any(axis=2))
    dark = np.asarray((codes <= BLACK).all(axis=2))
    shape = tuple(round(side * px_per_mm) for side in family.face_size_mm[::-1])
    x, y = grid_mm((shape[0], shape[1]), px_per_mm)
    at = projection.to_photo(np.stack([x, y], axis=-1).astype(np.float64)).astype(np.float32)
    finer = projection.px_per_mm_at(np.array(family.face_size_mm) / 2) / px_per_mm
    light = np.asarray(WHOLE_CURVE[codes], np.uint16)
    if finer > 1.3:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), 0.4 * finer), np.uint16)
    laid = cv2.remap(light, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    high, wide = codes.shape[:2]
    seen = (at >= 0).all(axis=-1) & (at[..., 0] <= wide - 1) & (at[..., 1] <= high - 1)
    return LaidLight(
        said,
        np.asarray(laid, np.float32) / np.float32(TOP),
        np.asarray(seen),
        _laid_mask(blown, at),
        _laid_mask(dark, at, every=True),
        px_per_mm,
        found.softness_mm,
        _around(family, codes, projection),
        found.projection,
        size,
    )


def _laid_mask(mask: Mask, at: Light, *, every: bool = False) -> Mask:
    """Where any of the pixels about a place is of a kind, or every one of them."""
    plane = mask.astype(np.uint8) * 255
    laid = cv2.remap(plane, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    return np.asarray(laid == 255) if every else np.asarray(laid > 0)


def _around(family: Family, codes: NDArray[np.uint8], projection: Projection) -> float | None:
    """Upper quartile of the luminance beside the face, seen in the face's own plane."""
    wide, high = family.face_size_mm
    near, far = AROUND_MM
    x, y = np.meshgrid(np.arange(-far, wide + far, 2.0), np.arange(-far, high + far, 2.0))
    off = np.maximum(np.maximum(-x, x - wide), np.maximum(-y, y - high))
    places: Array = np.stack([x, y], axis=-1)[(off > near) & (off < far)]
    at = np.round(projection.to_photo(places)).astype(int)
    inside = (at >= 0).all(axis=1) & (at[:, 0] < codes.shape[1]) & (at[:, 1] < codes.shape[0])
    if inside.sum() < 100:
        return None
    seen = linear_light(codes[at[inside, 1], at[inside, 0]])
    return float(np.percentile(luminance(seen), 75))


def lay_print(family: Family, like: LaidLight) -> LaidLight:
    """The family's own print as if it were lit evenly, as soft as a photo is.

    Parameters
    ----------
    family
        The cluster design.
    like
        A laid photo.

    Returns
    -------
    LaidLight
        On the same pixels.

    Raises
    ------
    PictureError
        If the face's picture cannot be used.
    """
    art = linear_light(np.ascontiguousarray(open_face(family.face_path)[..., ::-1]))
    high, wide = like.seen.shape
    light = np.asarray(cv2.resize(art, (wide, high), interpolation=cv2.INTER_AREA), np.float32)
    soft_px = like.softness_mm * like.px_per_mm
    if soft_px > 0.3:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), soft_px), np.float32)
    every = np.ones((high, wide), bool)
    none = np.zeros((high, wide), bool)
    said = f"the print of family '{family.name}'"
    return LaidLight(
        said, light, every, none, none, like.px_per_mm, like.softness_mm, None, None, (wide, high)
    )
