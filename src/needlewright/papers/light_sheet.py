"""The face as its lamps light it, its zones numbered, hatched and in words.

Light is told three ways: a number in words, a hatching that is denser where less light is, and the
photo itself. Nothing is told by colour alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from needlewright.papers import ink
from needlewright.papers.lettering import type_of

WIDTH_PX: Final = 1600
PAD_PX: Final = 24
TEXT_PX: Final = 22.0
SHOWN_AT: Final = 0.75
"""Of the picture's range: so bright the lit print is shown, whatever its exposure."""
HATCH: Final = {"dark": 14, "dim": 30}
"""Pixels between the lines of a hatching, by what a zone is; others have none."""
LINE: Final = (255, 214, 10)
CASING: Final = (20, 18, 15)

Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class SheetZone:
    """A zone as it is drawn."""

    number: int
    state: str
    """`sound`, `dim`, `dark` or `not seen`."""
    words: str


@dataclass(frozen=True, slots=True)
class SheetMark:
    """A place with a word beside it: a sign that stayed dark, a halo."""

    at_mm: tuple[float, float]
    reach_mm: float
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class LightSheet:
    """What is drawn.

    Parameters
    ----------
    title
        Stands above everything.
    light
        Height x width x 3, linear, blue, green, red.
    zone_of
        Height x width, number of each pixel's zone; 0: of none.
    px_per_mm
        Of both.
    zones
        In the order of their numbers.
    marks
        Signs and hubs.
    lines
        Sentences that stand under the picture.
    """

    title: str
    light: NDArray[np.float32]
    zone_of: NDArray[np.int16]
    px_per_mm: float
    zones: tuple[SheetZone, ...]
    marks: tuple[SheetMark, ...] = ()
    lines: tuple[str, ...] = ()


def light_sheet_png(sheet: LightSheet) -> bytes:
    """Draw a sheet.

    Parameters
    ----------
    sheet
        What is drawn.

    Returns
    -------
    bytes
        A PNG.
    """
    stream = BytesIO()
    Image.fromarray(draw_light_sheet(sheet)).save(stream, "PNG")
    return stream.getvalue()


def draw_light_sheet(sheet: LightSheet) -> Pixels:
    """Draw a sheet.

    Parameters
    ----------
    sheet
        What is drawn.

    Returns
    -------
    NDArray
        Height x width x 3, RGB.
    """
    zoom = WIDTH_PX / sheet.light.shape[1]
    face = _face(sheet.light, zoom)
    shape = (face.shape[1], face.shape[0])
    zones = np.asarray(cv2.resize(sheet.zone_of, shape, interpolation=cv2.INTER_NEAREST), np.int16)
    for zone in sheet.zones:
        if zone.state in HATCH:
            _hatch(face, zones == zone.number, HATCH[zone.state])
    _borders(face, zones)
    words = [f"{zone.number}  {zone.words}" for zone in sheet.zones] + list(sheet.lines)
    page = _page(face, sheet.title, words)
    pen = ImageDraw.Draw(page)
    top = PAD_PX + round(2.2 * TEXT_PX)
    for zone in sheet.zones:
        _number(pen, zones == zone.number, zone, top)
    for mark in sheet.marks:
        _mark(pen, mark, sheet.px_per_mm * zoom, top)
    return np.asarray(page, np.uint8)


def _face(light: NDArray[np.float32], zoom: float) -> Pixels:
    """The lit face at one brightness, as a screen shows it (sRGB, IEC 61966-2-1)."""
    size = (WIDTH_PX, round(light.shape[0] * zoom))
    grown = cv2.resize(light, size, interpolation=cv2.INTER_CUBIC if zoom > 1 else cv2.INTER_AREA)
    top = max(float(np.percentile(light.max(axis=2), 99.3)), 1e-4)
    shown = np.clip(np.asarray(grown, np.float32)[..., ::-1] / top * SHOWN_AT, 0, 1)
    coded = np.where(shown <= 0.0031308, 12.92 * shown, 1.055 * shown ** (1 / 2.4) - 0.055)
    return np.asarray(np.round(255 * coded), np.uint8)


def _hatch(face: Pixels, inside: NDArray[np.bool_], apart_px: int) -> None:
    """Slanting lines over a zone."""
    high, wide = inside.shape
    down, along = np.mgrid[0:high, 0:wide]
    line = ((along + down) % apart_px < 2) & inside
    face[line] = (0.45 * face[line] + 0.55 * np.array(LINE)).astype(np.uint8)


def _borders(face: Pixels, zones: NDArray[np.int16]) -> None:
    edge = np.zeros(zones.shape, bool)
    edge[:, 1:] |= zones[:, 1:] != zones[:, :-1]
    edge[1:] |= zones[1:] != zones[:-1]
    wide = cv2.dilate(edge.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    face[wide] = (0.3 * face[wide] + 0.7 * np.array((170, 165, 150))).astype(np.uint8)


def _page(face: Pixels, title: str, words: Sequence[str]) -> Image.Image:
    letters, line = type_of(TEXT_PX), round(1.5 * TEXT_PX)
    rows = [row for text in words for row in _wrapped(text)]
    top = PAD_PX + round(2.2 * TEXT_PX)
    high = top + face.shape[0] + PAD_PX + line * len(rows) + PAD_PX
    page = Image.new("RGB", (WIDTH_PX + 2 * PAD_PX, high), ink.PAPER)
    page.paste(Image.fromarray(face), (PAD_PX, top))
    pen = ImageDraw.Draw(page)
    pen.text((PAD_PX, PAD_PX), title, fill=ink.INK, font=type_of(1.3 * TEXT_PX))
    for number, row in enumerate(rows):
        at = (PAD_PX, top + face.shape[0] + PAD_PX + number * line)
        pen.text(at, row, fill=ink.INK, font=letters)
    return page


def _wrapped(text: str) -> list[str]:
    """A sentence in lines that fit the page."""
    rows = [""]
    for word in text.split(" "):
        longer = f"{rows[-1]} {word}" if rows[-1] else word
        if type_of(TEXT_PX).getlength(longer) > WIDTH_PX and rows[-1]:
            rows.append(f"     {word}")
        else:
            rows[-1] = longer
    return rows


def _number(pen: ImageDraw.ImageDraw, inside: NDArray[np.bool_], zone: SheetZone, top: int) -> None:
    """The zone's number and state at its upper edge, above its middle: print is rare there."""
    if not inside.any():
        return
    framed = np.pad(inside.astype(np.uint8), 1)
    away = cv2.distanceTransform(framed, cv2.DIST_L2, 3)[1:-1, 1:-1]
    column = int(np.unravel_index(int(np.argmax(away)), away.shape)[1])
    row = int(np.argmax(inside[:, column])) + round(TEXT_PX)
    _tag(pen, f"{zone.number} {zone.state}", (PAD_PX + column, top + row))


def _mark(pen: ImageDraw.ImageDraw, mark: SheetMark, scale: float, top: int) -> None:
    x, y = (at * scale for at in mark.at_mm)
    reach = max(mark.reach_mm * scale * 1.4, 12)
    box = (PAD_PX + x - reach, top + y - reach, PAD_PX + x + reach, top + y + reach)
    pen.ellipse(box, outline=CASING, width=6)
    pen.ellipse(box, outline=LINE, width=3)
    _tag(pen, mark.words, (round(PAD_PX + x), round(top + y - reach - 0.9 * TEXT_PX)))


def _tag(pen: ImageDraw.ImageDraw, words: str, middle: tuple[int, int]) -> None:
    letters = type_of(TEXT_PX)
    around = pen.textbbox(middle, words, font=letters, anchor="mm")
    left = min(max(around[0], PAD_PX + 4), PAD_PX + WIDTH_PX - (around[2] - around[0]) - 4)
    shift = left - around[0]
    box = (around[0] + shift - 6, around[1] - 4, around[2] + shift + 6, around[3] + 4)
    pen.rectangle(box, fill=ink.PAPER, outline=CASING)
    pen.text((middle[0] + shift, middle[1]), words, fill=ink.INK, font=letters, anchor="mm")
