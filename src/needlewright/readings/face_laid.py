"""A picture of a unit's face, found in it and laid flat over the family's face.

Where a needle stands, where the picture ends and along the face's edge nothing is compared.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.families.face import open_face
from needlewright.families.model import Family
from needlewright.readings.face_art import art_of
from needlewright.readings.gates import photo_reason
from needlewright.readings.picture import Picture
from needlewright.readings.projection import Projection
from needlewright.readings.reader import FaceReader
from needlewright.readings.registration import MIN_SHARE_FOUND, Registration, register
from needlewright.readings.viewpoint import viewpoint_of

MOST_PX: Final = 1600
"""Wider side of the face as it is compared."""
MOST_PX_PER_MM: Final = 8.0
MOST_OBLIQUE_DEG: Final = 45.0
"""Beyond, needles hide too much and print is squeezed too far (common practice, no source)."""
MOST_GRAIN: Final = 7.0
"""Grey levels, standard deviation: three times as much is what changed print differs by."""
GRAIN_PX: Final = 3.0
"""Blur under which grain is gone and print is not."""
NEEDLE_MARGIN_MM: Final = 1.5
EDGE_MM: Final = 2.0
FRAMED_MM: Final = 6.0
"""Along the face's edge: of a scan, and of a photo, where a frame or its shadow lies over it."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundPicture:
    """A picture in which a family's face was found.

    Parameters
    ----------
    picture
        It.
    registration
        Where the face lies in it.
    said
        What it is called in sentences.
    """

    picture: Picture
    registration: Registration
    said: str


@dataclass(frozen=True, slots=True, eq=False)
class LaidFace:
    """A face laid flat at the scale it is compared at.

    Parameters
    ----------
    pixels
        Height x width x 3, blue, green, red.
    seen
        Height x width: whether the place counts.
    softness_px
        Blur of its print, standard deviation; 0: a scan taken as sharp.
    """

    pixels: NDArray[np.uint8]
    seen: NDArray[np.bool_]
    softness_px: float


def find_picture(family: Family, picture: Picture, said: str) -> FoundPicture:
    """Find a family's face in a picture.

    Parameters
    ----------
    family
        The cluster design.
    picture
        A photo or a scan.
    said
        What it is called in sentences.

    Returns
    -------
    FoundPicture
        The picture with its registration.

    Raises
    ------
    PictureError
        If the face is not found in it, or it was taken too obliquely to be compared.
    """
    grey = np.asarray(cv2.cvtColor(picture.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    found = register(grey, art_of(family))
    if found is None or found.share_found < MIN_SHARE_FOUND:
        reason = photo_reason(grey, something_found=found is not None).replace("_", " ")
        raise PictureError(
            f"{said}: the face of family '{family.name}' is not found in it ({reason}); it is "
            "another design, or take a sharper photo of the whole face from straight on"
        )
    height, width = picture.pixels.shape[:2]
    middle = found.projection.to_face(np.array([(width - 1) / 2, (height - 1) / 2]))
    view = viewpoint_of(found.projection, picture.focal_35mm, picture.pixels.shape)
    oblique = float(np.degrees(np.arctan(view.slant(middle)[0])))  # of what the camera looked at
    if oblique > MOST_OBLIQUE_DEG:
        raise PictureError(
            f"{said}: taken {oblique:.0f} degrees from straight on, and print is compared up to "
            f"{MOST_OBLIQUE_DEG:.0f}; take the photo from nearer to straight on"
        )
    return FoundPicture(picture, found, said)


def comparing_scale(family: Family, *found: FoundPicture) -> float:
    """Pixels per millimetre that pictures are compared at: the coarsest of them, within limits."""
    width, height = family.face_size_mm
    middle = np.array([width / 2, height / 2])
    own = (one.registration.projection.px_per_mm_at(middle) for one in found)
    return float(min(family.px_per_mm, *own, MOST_PX_PER_MM, MOST_PX / max(width, height)))


def own_face(family: Family, scale: float) -> LaidFace:
    """The family's own face at that scale."""
    art = open_face(family.face_path)[..., ::-1]
    width, height = (round(side * scale) for side in family.face_size_mm)
    pixels = np.asarray(
        cv2.resize(art, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8
    )
    return LaidFace(pixels, np.ones((height, width), dtype=bool), 0.0)


def laid_face(family: Family, found: FoundPicture, scale: float, *, needles: bool) -> LaidFace:
    """Lay a picture flat.

    Parameters
    ----------
    family
        The cluster design.
    found
        The picture.
    scale
        Pixels per millimetre.
    needles
        Whether needles may stand on it: those that are found do not count, nor what a frame may
        lie over.

    Returns
    -------
    LaidFace
        At that scale.

    Raises
    ------
    PictureError
        If its grain would be taken for print.
    """
    width, height = (round(side * scale) for side in family.face_size_mm)
    projection = found.registration.projection
    pixels, seen = _laid_over(found.picture, projection, (height, width), scale)
    seen &= _inside((height, width), scale, FRAMED_MM if needles else EDGE_MM)
    if needles:
        seen &= ~_needles(family, found.picture, projection, (height, width), scale)
    own = own_face(family, scale)  # a face may have a grain of its own
    more = grain(pixels, seen) ** 2 - grain(own.pixels, seen) ** 2
    if more > MOST_GRAIN**2:
        raise PictureError(
            f"{found.said}: too noisy to compare print, its grain is {more**0.5:.0f} grey levels; "
            "take the photo again with more light"
        )
    return LaidFace(pixels, seen, found.registration.softness_mm * scale)


def grain(pixels: NDArray[np.uint8], seen: NDArray[np.bool_]) -> float:
    """How far pixels scatter about their neighbourhood.

    Parameters
    ----------
    pixels
        Height x width x 3.
    seen
        Height x width: where it is looked at.

    Returns
    -------
    float
        Robust standard deviation of the green channel, grey levels; 0 where nothing is seen.
        **Source:** 1.4826 times the median absolute deviation, from memory.
    """
    if not seen.any():
        return 0.0
    green = pixels[..., 1].astype(np.float32)
    rest = np.abs(green - cv2.GaussianBlur(green, (0, 0), GRAIN_PX))
    return 1.4826 * float(np.median(rest[seen]))


def _laid_over(
    other: Picture, projection: Projection, shape: tuple[int, int], scale: float
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    height, width = shape
    x, y = np.meshgrid((np.arange(width) + 0.5) / scale, (np.arange(height) + 0.5) / scale)
    at = projection.to_photo(np.stack([x, y], axis=-1)).astype(np.float32)
    finer = projection.px_per_mm_at(np.array([x.mean(), y.mean()])) / scale
    pixels = other.pixels
    if finer > 1.3:  # several pixels of the photo lie in one here
        pixels = np.asarray(cv2.GaussianBlur(pixels, (0, 0), 0.4 * finer), dtype=np.uint8)
    laid = cv2.remap(pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    high, wide = other.pixels.shape[:2]
    seen = (at >= 0).all(axis=-1) & (at[..., 0] <= wide - 1) & (at[..., 1] <= high - 1)
    return np.asarray(laid, dtype=np.uint8), np.asarray(seen)


def _inside(shape: tuple[int, int], scale: float, edge_mm: float) -> NDArray[np.bool_]:
    edge = round(edge_mm * scale)
    inside = np.zeros(shape, dtype=bool)
    inside[edge:-edge, edge:-edge] = True
    return inside


def _needles(
    family: Family,
    other: Picture,
    projection: Projection,
    shape: tuple[int, int],
    scale: float,
) -> NDArray[np.bool_]:
    """Where needles and their caps lie, with some room about them."""
    covered = np.zeros(shape, dtype=np.uint8)
    read = FaceReader(family).read_picture(other)
    said = {reading.dial: reading for reading in read.readings}
    for dial in family.dials:
        at = np.array(dial.centre_mm) * scale
        needle, reading = dial.needle, said.get(dial.id)
        hub = round((needle.hub_radius_mm + 2 * NEEDLE_MARGIN_MM) * scale)
        cv2.circle(covered, _pixel(at), hub, 255, -1)
        if reading is None or reading.line_px is None:
            continue
        ends = np.array(reading.line_px, float)
        tail, tip = projection.to_face(ends) * scale
        wide = needle.base_width_mm + 2 * NEEDLE_MARGIN_MM + needle.height_mm / 2
        cv2.line(covered, _pixel(tail), _pixel(tip), 255, max(2, round(wide * scale)))
    return np.asarray(covered > 0)


def _pixel(at: NDArray[np.float64]) -> tuple[int, int]:
    return round(float(at[0])), round(float(at[1]))
