"""From readings to overlays: the reader's results handed to the drawing as plain data."""

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import cv2
import numpy as np

from needlewright.families.model import Dial, Family
from needlewright.papers.figures import with_expanded
from needlewright.papers.overlay import DialDrawing, Pixels, Point, write_overlay
from needlewright.readings.batch import face_reader
from needlewright.readings.flags import REASONS
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.outline import ToPhoto, outline_of
from needlewright.readings.picture import open_picture
from needlewright.rules.decision import COVERAGE_K

LARGEST_OVERLAY_PX: Final = 24_000_000
"""A larger photo is drawn on at this size: a copy of a hundred megapixels takes 300 MB."""
FOOTER = "± is the expanded uncertainty, k = 2 (about 95 %)"


class OverlayingReader:
    """Reads a photo and leaves its overlay in a folder, in whatever process it runs."""

    def __init__(self, files: dict[str, Path], family: Family) -> None:
        self._files = files
        self._family = family
        self._reader = face_reader(family)

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        """Read every needle of a photo, then write its overlay."""
        photo = self._reader.read_photo(path, as_given)
        pixels, share = _for_overlay(path)
        footer = [f"{path.name}   family {self._family.name}", FOOTER]
        if not photo.found:
            footer[1] = f"not read: {reason_words(photo.reason)}"
        drawings = [scaled(one, share) for one in dial_drawings(self._family, photo)]
        write_overlay(self._files[photo.photo], pixels, drawings, footer)
        return photo


def dial_drawings(family: Family, photo: PhotoReadings) -> list[DialDrawing]:
    """What the overlay draws for each dial of a photo.

    Parameters
    ----------
    family
        The cluster design.
    photo
        Its readings; where the face was not found, only labels are drawn.

    Returns
    -------
    list
        In the order of the readings.
    """
    return [
        _drawing(dial, reading, photo.projection)
        for reading in photo.readings
        if (dial := family.dial(reading.dial)) is not None
    ]


def overlay_jpeg(
    family: Family, photo: PhotoReadings, pixels: Pixels, footer: Sequence[str]
) -> bytes:
    """A picture that was read already with what was read drawn over it.

    Parameters
    ----------
    family
        The cluster design.
    photo
        Its readings.
    pixels
        Height x width x 3, blue, green, red.
    footer
        Two lines; the second says why nothing was read where the face was not found.

    Returns
    -------
    bytes
        A JPEG.
    """
    lines = list(footer)
    if not photo.found:
        lines[1] = f"not read: {reason_words(photo.reason)}"
    with TemporaryDirectory(prefix="needlewright-") as folder:
        path = Path(folder) / "overlay.jpg"
        write_overlay(path, pixels, dial_drawings(family, photo), lines)
        return path.read_bytes()


def scaled(drawing: DialDrawing, share: float) -> DialDrawing:
    """A dial's drawing on a photo made smaller.

    Parameters
    ----------
    drawing
        In pixels of the whole photo.
    share
        Side of the smaller photo over that of the whole one.

    Returns
    -------
    DialDrawing
        In pixels of the smaller photo; pixel centres stand at whole numbers in both.
    """
    if share == 1.0:
        return drawing

    def at(point: Point) -> Point:
        return ((point[0] + 0.5) * share - 0.5, (point[1] + 0.5) * share - 0.5)

    needle = drawing.needle_px
    return replace(
        drawing,
        centre_px=None if drawing.centre_px is None else at(drawing.centre_px),
        hub_px=tuple(map(at, drawing.hub_px)),
        arc_px=tuple(map(at, drawing.arc_px)),
        marks_px=tuple((at(first), at(last)) for first, last in drawing.marks_px),
        needle_px=None if needle is None else (at(needle[0]), at(needle[1])),
    )


def _for_overlay(path: Path) -> tuple[Pixels, float]:
    """A photo's pixels at a size worth drawing on, and their share of the whole photo's side."""
    pixels = open_picture(path).pixels
    height, width = pixels.shape[:2]
    if width * height <= LARGEST_OVERLAY_PX:
        return pixels, 1.0
    share = math.sqrt(LARGEST_OVERLAY_PX / (width * height))
    size = (max(1, round(width * share)), max(1, round(height * share)))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8), share


def reading_label(reading: Reading) -> str:
    """A reading for people: value with expanded uncertainty, or why there is none."""
    if reading.status == "refused":
        return f"not read: {reason_words(reading.reason)}"
    if reading.value is None:
        return f"{reading.angle_deg:.1f}°, beyond the scale"
    expanded = None if reading.u_value is None else COVERAGE_K * reading.u_value
    return with_expanded(reading.value, expanded, reading.unit)


def reason_words(reason: str | None) -> str:
    """Why something was refused, in a word or two."""
    known = REASONS.get(reason or "")
    return known.short if known else (reason or "no reason stated").replace("_", " ")


def _drawing(dial: Dial, reading: Reading, projection: ToPhoto | None) -> DialDrawing:
    name, label = dial.id, reading_label(reading)
    was_read = reading.status == "read"
    if projection is None:
        return DialDrawing(name, label, was_read)
    outline = outline_of(dial, projection)
    return DialDrawing(
        name=name,
        label=label,
        was_read=was_read,
        centre_px=outline.centre_px,
        hub_px=outline.hub_px,
        arc_px=outline.arc_px,
        marks_px=outline.marks_px,
        needle_px=reading.line_px,
    )
