"""Where another face, or a photo of another unit, differs in print from a family's face.

The other picture is registered to the face as a photo is, laid over it, and compared with light and
contrast free in every place: what is left is print that one has and the other has not. A picture is
never laid quite exactly, so no more than a fraction of a millimetre beside each place counts as the
same place.

Source: the local straight-line fit of one picture to another is that of the guided filter (from
memory); thresholds: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.families.model import Dial, Family
from needlewright.readings.face_laid import (
    FoundPicture,
    LaidFace,
    comparing_scale,
    find_picture,
    laid_face,
    own_face,
)
from needlewright.readings.picture import Picture

LEAST_BLUR_PX: Final = 0.5
PLACE_MM: Final = 0.3
"""Print this near to where it should be is where it should be."""
WINDOW_MM: Final = 6.0
"""Light and contrast are the same over a place of this size."""
LEAST_CONTRAST: Final = 6.0
"""Standard deviation in grey levels below which a place has no print to go by."""
STANDS_OUT: Final = 22.0
"""Grey levels by which changed print differs."""
NOISES: Final = 7.0
CONTRAST_SHARE: Final = 0.5
"""Of the contrast about a place: less is an edge that is softer here than there."""
CLOSE_MM: Final = 1.5
"""Changes nearer to each other are one."""
LEAST_AREA_MM2: Final = 0.6
MOST_REGIONS: Final = 40
CHANGED_SHARE: Final = 0.35
"""Of a face that differs in more than this: it is another face."""

Grey = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class ChangedRegion:
    """A place where the print differs."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    area_mm2: float
    by_grey_levels: float
    """Mean difference of the other from the family's, positive: lighter."""
    dial: str | None
    """The dial it lies on."""
    near_value: float | None
    """What the needle would show pointing there; None: off the scale."""


@dataclass(frozen=True, slots=True, eq=False)
class FaceDifference:
    """Two faces beside each other."""

    regions: tuple[ChangedRegion, ...]
    """Largest first."""
    left_out: int
    """Regions beyond the most that are told."""
    share_compared: float
    """Of the face that both pictures show, needles taken out."""
    px_per_mm: float
    first: NDArray[np.uint8]
    """The family's face, or the first unit's, height x width x 3, RGB."""
    second: NDArray[np.uint8]
    """The other one, laid over it."""
    apart: NDArray[np.uint8]
    """How far they differ, height x width."""


def compare_face(family: Family, other: Picture, said: str, *, needles: bool) -> FaceDifference:
    """Compare a picture of another unit's face with a family's.

    Parameters
    ----------
    family
        The cluster design.
    other
        A photo or a scan.
    said
        What it is called in sentences.
    needles
        Whether needles may stand on it; those that are found are left out.

    Returns
    -------
    FaceDifference
        What differs.

    Raises
    ------
    PictureError
        If the face is not found in it, or nearly nothing of it is alike.
    """
    found = find_picture(family, other, said)
    scale = comparing_scale(family, found)
    second = laid_face(family, found, scale, needles=needles)
    theirs = f"{said}: nearly nothing of it is printed as on the face of family '{family.name}'"
    return _difference(family, own_face(family, scale), second, scale, theirs)


def compare_units(family: Family, first: FoundPicture, second: FoundPicture) -> FaceDifference:
    """Compare photos of two units of a family; needles that are found are left out in both.

    Parameters
    ----------
    family
        The cluster design: both are laid over its face.
    first
        As `face_laid.find_picture` finds it.
    second
        The other one.

    Returns
    -------
    FaceDifference
        What differs in the second from the first.

    Raises
    ------
    PictureError
        If nearly nothing of them is alike.
    """
    scale = comparing_scale(family, first, second)
    laid = [laid_face(family, one, scale, needles=True) for one in (first, second)]
    theirs = f"{second.said}: nearly nothing of it is printed as in {first.said}"
    return _difference(family, laid[0], laid[1], scale, theirs)


def _difference(
    family: Family, first: LaidFace, second: LaidFace, scale: float, unlike: str
) -> FaceDifference:
    seen = first.seen & second.seen
    sharp, soft = sorted((first, second), key=lambda one: one.softness_px)
    softness = max(float(np.sqrt(soft.softness_px**2 - sharp.softness_px**2)), LEAST_BLUR_PX)
    apart = _apart(sharp.pixels, soft.pixels, softness, scale)
    apart[~seen] = 0.0
    changed = _changed(apart, seen, scale)
    if not seen.any() or changed[seen].mean() > CHANGED_SHARE:
        raise PictureError(f"{unlike}; it is another face; describe it as a family of its own")
    regions = sorted(
        _regions(family, changed, first.pixels, second.pixels, scale), key=lambda r: -r.area_mm2
    )
    return FaceDifference(
        tuple(regions[:MOST_REGIONS]),
        max(len(regions) - MOST_REGIONS, 0),
        float(seen.mean()),
        scale,
        first.pixels[..., ::-1].copy(),
        second.pixels[..., ::-1].copy(),
        np.clip(apart * 3, 0, 255).astype(np.uint8),
    )


def _apart(
    first: NDArray[np.uint8], second: NDArray[np.uint8], softness: float, scale: float
) -> Grey:
    """How far the second is from what the first would look like in its light, grey levels."""
    place = 2 * max(1, round(PLACE_MM * scale)) + 1
    window = 2 * round(WINDOW_MM * scale / 2) + 1
    worst = np.zeros(first.shape[:2], np.float32)
    for channel in range(3):
        sharp = first[..., channel].astype(np.float32)
        here = np.asarray(cv2.GaussianBlur(sharp, (0, 0), softness), dtype=np.float32)
        there = second[..., channel].astype(np.float32)
        gain, level = _local_line(here, there, window)
        expected = np.asarray(gain * here + level, dtype=np.float32)
        around = np.ones((place, place), np.uint8)
        low, high = cv2.erode(expected, around), cv2.dilate(expected, around)
        outside = np.maximum(np.maximum(there - high, low - there), 0.0)
        # and print of the first that the second has nowhere near
        low, high = cv2.erode(there, around), cv2.dilate(there, around)
        missing = np.maximum(np.maximum(expected - high, low - expected), 0.0)
        found = np.maximum(outside, missing)
        found[found < CONTRAST_SHARE * _contrast(expected, there, scale)] = 0.0
        worst = np.maximum(worst, found)
    return np.asarray(worst, dtype=np.float32)


def _contrast(one: Grey, other: Grey, scale: float) -> Grey:
    """From the darkest to the lightest about each place, in either picture."""
    side = 2 * max(1, round(CLOSE_MM * scale / 2)) + 1
    around = np.ones((side, side), np.uint8)
    light = cv2.dilate(np.maximum(one, other), around)
    return np.asarray(light - cv2.erode(np.minimum(one, other), around), dtype=np.float32)


def _local_line(here: Grey, there: Grey, window: int) -> tuple[Grey, Grey]:
    """Gain and level that turn one picture into the other, over a window.

    Where there is no print to go by they are the usual ones.
    """

    def mean(picture: Grey) -> Grey:
        return np.asarray(cv2.boxFilter(picture, -1, (window, window)), dtype=np.float32)

    here_mean, there_mean = mean(here), mean(there)
    together = mean(here * there) - here_mean * there_mean
    spread = mean(here * here) - here_mean**2
    usual = float(np.median((together / np.maximum(spread, 1.0))[spread > LEAST_CONTRAST**2]))
    usual = float(np.clip(usual, 0.2, 3.0)) if np.isfinite(usual) else 1.0
    hold = 4 * LEAST_CONTRAST**2
    gain = (together + usual * hold) / (spread + hold)
    gain = np.clip(gain, 0.4 * usual, 1.6 * usual)
    return np.asarray(gain, np.float32), np.asarray(there_mean - gain * here_mean, np.float32)


def _changed(apart: Grey, seen: NDArray[np.bool_], scale: float) -> NDArray[np.bool_]:
    noise = 1.4826 * float(np.median(apart[seen])) if seen.any() else 0.0
    stands_out = (apart > max(STANDS_OUT, NOISES * noise)).astype(np.uint8)
    close = 2 * max(1, round(CLOSE_MM * scale / 2)) + 1
    return np.asarray(
        cv2.morphologyEx(stands_out, cv2.MORPH_CLOSE, np.ones((close, close), np.uint8)) > 0
    )


def _regions(
    family: Family,
    changed: NDArray[np.bool_],
    first: NDArray[np.uint8],
    second: NDArray[np.uint8],
    scale: float,
) -> list[ChangedRegion]:
    count, labels, stats, centres = cv2.connectedComponentsWithStats(
        changed.astype(np.uint8), connectivity=8
    )
    lighter = second.astype(np.float32).mean(axis=2) - first.astype(np.float32).mean(axis=2)
    lighter -= float(np.median(lighter))
    found = []
    for label in range(1, count):
        left, top, width, height, area = (float(number) for number in stats[label])
        if area / scale**2 < LEAST_AREA_MM2:
            continue
        x, y = (float(c) / scale for c in centres[label])
        dial, value = _named(family.dials, x, y)
        found.append(
            ChangedRegion(
                left / scale,
                top / scale,
                width / scale,
                height / scale,
                area / scale**2,
                float(lighter[labels == label].mean()),
                dial,
                value,
            )
        )
    return found


def _named(dials: Sequence[Dial], x_mm: float, y_mm: float) -> tuple[str | None, float | None]:
    """The dial a place lies on, and the value a needle pointing there shows."""
    for dial in sorted(dials, key=lambda one: one.needle.length_mm):  # insets first
        right, down = x_mm - dial.centre_mm[0], y_mm - dial.centre_mm[1]
        if np.hypot(right, down) > 1.35 * dial.needle.length_mm:
            continue
        angle = dial.scale.on_branch(float(np.degrees(np.arctan2(right, -down))))
        on_scale = dial.scale.contains_angle(angle)
        return dial.id, float(dial.scale.value_at(angle)) if on_scale else None
    return None, None
