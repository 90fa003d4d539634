"""Two faces side by side with what differs boxed, and how far they differ."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from needlewright.papers.lettering import type_of

BOX: Final = (255, 196, 0)
PAPER: Final = (251, 248, 241)
INK: Final = (29, 27, 23)
GAP_PX: Final = 16
LEAST_BOX_PX: Final = 10
Pixels = NDArray[np.uint8]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom, pixels."""


def write_face_pair(
    file: Path,
    pictures: Sequence[tuple[str, Pixels]],
    boxes: Sequence[Box],
    title: str,
) -> None:
    """Draw pictures of one size above each other, each with the same numbered boxes.

    Parameters
    ----------
    file
        A PNG.
    pictures
        Caption and pixels, height x width x 3 RGB or height x width, of one size.
    boxes
        In pixels of the pictures; numbered from 1.
    title
        Stands above everything.
    """
    height, width = pictures[0][1].shape[:2]
    size = max(14.0, width / 70)
    letters, band = type_of(size), round(1.9 * size)
    whole = Image.new(
        "RGB",
        (width + 2 * GAP_PX, 2 * GAP_PX + band + len(pictures) * (height + band + GAP_PX)),
        PAPER,
    )
    pen = ImageDraw.Draw(whole)
    pen.text((GAP_PX, GAP_PX), title, fill=INK, font=letters)
    top = GAP_PX + band
    for caption, pixels in pictures:
        pen.text((GAP_PX, top + 0.3 * size), caption, fill=INK, font=letters)
        top += band
        rgb = pixels if pixels.ndim == 3 else np.repeat(pixels[..., None], 3, axis=2)
        whole.paste(Image.fromarray(rgb), (GAP_PX, top))
        for number, box in enumerate(boxes, start=1):
            _box(pen, box, (GAP_PX, top), number, size)
        top += height + GAP_PX
    file.parent.mkdir(parents=True, exist_ok=True)
    whole.save(file)


def _box(
    pen: ImageDraw.ImageDraw, box: Box, corner: tuple[int, int], number: int, size: float
) -> None:
    left, top, right, bottom = box
    pad = max(0.35 * size, (LEAST_BOX_PX - (right - left)) / 2, (LEAST_BOX_PX - (bottom - top)) / 2)
    shape = (
        corner[0] + left - pad,
        corner[1] + top - pad,
        corner[0] + right + pad,
        corner[1] + bottom + pad,
    )
    line = max(2, round(size / 7))
    pen.rectangle(shape, outline=INK, width=line + 2)
    pen.rectangle(shape, outline=BOX, width=line)
    text, letters = str(number), type_of(0.9 * size)
    place = (shape[2] + 3, shape[1] - 2)
    around = pen.textbbox(place, text, font=letters)
    pen.rectangle((around[0] - 2, around[1] - 1, around[2] + 2, around[3] + 1), fill=BOX)
    pen.text(place, text, fill=INK, font=letters)
