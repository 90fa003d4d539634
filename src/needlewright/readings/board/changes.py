"""Places where a board's side looks otherwise after than before, strongest first.

The after photo is laid over the before photo, light and contrast are made the same in every place,
and what is left is compared with the photos' own noise. Bright solder throws back the lamp and
changes with every photo: a place is where to look, never a verdict.

Source: thresholds: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.board.alignment import BoardAlignment, scaled_to
from needlewright.readings.picture import Picture

COMPARED_PX: Final = 1200
"""Long side at which the two are compared."""
SOFT_PX: Final = 1.2
PLACE_PX: Final = 5
"""Side of the place within which an edge may lie: a photo is never laid quite exactly."""
WINDOW_PX: Final = 121
"""Light and contrast are the same over a place of this size."""
STANDS_OUT: Final = 16.0
"""Grey levels by which a changed place differs at least."""
NOISES: Final = 7.0
CLOSE_PX: Final = 9
LEAST_AREA_PX: Final = 24
MOST_PLACES: Final = 20
LEAST_SCORE: Final = 1.5
"""Less is an edge that lies a little beside itself; on undamaged drawn boards none reaches it."""
EDGE_PX: Final = 6

Grey = NDArray[np.float32]
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class ChangedPlace:
    """A place that looks otherwise after than before; all in shares of the before photo."""

    left: float
    top: float
    width: float
    height: float
    score: float
    """How far beyond noise, in times of its limit, and more for a larger place."""
    by_grey_levels: float
    """Mean difference of the after photo from the before photo, positive: lighter."""


@dataclass(frozen=True, slots=True, eq=False)
class BoardChanges:
    """Two photos of one side beside each other.

    Parameters
    ----------
    alignment
        How they lie over each other.
    places
        What changed, strongest first.
    left_out
        Places beyond the most that are told.
    noise_levels
        Robust standard deviation of what is left where nothing changed, grey levels.
    before
        The before photo, height x width x 3, RGB, `COMPARED_PX` at most.
    after
        The after photo laid over it, in its light; black where it shows nothing.
    """

    alignment: BoardAlignment
    places: tuple[ChangedPlace, ...]
    left_out: int
    noise_levels: float
    before: Pixels
    after: Pixels


def find_changes(before: Picture, after: Picture, alignment: BoardAlignment) -> BoardChanges:
    """Find what changed between two photos of one side of a board.

    Parameters
    ----------
    before
        As found.
    after
        As left.
    alignment
        From `align_board` of the two.

    Returns
    -------
    BoardChanges
        The places, and both photos laid over each other in the same light.
    """
    first, factor = scaled_to(before, COMPARED_PX)
    second, seen = _laid(after, alignment, first.shape[:2], factor)
    evened = np.empty_like(second)
    apart = np.zeros(first.shape[:2], np.float32)
    for channel in range(3):
        there, off = _apart(first[..., channel], second[..., channel], seen)
        evened[..., channel] = np.clip(np.round(there), 0, 255)
        apart = np.maximum(apart, off)
    evened[~seen] = 0
    apart[~seen] = 0
    noise = 1.4826 * float(np.median(apart[seen])) if seen.any() else 0.0
    limit = max(STANDS_OUT, NOISES * noise)
    places = _places(apart, limit, first, evened)
    return BoardChanges(
        alignment,
        tuple(places[:MOST_PLACES]),
        max(len(places) - MOST_PLACES, 0),
        noise,
        np.ascontiguousarray(first[..., ::-1]),
        np.ascontiguousarray(evened[..., ::-1]),
    )


def _laid(
    after: Picture, alignment: BoardAlignment, shape: tuple[int, ...], factor: float
) -> tuple[Pixels, NDArray[np.bool_]]:
    """The after photo as the before photo is seen, and where it shows anything."""
    high, wide = shape
    x, y = np.meshgrid(np.arange(wide), np.arange(high))
    full = (np.stack([x.ravel(), y.ravel()], axis=1) + 0.5) / factor - 0.5
    at = alignment.to_after(np.asarray(full, np.float64)).reshape(high, wide, 2).astype(np.float32)
    pixels = after.pixels
    finer = float(np.linalg.norm(at[high // 2, wide // 2 + 1] - at[high // 2, wide // 2]))
    if finer > 1.3:  # several pixels of the photo lie in one here
        pixels = np.asarray(cv2.GaussianBlur(pixels, (0, 0), 0.4 * finer), np.uint8)
    laid = cv2.remap(pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    tall, broad = pixels.shape[:2]
    inside = (at >= 0).all(axis=-1) & (at[..., 0] <= broad - 1) & (at[..., 1] <= tall - 1)
    edge = np.zeros((high, wide), np.uint8)
    edge[EDGE_PX:-EDGE_PX, EDGE_PX:-EDGE_PX] = 1
    around = np.ones((2 * EDGE_PX + 1, 2 * EDGE_PX + 1), np.uint8)
    seen = np.asarray(cv2.erode(inside.astype(np.uint8), around), np.uint8) & edge
    return np.asarray(laid, np.uint8), seen > 0


def _apart(before: Pixels, after: Pixels, seen: NDArray[np.bool_]) -> tuple[Grey, Grey]:
    """After in the light of before, and how far they are apart beyond a shifted edge."""
    here = np.asarray(cv2.GaussianBlur(before, (0, 0), SOFT_PX), np.float32)
    there = np.asarray(cv2.GaussianBlur(after, (0, 0), SOFT_PX), np.float32)
    gain, level = _light_of(there, here, seen.astype(np.float32))
    there = gain * there + level
    around = np.ones((PLACE_PX, PLACE_PX), np.uint8)
    off = np.zeros_like(here)
    for one, other in ((here, there), (there, here)):
        low, high = cv2.erode(one, around), cv2.dilate(one, around)
        off = np.maximum(off, np.maximum(other - high, low - other))
    shown = gain * after.astype(np.float32) + level
    return np.asarray(shown, np.float32), np.maximum(off, 0)


def _light_of(there: Grey, here: Grey, seen: Grey) -> tuple[Grey, Grey]:
    """Gain and level about every place that give one photo the light of the other."""
    size = (WINDOW_PX, WINDOW_PX)
    weight = np.maximum(cv2.boxFilter(seen, -1, size), 1e-3)

    def mean(picture: Grey) -> Grey:
        return np.asarray(cv2.boxFilter(picture * seen, -1, size) / weight, np.float32)

    a, b = mean(there), mean(here)
    spread_a = np.sqrt(np.maximum(mean(there * there) - a * a, 0))
    spread_b = np.sqrt(np.maximum(mean(here * here) - b * b, 0))
    gain = np.clip((spread_b + 4) / (spread_a + 4), 0.25, 4.0)
    return np.asarray(gain, np.float32), np.asarray(b - gain * a, np.float32)


def _places(apart: Grey, limit: float, before: Pixels, after: Pixels) -> Sequence[ChangedPlace]:
    changed = (apart > limit).astype(np.uint8)
    around = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (CLOSE_PX, CLOSE_PX))
    closed = cv2.morphologyEx(changed, cv2.MORPH_CLOSE, around)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(closed, connectivity=8)
    lighter = after.astype(np.float32).mean(axis=2) - before.astype(np.float32).mean(axis=2)
    high, wide = apart.shape
    found = []
    for label in range(1, count):
        left, top, width, height, area = (int(number) for number in stats[label])
        if area < LEAST_AREA_PX:
            continue
        box = (slice(top, top + height), slice(left, left + width))
        inside = labels[box] == label
        score = float(apart[box][inside].mean()) / limit * float(np.sqrt(area / LEAST_AREA_PX))
        if score < LEAST_SCORE:
            continue
        found.append(
            ChangedPlace(
                left / wide,
                top / high,
                width / wide,
                height / high,
                score,
                float(lighter[box][inside].mean()),
            )
        )
    return sorted(found, key=lambda place: -place.score)
