"""A photo with what was read drawn over it: fitted needles, hubs, scales and a label per dial.

Lines are thin and cased, so that the needle's own edges stay visible beside them. Whether a dial
was read is said in words and by the drawing: a whole scale with a needle line, or a dashed scale
with a cross on the hub.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageColor, ImageDraw

from needlewright.papers import ink
from needlewright.papers.lettering import FOOTER_LINES, Box, label_box, place_labels, type_of
from needlewright.papers.wording import sentence_for_people

Pixels = NDArray[np.uint8]
Point = tuple[float, float]

NEEDLE_LINE: Final = "#35e0ff"
SCALE_LINE: Final = "#ffd84d"
REFUSED_LINE: Final = "#ff8a70"
CASING: Final = "#14120f"
"""Bright lines in a dark casing stand out on dark faces and on light ones."""

_SHIFT: Final = 4  # OpenCV draws to a sixteenth of a pixel


@dataclass(frozen=True, slots=True)
class DialDrawing:
    """What is drawn for one dial, in photo pixels (x, y)."""

    name: str
    label: str
    """Value with uncertainty, or why there is none."""
    was_read: bool
    centre_px: Point | None = None
    """None, as everything below, where the face was not found."""
    hub_px: tuple[Point, ...] = ()
    arc_px: tuple[Point, ...] = ()
    marks_px: tuple[tuple[Point, Point], ...] = ()
    needle_px: tuple[Point, Point] | None = None


def draw_overlay(pixels: Pixels, dials: Sequence[DialDrawing], footer: Sequence[str]) -> Pixels:
    """Draw readings over a photo.

    Parameters
    ----------
    pixels
        The photo, height x width x 3, blue, green, red. It is not changed.
    dials
        What to draw.
    footer
        Up to two lines set under the photo.

    Returns
    -------
    NDArray
        A copy, of the same width and a little higher, with the drawing on it.
    """
    return _letter(draw_fits(pixels, dials), dials, footer, _unit_px(pixels))


def draw_fits(pixels: Pixels, dials: Sequence[DialDrawing]) -> Pixels:
    """Draw scales, hubs and fitted needles over a photo, without a word.

    Parameters
    ----------
    pixels
        The photo, height x width x 3, blue, green, red. It is not changed.
    dials
        What to draw.

    Returns
    -------
    NDArray
        A copy of the same size.
    """
    drawn = pixels.copy()
    unit_px = _unit_px(pixels)
    for dial in dials:
        _draw_scale(drawn, dial, unit_px)
    for dial in dials:
        _draw_needle(drawn, dial, unit_px)
    return drawn


def _unit_px(pixels: Pixels) -> float:
    return float(max(pixels.shape[:2])) / 1600


def write_overlay(
    path: Path, pixels: Pixels, dials: Sequence[DialDrawing], footer: Sequence[str]
) -> None:
    """Write `draw_overlay` as a JPEG; the file appears whole or not at all."""
    rgb = draw_overlay(pixels, dials, footer)[:, :, ::-1]
    part = path.with_name(path.name + ".part")
    try:
        Image.fromarray(np.ascontiguousarray(rgb)).save(part, "JPEG", quality=90, subsampling=0)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _draw_scale(drawn: Pixels, dial: DialDrawing, unit_px: float) -> None:
    colour = SCALE_LINE if dial.was_read else REFUSED_LINE
    if dial.was_read:
        _line(drawn, dial.arc_px, colour, 1.5 * unit_px)
    else:
        for i in range(0, len(dial.arc_px) - 1, 2):  # dashed
            _line(drawn, dial.arc_px[i : i + 2], colour, 1.5 * unit_px)
    for mark in dial.marks_px:
        _line(drawn, mark, colour, 2.5 * unit_px)


def _draw_needle(drawn: Pixels, dial: DialDrawing, unit_px: float) -> None:
    _line(drawn, dial.hub_px, NEEDLE_LINE if dial.was_read else REFUSED_LINE, 1.5 * unit_px)
    if dial.centre_px is None:
        return
    x, y = dial.centre_px
    arm = 9 * unit_px
    if dial.was_read:
        _line(drawn, ((x - arm, y), (x + arm, y)), NEEDLE_LINE, 1.5 * unit_px)
        _line(drawn, ((x, y - arm), (x, y + arm)), NEEDLE_LINE, 1.5 * unit_px)
    else:
        _line(drawn, ((x - arm, y - arm), (x + arm, y + arm)), REFUSED_LINE, 3 * unit_px)
        _line(drawn, ((x - arm, y + arm), (x + arm, y - arm)), REFUSED_LINE, 3 * unit_px)
    if dial.needle_px is not None:
        _needle_line(drawn, dial.needle_px, unit_px)


def _needle_line(drawn: Pixels, needle_px: tuple[Point, Point], unit_px: float) -> None:
    """The fitted line with a short bar across its end; thinner on a needle that is small."""
    (x0, y0), (x1, y1) = needle_px
    length = max(float(np.hypot(x1 - x0, y1 - y0)), 1e-6)
    width = min(2 * unit_px, length / 60)
    half_bar = 3.5 * width + 1
    across_x, across_y = -(y1 - y0) / length * half_bar, (x1 - x0) / length * half_bar
    ends = ((x1 - across_x, y1 - across_y), (x1 + across_x, y1 + across_y))
    _line(drawn, needle_px, NEEDLE_LINE, width)
    _line(drawn, ends, NEEDLE_LINE, width)


def _line(drawn: Pixels, points: Sequence[Point], colour: str, width_px: float) -> None:
    """A cased polyline; points far outside the frame are kept within OpenCV's numbers."""
    if len(points) < 2:
        return
    fixed = np.clip(np.array(points), -30_000, 60_000)
    corners = np.round(fixed * 2**_SHIFT).astype(np.int32).reshape(-1, 1, 2)
    core = max(1, round(width_px))
    cased = core + round(1.3 * width_px)
    for hexed, thickness in ((CASING, cased), (colour, core)):
        red, green, blue = ImageColor.getrgb(hexed)[:3]
        cv2.polylines(
            drawn, [corners], False, (blue, green, red), thickness, cv2.LINE_AA, shift=_SHIFT
        )


def _letter(
    drawn: Pixels, dials: Sequence[DialDrawing], footer: Sequence[str], unit_px: float
) -> Pixels:
    height, width = drawn.shape[:2]
    footer_type = type_of(26 * unit_px)
    line_px = round(38 * unit_px)
    below = round(14 * unit_px) + line_px * min(len(footer), FOOTER_LINES)
    sheet = Image.new("RGB", (width, height + below), ink.PAPER)
    sheet.paste(Image.fromarray(np.ascontiguousarray(drawn[:, :, ::-1])), (0, 0))
    pen = ImageDraw.Draw(sheet)
    dials = [replace(dial, label=sentence_for_people(dial.label)) for dial in dials]
    boxes = [label_box(dial.name, dial.label, unit_px) for dial in dials]
    corners = place_labels(
        (width, height),
        boxes,
        [dial.centre_px for dial in dials],
        [dial.arc_px for dial in dials],
        [dial.needle_px for dial in dials],
    )
    for dial, box, corner in zip(dials, boxes, corners, strict=True):
        _label(pen, dial, box, corner, unit_px)
    for i, line in enumerate(footer[:FOOTER_LINES]):
        at = (round(16 * unit_px), height + round(8 * unit_px) + i * line_px)
        pen.text(at, line, font=footer_type, fill=ink.INK)
    return np.ascontiguousarray(np.asarray(sheet)[:, :, ::-1])


def _label(
    pen: ImageDraw.ImageDraw, dial: DialDrawing, box: Box, corner: tuple[int, int], unit_px: float
) -> None:
    x, y = corner
    right, bottom = x + box.width_px, y + box.height_px
    colour = ink.ACCENT if dial.was_read else ink.NOT_GOOD
    if dial.centre_px is not None and dial.hub_px:
        _leader(pen, dial, (x, y, right, bottom), unit_px)
    pen.rectangle((x, y, right, bottom), fill=ink.PAPER, outline=ink.INK)
    pen.rectangle((x, y, x + round(8 * unit_px), bottom), fill=colour)
    left = x + round(20 * unit_px)
    pen.text((left, y + round(5 * unit_px)), dial.name, font=box.name_type, fill=ink.FAINT)
    value_ink = ink.INK if dial.was_read else ink.NOT_GOOD
    pen.text((left, y + round(36 * unit_px)), dial.label, font=box.value_type, fill=value_ink)


def _leader(
    pen: ImageDraw.ImageDraw, dial: DialDrawing, box: tuple[int, int, int, int], unit_px: float
) -> None:
    """A line from a label to the rim of its hub."""
    centre = np.array(dial.centre_px)
    start = np.clip(centre, box[:2], box[2:])
    length = float(np.linalg.norm(start - centre))
    rim = float(np.mean(np.linalg.norm(np.array(dial.hub_px) - centre, axis=1)))
    if length > rim:
        end = centre + (start - centre) * rim / length
        pen.line([*map(float, (*start, *end))], fill=ink.PAPER, width=max(1, round(2 * unit_px)))
