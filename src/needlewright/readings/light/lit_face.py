"""Where the face lies in a photo taken in the dark.

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
from needlewright.readings.face_art import FaceArt
from needlewright.readings.face_finding import scaled
from needlewright.readings.light.linear import SATURATED, Light
from needlewright.readings.picture import Picture
from needlewright.readings.projection import Projection
from needlewright.readings.registration import MIN_SHARE_FOUND, register

LEAST_FACE_PX: Final = 300
"""Width in the photo below which strokes of print are thinner than a pixel."""
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
