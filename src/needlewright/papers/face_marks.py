"""A bare face with a family's dials drawn over its art, so that a slip in the file is seen at once.

Marks, centre, direction, rest angle and the needle's outline are drawn as the file states them.
Lines are thin and cased: the printed tick stays visible on both sides of a drawn mark.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageColor, ImageDraw

from needlewright.papers import ink
from needlewright.papers.face_labels import Choice, Tag, Taken, draw_tag, find_tag_places
from needlewright.papers.lettering import type_of
from needlewright.papers.wording import sentence_for_people

Pixels = NDArray[np.uint8]
Point = tuple[float, float]


LONGER_SIDE_PX: Final = 3200
"""The picture is drawn at this size whatever the scan's: lines and letters keep their weight."""

MIDDLE_GREY: Final = 128

MARK_FROM: Final = 0.86
MARK_TO: Final = 1.1
ARC_AT: Final = 0.6
REST_TO: Final = 1.2
"""As shares of the needle's length."""

_FAR: Final = 40.0
"""What a tag away from its mark costs, per needle length."""

_SHIFT: Final = 4  # OpenCV draws to a sixteenth of a pixel


@dataclass(frozen=True, slots=True)
class FaceDial:
    """One dial as its family states it; millimetres on the face, degrees clockwise from 12."""

    name: str
    centre_mm: Point
    marks: tuple[tuple[str, float], ...]
    """Label and angle of each mark, in rising value."""
    rest_angle_deg: float
    length_mm: float
    tail_mm: float
    base_width_mm: float
    tip_width_mm: float
    hub_radius_mm: float


@dataclass(frozen=True, slots=True)
class _Inks:
    """Two colours of line and the casing that sets them off."""

    mark: str
    needle: str
    casing: str


ON_DARK: Final = _Inks(mark="#ffd84d", needle="#35e0ff", casing="#14120f")
ON_LIGHT: Final = _Inks(mark="#b8005c", needle="#005fae", casing="#fffdf7")


@dataclass(frozen=True, slots=True)
class _Sheet:
    """The picture drawn on, and how face millimetres fall on it."""

    pixels: Pixels
    px_per_mm: float
    unit_px: float
    """Width of the thinnest line."""
    inks: _Inks

    def at(self, dial: FaceDial, angle_deg: float, radius_mm: float) -> Point:
        angle = math.radians(angle_deg)
        x_mm = dial.centre_mm[0] + radius_mm * math.sin(angle)
        y_mm = dial.centre_mm[1] - radius_mm * math.cos(angle)
        # the centre of the top-left pixel lies half a pixel inside the face
        return x_mm * self.px_per_mm - 0.5, y_mm * self.px_per_mm - 0.5


def draw_face_marks(art: Pixels, px_per_mm: float, dials: Sequence[FaceDial], title: str) -> Pixels:
    """Draw dials over the bare face.

    Parameters
    ----------
    art
        The face picture, height x width x 3, RGB. It is not changed.
    px_per_mm
        Its scale.
    dials
        What the family states.
    title
        Set under the picture.

    Returns
    -------
    NDArray
        RGB, `LONGER_SIDE_PX` on the longer side of the face, and a strip with a key under it.
    """
    zoom = LONGER_SIDE_PX / max(art.shape[:2])
    way = cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC
    size = (round(art.shape[1] * zoom), round(art.shape[0] * zoom))
    pixels = np.asarray(cv2.resize(art, size, interpolation=way), dtype=np.uint8)
    inks = ON_DARK if np.median(pixels) < MIDDLE_GREY else ON_LIGHT
    sheet = _Sheet(pixels, px_per_mm * zoom, LONGER_SIDE_PX / 1600, inks)
    for dial in dials:
        _draw_dial(sheet, dial)
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    tags: list[Tag] = []
    for dial in dials:
        others = tuple(_circle(sheet, other) for other in dials if other is not dial)
        tags += _tags(sheet, dial, grey, Taken(tuple(tags), others))
    return _letter(sheet, tags, title)


def _draw_dial(sheet: _Sheet, dial: FaceDial) -> None:
    _needle(sheet, dial)
    angles = [angle for _, angle in dial.marks]
    for angle in angles:
        ends = [sheet.at(dial, angle, share * dial.length_mm) for share in (MARK_FROM, MARK_TO)]
        _line(sheet, ends, sheet.inks.mark)
    swept = np.linspace(angles[0], angles[-1], 2 + round(abs(angles[-1] - angles[0]) / 4))
    arc = [sheet.at(dial, angle, ARC_AT * dial.length_mm) for angle in swept]
    _line(sheet, arc, sheet.inks.mark)
    _arrow(sheet, dial, angles)


def _arrow(sheet: _Sheet, dial: FaceDial, angles: Sequence[float]) -> None:
    """The head at the end of the arc: which way the needle turns as the value rises."""
    radius = ARC_AT * dial.length_mm
    size_mm = 9 * sheet.unit_px / sheet.px_per_mm
    back = math.degrees(size_mm / radius) * math.copysign(1, angles[-1] - angles[0])
    feathers = [
        sheet.at(dial, angles[-1] - back, radius + side * size_mm / 2.2) for side in (-1, 1)
    ]
    point = sheet.at(dial, angles[-1], radius)
    _line(sheet, [feathers[0], point, feathers[1]], sheet.inks.mark)


def _needle(sheet: _Sheet, dial: FaceDial) -> None:
    """The outline where the needle lies at rest, the hub, the centre."""
    rest = dial.rest_angle_deg
    slope = (dial.tip_width_mm - dial.base_width_mm) / dial.length_mm
    along_mm = (-dial.tail_mm, 0.0, dial.length_mm)
    side = [(along, (dial.base_width_mm + slope * abs(along)) / 2) for along in along_mm]
    corners = [(along, -across) for along, across in side] + side[::-1]
    outline = [
        sheet.at(dial, rest + math.degrees(math.atan2(across, along)), math.hypot(along, across))
        for along, across in corners
    ]
    _line(sheet, [*outline, outline[0]], sheet.inks.needle)
    reach = [sheet.at(dial, rest, share * dial.length_mm) for share in (1.0, REST_TO)]
    _line(sheet, reach, sheet.inks.needle)
    hub = [sheet.at(dial, a, dial.hub_radius_mm) for a in range(0, 361, 4)]
    _line(sheet, hub, sheet.inks.needle)
    for turn in (0, 90, 180, 270):
        arm = [sheet.at(dial, turn, r * dial.hub_radius_mm) for r in (0.12, 0.55)]
        _line(sheet, arm, sheet.inks.needle)


def _line(sheet: _Sheet, points: Sequence[Point], colour: str) -> None:
    fixed = np.clip(np.array(points), -30_000, 60_000)
    corners = np.round(fixed * 2**_SHIFT).astype(np.int32).reshape(-1, 1, 2)
    core = max(1, round(sheet.unit_px))
    casing = core + max(2, round(1.5 * sheet.unit_px))
    for hexed, thickness in ((sheet.inks.casing, casing), (colour, core)):
        rgb = ImageColor.getrgb(hexed)[:3]
        cv2.polylines(sheet.pixels, [corners], False, rgb, thickness, cv2.LINE_AA, shift=_SHIFT)


def _circle(sheet: _Sheet, dial: FaceDial) -> tuple[Point, float]:
    return sheet.at(dial, 0.0, 0.0), MARK_TO * dial.length_mm * sheet.px_per_mm


def _tags(sheet: _Sheet, dial: FaceDial, grey: NDArray[np.float32], taken: Taken) -> list[Tag]:
    """The value beside every mark and the dial's name, where the picture is emptiest."""
    size_px = min(max(0.10 * dial.length_mm * sheet.px_per_mm, 12 * sheet.unit_px), 40)
    letters, pad_px = type_of(size_px), 2.0 * sheet.unit_px
    angles = [angle for _, angle in dial.marks]
    rings = [
        Choice(
            tuple(sheet.at(dial, a, share * dial.length_mm) for a in angles),
            _FAR * max(MARK_FROM - share, share - MARK_TO, 0.0),
        )
        for share in np.arange(0.3, 1.6, 0.02)
    ]
    labels = [label for label, _ in dial.marks]
    values = find_tag_places(grey, labels, rings, letters, pad_px=pad_px, taken=taken)
    away = (angles[0] + angles[-1]) / 2 + 180  # the side of the dial without marks
    below = [
        Choice((sheet.at(dial, away + off, share * dial.length_mm),), 0.1 * abs(off) + 2 * share)
        for off in (0, 15, -15, 30, -30, 60, -60, 90, -90)
        for share in np.arange(0.3, 1.4, 0.05)
    ]
    taken = Taken((*taken.tags, *values), taken.circles_px)
    name = sentence_for_people(dial.name)
    return values + find_tag_places(grey, [name], below, letters, pad_px=pad_px, taken=taken)


def _letter(sheet: _Sheet, tags: Sequence[Tag], title: str) -> Pixels:
    height, width = sheet.pixels.shape[:2]
    unit = sheet.unit_px
    strip_px = round(70 * unit)
    page = Image.new("RGB", (width, height + strip_px), ink.PAPER)
    page.paste(Image.fromarray(sheet.pixels), (0, 0))
    pen = ImageDraw.Draw(page)
    for tag in tags:
        draw_tag(pen, tag, unit)
    pen.text((16 * unit, height + 8 * unit), title, font=type_of(20 * unit), fill=ink.INK)
    key = (
        (sheet.inks.mark, "marks of the scale, arrow in rising value"),
        (sheet.inks.needle, "centre, hub, needle at rest"),
    )
    x, y = 16 * unit, height + 50 * unit
    for colour, words in key:
        pen.line([(x, y), (x + 36 * unit, y)], fill=sheet.inks.casing, width=round(4 * unit))
        pen.line([(x, y), (x + 36 * unit, y)], fill=colour, width=round(2 * unit))
        words_type = type_of(16 * unit)
        pen.text((x + 46 * unit, y), words, font=words_type, fill=ink.FAINT, anchor="lm")
        x += 46 * unit + words_type.getlength(words) + 40 * unit
    _ruler(pen, sheet, (x, y))
    return np.asarray(page, dtype=np.uint8)


def _ruler(pen: ImageDraw.ImageDraw, sheet: _Sheet, at: Point) -> None:
    """Ten millimetres of the face."""
    (x, y), unit = at, sheet.unit_px
    end = x + 10 * sheet.px_per_mm
    pen.line([(x, y), (end, y)], fill=ink.INK, width=round(unit))
    for tick in (x, end):
        pen.line([(tick, y - 5 * unit), (tick, y + 5 * unit)], fill=ink.INK, width=round(unit))
    pen.text((end + 10 * unit, y), "10 mm", font=type_of(16 * unit), fill=ink.FAINT, anchor="lm")


def write_face_marks(
    path: Path, art: Pixels, px_per_mm: float, dials: Sequence[FaceDial], title: str
) -> None:
    """Write `draw_face_marks` as a PNG; the file appears whole or not at all.

    Parameters
    ----------
    path
        The picture to write.
    art
        The face picture, height x width x 3, RGB.
    px_per_mm
        Its scale.
    dials
        What the family states.
    title
        Set under the picture.
    """
    part = path.with_name(path.name + ".part")
    try:
        Image.fromarray(draw_face_marks(art, px_per_mm, dials, title)).save(part, "PNG")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
