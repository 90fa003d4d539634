"""Labels on a photo: their type, their size, and where they hide least."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ImageFont

Point = tuple[float, float]
Type = ImageFont.FreeTypeFont | ImageFont.ImageFont

TYPE_FILE: Final = Path(__file__).parent / "type" / "overlay.ttf"
"""Travels with the program, so that no machine lacks a sign: see the README.md beside it."""

FOOTER_LINES: Final = 2

_CELL_PX: Final = 8
"""Places are weighed on cells of this size."""
_DIAL_WEIGHT: Final = 1.0
_PRINT_WEIGHT: Final = 3.0
"""Marks and numerals, taken to lie between these shares of the needle's length."""
_PRINT_FROM: Final = 0.75
_PRINT_TO: Final = 1.35
_HUB_WEIGHT: Final = 6.0
_NEEDLE_WEIGHT: Final = 40.0
_LABEL_WEIGHT: Final = 400.0
_DISTANCE_WEIGHT: Final = 0.002
"""Share of a label over an open dial that weighs as much as one pixel of distance from the hub,
in a photo 1600 px wide."""


@dataclass(frozen=True, slots=True)
class Box:
    """A label's two lines and its size."""

    width_px: int
    height_px: int
    name_type: Type
    value_type: Type


@cache
def type_of(size_px: float) -> Type:
    """The type of every overlay, at a size."""
    return ImageFont.truetype(TYPE_FILE, max(8, round(size_px)))


def label_box(name: str, label: str, unit_px: float) -> Box:
    """Size a label; `unit_px` is the photo's longer side / 1600.

    The value is set so large that it can be read when the photo is shown as wide as a phone.
    """
    name_type, value_type = type_of(26 * unit_px), type_of(44 * unit_px)
    wide = max(name_type.getlength(name), value_type.getlength(label))
    return Box(round(wide + 36 * unit_px), round(92 * unit_px), name_type, value_type)


def place_labels(
    size_px: tuple[int, int],
    boxes: Sequence[Box],
    centres_px: Sequence[Point | None],
    arcs_px: Sequence[Sequence[Point]],
    needles_px: Sequence[tuple[Point, Point] | None],
) -> list[tuple[int, int]]:
    """Find each label's top-left corner, one after the other, where it hides least.

    Parameters
    ----------
    size_px
        Width and height of the photo.
    boxes
        The labels' sizes.
    centres_px
        Where each label belongs; None: the photo's top-left corner.
    arcs_px
        The dials' scales.
    needles_px
        The fitted needles.

    Returns
    -------
    list
        Corners, in pixels, every label inside the photo as far as it fits.
    """
    width, height = size_px
    worth = np.zeros((height // _CELL_PX + 1, width // _CELL_PX + 1), np.float64)
    for centre, arc, needle in zip(centres_px, arcs_px, needles_px, strict=True):
        _weigh(worth, centre, arc, needle)
    corners: list[tuple[int, int]] = []
    for box, centre in zip(boxes, centres_px, strict=True):
        row, column = _best(worth, box, centre, max(size_px) / 1600)
        corners.append((column * _CELL_PX, row * _CELL_PX))
        worth[row : row + _cells(box.height_px), column : column + _cells(box.width_px)] += (
            _LABEL_WEIGHT
        )
    return corners


def _cells(length_px: float) -> int:
    return int(length_px) // _CELL_PX + 2


def _weigh(
    worth: NDArray[np.float64],
    centre: Point | None,
    arc: Sequence[Point],
    needle: tuple[Point, Point] | None,
) -> None:
    layer = np.zeros(worth.shape, np.uint8)
    if centre is not None and len(arc) > 1:
        for share, weight in (
            (_PRINT_TO, _PRINT_WEIGHT),
            (_PRINT_FROM, _DIAL_WEIGHT - _PRINT_WEIGHT),
        ):
            layer[:] = 0
            rim = np.array(centre) + share * (np.array(arc) - centre)
            cv2.fillPoly(layer, [_in_cells([centre, *map(tuple, rim)])], 1)
            worth += layer * weight
        layer[:] = 0
        cv2.circle(layer, _in_cells([centre])[0].tolist(), 3, 1, -1)
        worth += layer * _HUB_WEIGHT
    if needle is not None:
        layer[:] = 0
        cv2.polylines(layer, [_in_cells(needle)], False, 1, 2)
        worth += layer * _NEEDLE_WEIGHT


def _in_cells(points: Sequence[Point]) -> NDArray[np.int32]:
    cells = np.clip(np.array(points, np.float64), -30_000, 60_000) / _CELL_PX
    return np.asarray(cells, np.int32)


def _best(
    worth: NDArray[np.float64], box: Box, centre: Point | None, unit_px: float
) -> tuple[int, int]:
    """Row and column of the cell whose box hides least, nearness to the hub counting too."""
    high, wide = _cells(box.height_px), _cells(box.width_px)
    high, wide = min(high, worth.shape[0]), min(wide, worth.shape[1])
    total = np.pad(worth.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    hidden = (
        total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    )
    rows, columns = np.indices(hidden.shape)
    x, y = (0.0, 0.0) if centre is None else centre
    dx = (columns + wide / 2) * _CELL_PX - x
    dy = (rows + high / 2) * _CELL_PX - y
    far = np.hypot(dx, 1.5 * dy) / unit_px * _DISTANCE_WEIGHT * high * wide
    row, column = np.unravel_index(int(np.argmin(hidden + far)), hidden.shape)
    return int(row), int(column)
