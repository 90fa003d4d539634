"""A photo cut down to one dial, for the page that shows the rows that decide."""

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image, UnidentifiedImageError

from needlewright.errors import PictureError
from needlewright.papers.overlay import DialDrawing, Pixels, Point, draw_fits

ROOM: Final = 0.14
"""Free room around the dial's scale, of the cut's side."""
SIDE_PX: Final = 640
"""Largest side of a picture on paper: 400 dots an inch at 41 mm."""


def dial_crop(pixels: Pixels, dial: DialDrawing) -> bytes:
    """Draw one dial's fit over a photo and cut the photo down to a square about it.

    Parameters
    ----------
    pixels
        The photo, height x width x 3, blue, green, red.
    dial
        Its scale, hub and needle in photo pixels.

    Returns
    -------
    bytes
        A JPEG.
    """
    drawn = draw_fits(pixels, [dial])
    points = [*dial.arc_px, *dial.hub_px, *(end for mark in dial.marks_px for end in mark)]
    points += [] if dial.needle_px is None else dial.needle_px
    left, top, side = _square(points, drawn.shape[1], drawn.shape[0])
    cut = drawn[top : top + side, left : left + side, ::-1]
    return _jpeg(Image.fromarray(np.ascontiguousarray(cut)))


def whole_picture(path: Path) -> bytes:
    """An overlay as it is, small enough for paper.

    Parameters
    ----------
    path
        The overlay.

    Returns
    -------
    bytes
        A JPEG.

    Raises
    ------
    PictureError
        If it cannot be opened.
    """
    try:
        with Image.open(path) as opened:
            return _jpeg(opened.convert("RGB"))
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise PictureError(
            f"{path}: cannot be opened as a picture; draw the overlays again or leave them out"
        ) from error


def _square(points: Sequence[Point], width_px: int, height_px: int) -> tuple[int, int, int]:
    """Left, top and side of the square about some points, moved inside the photo."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    widest = max(max(xs) - min(xs), max(ys) - min(ys))
    side = round(min(widest / (1 - 2 * ROOM), width_px, height_px))
    left = round((max(xs) + min(xs) - side) / 2)
    top = round((max(ys) + min(ys) - side) / 2)
    return max(0, min(left, width_px - side)), max(0, min(top, height_px - side)), side


def _jpeg(picture: Image.Image) -> bytes:
    picture.thumbnail((SIDE_PX, SIDE_PX), Image.Resampling.LANCZOS)
    stream = BytesIO()
    picture.save(stream, "JPEG", quality=88)
    return stream.getvalue()
