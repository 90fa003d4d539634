"""Small tags on a face picture, placed where the picture is emptiest."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import ImageDraw

from needlewright.papers import ink
from needlewright.papers.lettering import Type

Point = tuple[float, float]
Rectangle = tuple[float, float, float, float]

_EMPTY: Final = 2.0
"""Standard deviation of grey below which a spot counts as empty."""

_ABROAD: Final = 60.0
"""What a tag inside another dial costs: as much as covering a numeral."""


@dataclass(frozen=True, slots=True)
class Tag:
    """A text on its own small ground."""

    text: str
    box_px: Rectangle
    """Left, top, right, bottom."""
    type: Type


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to place a set of texts: a centre for each, and what speaks against it."""

    centres_px: tuple[Point, ...]
    cost: float = 0.0
    """In the unit of `_busy`: standard deviations of grey under a tag."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What tags keep clear of."""

    tags: tuple[Tag, ...] = ()
    """Never covered."""
    circles_px: tuple[tuple[Point, float], ...] = ()
    """Centres and radii of other dials; entered only where nothing better is left."""


def find_tag_places(
    grey: NDArray[np.float32],
    texts: Sequence[str],
    choices: Sequence[Choice],
    letters: Type,
    *,
    pad_px: float,
    taken: Taken,
) -> list[Tag]:
    """Choose, for all texts together, the set of places that hides least.

    Parameters
    ----------
    grey
        The picture so far, 0..255.
    texts
        What to write.
    choices
        Sets of centres, one centre per text in each.
    letters
        The type.
    pad_px
        Ground around the letters.
    taken
        What to keep clear of.

    Returns
    -------
    list of Tag
        One per text. Where no set fits the picture without overlap, the first set is taken.
    """
    best: list[Rectangle] | None = None
    least = float("inf")
    for choice in choices:
        boxes = [
            _box(text, centre, letters, pad_px)
            for text, centre in zip(texts, choice.centres_px, strict=True)
        ]
        if not _fits(boxes, grey.shape, [tag.box_px for tag in taken.tags]):
            continue
        hidden = [max(_busy(grey, box) - _EMPTY, 0.0) + _abroad(box, taken) for box in boxes]
        # one bad tag among many good ones still misleads
        cost = sum(hidden) / len(hidden) + max(hidden) / 2 + choice.cost
        if cost < least:
            best, least = boxes, cost
    if best is None:
        firsts = zip(texts, choices[0].centres_px, strict=True)
        best = [_box(text, centre, letters, pad_px) for text, centre in firsts]
    return [Tag(text, box, letters) for text, box in zip(texts, best, strict=True)]


def draw_tag(pen: ImageDraw.ImageDraw, tag: Tag, unit_px: float) -> None:
    """Draw a tag: near-black letters on paper, legible on any face.

    Parameters
    ----------
    pen
        Of the picture.
    tag
        What and where.
    unit_px
        Width of the thinnest line.
    """
    left, top, right, bottom = tag.box_px
    pen.rounded_rectangle(tag.box_px, radius=3 * unit_px, fill=ink.PAPER, outline=ink.INK)
    middle = ((left + right) / 2, (top + bottom) / 2)
    pen.text(middle, tag.text, font=tag.type, fill=ink.INK, anchor="mm")


def _box(text: str, centre: Point, letters: Type, pad_px: float) -> Rectangle:
    left, top, right, bottom = letters.getbbox("0" + text[1:] if text else "0")
    half_wide = max(letters.getlength(text), right - left) / 2 + pad_px * 1.5
    half_high = (bottom - top) / 2 + pad_px
    x, y = centre
    return x - half_wide, y - half_high, x + half_wide, y + half_high


def _fits(boxes: Sequence[Rectangle], shape: tuple[int, ...], taken: Sequence[Rectangle]) -> bool:
    height, width = shape[:2]
    for i, box in enumerate(boxes):
        if box[0] < 0 or box[1] < 0 or box[2] >= width or box[3] >= height:
            return False
        if any(_overlap(box, other) for other in (*boxes[:i], *taken)):
            return False
    return True


def _overlap(a: Rectangle, b: Rectangle) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _busy(grey: NDArray[np.float32], box: Rectangle) -> float:
    left, top, right, bottom = (round(side) for side in box)
    return float(grey[top : bottom + 1, left : right + 1].std())


def _abroad(box: Rectangle, taken: Taken) -> float:
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    return _ABROAD * any(np.hypot(x - cx, y - cy) < r for (cx, cy), r in taken.circles_px)
