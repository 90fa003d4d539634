"""The strip along a needle: its rows, how wide the needle is there, how much of a row is needle."""

from typing import Final

import numpy as np
from scipy.special import ndtr

from needlewright.readings.dial_view import CAP_OVER_NEEDLE_MM, DialView
from needlewright.readings.projection import Array

FLANK_PX: Final = 4.5
"""How far beside the needle its ground is looked at."""
COLUMN_PX: Final = 0.75
MAX_ROWS: Final = 80
CLEAR: Final = 0.95
"""In the light, rows count that are needle by so much: where needle, hub and their shadows meet it
is darker than any of them."""
TAIL_CLEAR: Final = 0.55
TIP: Final = 0.9
"""Rows beyond this share of the length count however little of them is needle."""


class NeedleRows:
    """Lays the strip about a direction.

    Parameters
    ----------
    view
        The dial.
    px_per_mm
        Scale of the plane that is looked at.
    wide
        Whether the plane shows shadows, so that what lies at the hub is left out.
    """

    def __init__(self, view: DialView, px_per_mm: float, *, wide: bool) -> None:
        self._view, self._scale, self._wide = view, px_per_mm, wide

    def about(
        self, angle_deg: float, beside_mm: float, blur_mm: float
    ) -> tuple[Array, Array, Array, Array]:
        """Lay the strip.

        Parameters
        ----------
        angle_deg
            The direction.
        beside_mm
            How much wider than for the needle alone, on either side.
        blur_mm
            Standard deviation of the edges' blur.

        Returns
        -------
        tuple[NDArray, NDArray, NDArray, NDArray]
            Radii of the rows (mm, negative on the tail), half widths of the needle there (mm), the
            share of each that is needle, and the columns' distances from the axis (mm).
        """
        needle, scale = self._view.dial.needle, self._scale
        row_mm = max(1.0 / scale, (needle.length_mm + needle.tail_mm) / MAX_ROWS)
        hub, tail_hub = self._hub_edge(angle_deg), self._hub_edge(angle_deg + 180.0)
        rows = np.arange(hub, needle.length_mm, row_mm)
        if needle.tail_mm > tail_hub:
            rows = np.concatenate([-np.arange(tail_hub, needle.tail_mm, row_mm)[::-1], rows])
        front, out = rows > 0, np.abs(rows)
        ends = ndtr((np.where(front, needle.length_mm, needle.tail_mm) - out) / blur_mm)
        ends *= ndtr((out - np.where(front, hub, tail_hub)) / blur_mm)
        if self._wide:
            clear = (ends > np.where(front, CLEAR, TAIL_CLEAR)) | (out > TIP * needle.length_mm)
            rows, ends, out = rows[clear], ends[clear], out[clear]
        slope = (needle.tip_width_mm - needle.base_width_mm) / needle.length_mm
        halves = (needle.base_width_mm + slope * out) / 2
        half = needle.base_width_mm / 2 + FLANK_PX / scale
        column = max(COLUMN_PX / scale, half / 20)
        half += beside_mm
        return rows, halves, ends, np.arange(-half, half + column / 2, column)

    def _hub_edge(self, angle_deg: float) -> float:
        """How far from the centre the needle comes out from under the hub, mm."""
        tangent, lean_deg = self._view.viewpoint.slant(self._view.centre_mm)
        leaning = max(0.0, float(np.cos(np.radians(angle_deg - lean_deg))))
        return self._view.dial.needle.hub_radius_mm + CAP_OVER_NEEDLE_MM * tangent * leaning
