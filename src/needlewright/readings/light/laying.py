"""A photo of a lit face, found, made linear and laid over the face plane.

In the dark a face is print of very different brightness, with parts missing where lamps are out.
Before it is looked for, every place is brought to the same mean and contrast: the bench is never so
dark that nothing at all is seen of unlit print.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.families.face import open_face
from needlewright.families.model import Family
from needlewright.readings.face_art import FaceArt
from needlewright.readings.face_finding import scaled
from needlewright.readings.light.linear import (
    BLACK,
    SATURATED,
    TOP,
    WHOLE_CURVE,
    Light,
    linear_light,
    luminance,
)
from needlewright.readings.picture import Picture
from needlewright.readings.projection import Array, Projection
from needlewright.readings.registration import MIN_SHARE_FOUND, register

FINEST_PX_PER_MM: Final = 4.0
"""Of the face as light is measured on it."""
MOST_PX: Final = 1600
LEAST_FACE_PX: Final = 300
"""Width in the photo below which strokes of print are thinner than a pixel."""
LARGEST_PX: Final = 6000
"""Longer side above which a photo is averaged down first, to spare memory."""
LIT: Final = 12
"""Code from which a pixel is lit at all."""
FEWEST_LIT: Final = 25
"""Pixels, lit, that one sign far away has; fewer are faults of the sensor."""
ALL_WHITE: Final = 0.5
"""Share of a photo that is blown out beyond which nothing in it can be measured."""
FLATTENED_PX: Final = 2000
EVEN_OUT_PX: Final = 25.0
"""Standard deviation of the places that are brought to the same contrast, at 1000 px."""
GREY_FLOOR: Final = 1.0
"""Contrast below which a place is noise, codes."""
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


@dataclass(frozen=True, slots=True, eq=False)
class FoundFace:
    """Where the face lies in a photo of a lit one."""

    projection: Projection
    softness_mm: float
    by_other: str | None = None
    """The photo its place was taken from, where it could not be found here."""


def find_lit_face(picture: Picture, art: FaceArt, said: str, family: str) -> FoundFace:
    """Find the face in a photo taken in the dark.

    Parameters
    ----------
    picture
        The photo.
    art
        The family's artwork.
    said
        What the photo is called in sentences.
    family
        Name of the family, for the same.

    Returns
    -------
    FoundFace
        Its place.

    Raises
    ------
    PictureError
        If nothing in it gives light, nearly everything is blown out, the face is not found, or it
        is too small.
    """
    grey = np.asarray(cv2.cvtColor(picture.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    refuse_unusable(grey, said)
    small = scaled(grey, min(FLATTENED_PX / max(grey.shape), 1.0))
    best = None
    for treated in (evened_out(small), small):
        found = register(treated, art)
        if found is not None and (best is None or found.share_found > best.share_found):
            best = found
        if best is not None and best.share_found >= MIN_SHARE_FOUND:
            break
    if best is None or best.share_found < MIN_SHARE_FOUND:
        raise PictureError(
            f"{said}: the face of family '{family}' is not found in it; it is another family, or "
            "out of focus, or too little of its print is lit; take a sharp photo of the whole "
            "face with the backlight on"
        )
    high, wide = grey.shape
    projection = best.projection.in_photo(wide, high)
    middle = np.array([art.size_mm[0] / 2, art.size_mm[1] / 2])
    across_px = projection.px_per_mm_at(middle) * art.size_mm[0]
    if across_px < LEAST_FACE_PX:
        raise PictureError(
            f"{said}: the face is {across_px:.0f} px wide in it and at least {LEAST_FACE_PX} px "
            "are needed to measure its print's light; go nearer or take a larger photo"
        )
    return FoundFace(projection, best.softness_mm)


def refuse_unusable(grey: NDArray[np.uint8], said: str) -> None:
    """Say so where a photo is black or blown out.

    Parameters
    ----------
    grey
        The photo.
    said
        What it is called in sentences.

    Raises
    ------
    PictureError
        One sentence.
    """
    if int(np.count_nonzero(grey >= LIT)) < FEWEST_LIT:
        raise PictureError(
            f"{said}: nothing in it gives light (too dark); switch the lamps on, or expose longer"
        )
    blown = float(np.mean(grey >= SATURATED))
    if blown > ALL_WHITE:
        raise PictureError(
            f"{said}: {100 * blown:.0f} % of it is blown out (too bright); expose shorter"
        )


def evened_out(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The photo with every place at the same mean and contrast.

    Parameters
    ----------
    grey
        Height x width.

    Returns
    -------
    NDArray
        Of the same size.
    """
    wide = EVEN_OUT_PX * max(grey.shape) / 1000
    codes = grey.astype(np.float32)
    off = codes - _smooth(codes, wide)
    spread = np.sqrt(_smooth(off * off, wide)) + np.float32(GREY_FLOOR)
    return np.asarray(np.clip(128 + 45 * off / spread, 0, 255), np.uint8)


def _smooth(plane: Light, sigma_px: float) -> Light:
    """A wide blur, of a quarter of the pixels."""
    high, wide = plane.shape
    small = cv2.resize(plane, (max(wide // 4, 1), max(high // 4, 1)), interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma_px / 4)
    return np.asarray(cv2.resize(small, (wide, high), interpolation=cv2.INTER_LINEAR), np.float32)


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
