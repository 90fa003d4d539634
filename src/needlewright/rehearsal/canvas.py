"""A face being printed: shapes in millimetres, laid down with soft edges."""

from itertools import pairwise
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.lettering import letters

Colour = tuple[float, float, float]
"""sRGB, 0..1."""
Point = tuple[float, float]

_FINE: Final = 2
"""Canvas pixels along a side of a pixel of the finished picture."""
_SHIFT: Final = 5
"""Fractional bits of a corner's place."""
_ARC_STEP_DEG: Final = 1.0


class Canvas:
    """Prints in millimetres from the top-left corner.

    The centre of pixel (i, j) of the finished picture lies at ((i + 0.5) / px_per_mm,
    (j + 0.5) / px_per_mm).

    Parameters
    ----------
    size_mm
        Width and height.
    px_per_mm
        Of the finished picture.
    ground
        Colour of the bare sheet.
    """

    def __init__(self, size_mm: Point, px_per_mm: float, ground: Colour) -> None:
        self.size_mm = size_mm
        self._scale = px_per_mm * _FINE
        self._wide, self._high = (round(side * px_per_mm) for side in size_mm)
        shape = (self._high * _FINE, self._wide * _FINE, 3)
        self._sheet = np.empty(shape, dtype=np.uint8)
        self._sheet[:] = _bytes(ground)

    def finished(self) -> NDArray[np.uint8]:
        """The picture, height x width x 3, RGB."""
        small = cv2.resize(self._sheet, (self._wide, self._high), interpolation=cv2.INTER_AREA)
        return np.asarray(small, dtype=np.uint8)

    def polygon(self, corners_mm: NDArray[np.float64], colour: Colour) -> None:
        """Fill a polygon.

        Parameters
        ----------
        corners_mm
            N x 2.
        colour
            Of the ink.
        """
        place = np.round((corners_mm * self._scale - 0.5) * 2**_SHIFT).astype(np.int32)
        cv2.fillPoly(self._sheet, [place], _bytes(colour), cv2.LINE_AA, _SHIFT)

    def band(
        self,
        centre_mm: Point,
        inner_mm: float,
        outer_mm: float,
        *,
        from_deg: float,
        to_deg: float,
        colour: Colour,
    ) -> None:
        """Fill the part of a ring between two angles, clockwise from 12 o'clock.

        Parameters
        ----------
        centre_mm
            Of the ring.
        inner_mm
            Radius.
        outer_mm
            Radius.
        from_deg
            One end.
        to_deg
            The other end.
        colour
            Of the ink.
        """
        steps = max(int(abs(to_deg - from_deg) / _ARC_STEP_DEG), 2) + 1
        angles = np.radians(np.linspace(from_deg, to_deg, steps))
        rim = np.column_stack([np.sin(angles), -np.cos(angles)])
        if inner_mm <= 0:
            corners = np.vstack([rim * outer_mm, np.zeros((1, 2))])
        else:
            corners = np.vstack([rim * outer_mm, rim[::-1] * inner_mm])
        self.polygon(corners + np.array(centre_mm), colour)

    def ring(self, centre_mm: Point, radius_mm: float, width_mm: float, colour: Colour) -> None:
        """A circle's line, in two halves, since a polygon has no hole.

        Parameters
        ----------
        centre_mm
            Of the circle.
        radius_mm
            To the middle of the line.
        width_mm
            Of the line.
        colour
            Of the ink.
        """
        inner, outer = radius_mm - width_mm / 2, radius_mm + width_mm / 2
        self.band(centre_mm, inner, outer, from_deg=0.0, to_deg=180.5, colour=colour)
        self.band(centre_mm, inner, outer, from_deg=180.0, to_deg=360.5, colour=colour)

    def disc(self, centre_mm: Point, radius_mm: float, colour: Colour) -> None:
        """A filled circle.

        Parameters
        ----------
        centre_mm
            Of the circle.
        radius_mm
            Of the circle.
        colour
            Of the ink.
        """
        angles = np.radians(np.arange(0.0, 360.0, 2.0))
        rim = np.column_stack([np.sin(angles), -np.cos(angles)]) * radius_mm
        self.polygon(rim + np.array(centre_mm), colour)

    def shaded_disc(self, centre_mm: Point, radius_mm: float, inner: Colour, outer: Colour) -> None:
        """A disc that goes from one colour at its centre to another at its rim.

        Parameters
        ----------
        centre_mm
            Of the disc.
        radius_mm
            Of the disc.
        inner
            Colour at the centre.
        outer
            Colour at the rim.
        """
        for share in np.linspace(1.0, 0.04, 25):
            mixed = mix(inner, outer, float(share) ** 1.5)
            self.disc(centre_mm, radius_mm * float(share), mixed)

    def line(self, points_mm: NDArray[np.float64], width_mm: float, colour: Colour) -> None:
        """A stroke of straight parts with round ends.

        Parameters
        ----------
        points_mm
            N x 2.
        width_mm
            Of the stroke.
        colour
            Of the ink.
        """
        for a, b in pairwise(points_mm):
            run = b - a
            length = float(np.hypot(*run))
            if length > 0:
                side = np.array([-run[1], run[0]]) * (width_mm / 2 / length)
                self.polygon(np.array([a + side, b + side, b - side, a - side]), colour)
        for point in points_mm:
            self.disc((float(point[0]), float(point[1])), width_mm / 2, colour)

    def words(
        self,
        middle_mm: Point,
        words: str,
        height_mm: float,
        *,
        colour: Colour,
        font: Path | None,
        turn_deg: float = 0.0,
        squeeze: float = 1.0,
    ) -> None:
        """Words about a point.

        Parameters
        ----------
        middle_mm
            Where the middle of the ink falls.
        words
            One line.
        height_mm
            Of a numeral.
        colour
            Of the ink.
        font
            A font file or None.
        turn_deg
            Clockwise.
        squeeze
            Width against the font's own.
        """
        ink = letters(words, font, height_mm * self._scale, squeeze)
        x, y = (c * self._scale - 0.5 for c in middle_mm)
        c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
        half = np.array([(ink.shape[1] - 1) / 2, (ink.shape[0] - 1) / 2])
        reach = int(np.ceil(np.hypot(*half))) + 2
        left, top = round(x) - reach, round(y) - reach
        onto = np.array([[c, -s], [s, c]])
        shift = np.array([x - left, y - top]) - onto @ half
        size = (2 * reach + 1, 2 * reach + 1)
        turned = cv2.warpAffine(ink, np.column_stack([onto, shift]), size)
        self._lay(left, top, np.asarray(turned, dtype=np.uint8), colour)

    def _lay(self, left: int, top: int, ink: NDArray[np.uint8], colour: Colour) -> None:
        high, wide = self._sheet.shape[:2]
        x0, y0 = max(left, 0), max(top, 0)
        x1, y1 = min(left + ink.shape[1], wide), min(top + ink.shape[0], high)
        if x1 <= x0 or y1 <= y0:
            return
        part = self._sheet[y0:y1, x0:x1]
        share = ink[y0 - top : y1 - top, x0 - left : x1 - left, None].astype(np.float32) / 255
        part[:] = np.round(part * (1 - share) + np.array(_bytes(colour), np.float32) * share)


def mix(a: Colour, b: Colour, share_of_b: float) -> Colour:
    """A colour between two.

    Parameters
    ----------
    a
        One.
    b
        The other.
    share_of_b
        0 gives a, 1 gives b.

    Returns
    -------
    tuple
        sRGB.
    """
    r, g, b_ = (float(p + (q - p) * share_of_b) for p, q in zip(a, b, strict=True))
    return r, g, b_


def _bytes(colour: Colour) -> tuple[int, int, int]:
    r, g, b = (round(255 * min(max(c, 0.0), 1.0)) for c in colour)
    return r, g, b
