"""The ground about a needle in one frame, wide enough to hold its shadow."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Needle
from needlewright.readings.projection import Array

FARTHEST: Final = 2.1
"""Longest shadow looked for, in heights of the needle."""
NOISE: Final = 2.5
"""Grey levels."""
BRIGHTER: Final = 12.0
"""Grey levels by which ground is too bright to say anything of shadows."""
STEP_PX: Final = 1.5
HUB_CLEAR_PX: Final = 2.0
CLEAR_BLURS: Final = 2.5
"""So near its edges a needle hides its shadow."""


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """The ground beside a needle in one direction.

    Parameters
    ----------
    angle_deg
        The needle's direction.
    rows, cols
        Distances from the centre along the needle and aside from its axis, mm.
    lost
        (rows, columns): what the ground lacks of its light, grey levels.
    bare
        (rows, columns): the ground itself.
    weight
        (rows, columns): one over the variance; 0 where it is not seen.
    """

    angle_deg: float
    rows: Array
    cols: Array
    lost: Array
    bare: Array
    weight: Array


def places_beside(needle: Needle, px_per_mm: float) -> tuple[Array, Array]:
    """Where a needle's ground is looked at: rows along it from the hub, and columns aside."""
    step = STEP_PX / px_per_mm
    half_mm = FARTHEST * needle.height_mm + needle.base_width_mm
    hub_mm = needle.hub_radius_mm + HUB_CLEAR_PX / px_per_mm
    rows = np.arange(hub_mm, needle.length_mm + needle.height_mm / 2, step)
    return rows, np.arange(-half_mm, half_mm, step)


def look_beside(
    needle: Needle,
    blur_mm: float,
    angle_deg: float,
    places: tuple[Array, Array],
    strip: tuple[Array, NDArray[np.bool_]],
) -> Look:
    """The ground beside a needle, the needle itself left out.

    Parameters
    ----------
    needle
        Its shape.
    blur_mm
        Blur of its edges, standard deviation.
    angle_deg
        Its direction.
    places
        Rows and columns, from its axis.
    strip
        Frame, bare ground and its doubt there (3, rows, columns), and which rows were seen.

    Returns
    -------
    Look
        What it shows.
    """
    (rows, cols), ((seen, bare, doubt), inside) = places, strip
    slope = (needle.tip_width_mm - needle.base_width_mm) / needle.length_mm
    clear_mm = CLEAR_BLURS * blur_mm
    aside = np.abs(cols) > ((needle.base_width_mm + slope * rows) / 2 + clear_mm)[:, None]
    free = aside | (rows > needle.length_mm + clear_mm)[:, None]
    free &= inside[:, None] & (seen < bare + BRIGHTER)
    return Look(angle_deg, rows, cols, bare - seen, bare, free / (NOISE**2 + doubt**2))
