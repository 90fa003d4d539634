"""The axis of a mark, finely: the middle of its ink across it, all along it."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.lit import sample_light
from needlewright.readings.drafting.ticks import Tick
from needlewright.readings.projection import Array

ALONG_PX: Final = 0.5
ACROSS_PX: Final = 0.25
BESIDE_PX: Final = 2.5
"""Ground on each side of a mark that its ink is counted from."""
END_PX: Final = 1.2
"""At its ends a mark fades; so much is left out there, or less of a short one."""
FAINT: Final = 0.75
"""Share of a mark's usual contrast below which a row says nothing: a track or band runs there."""
UNEVEN: Final = 0.2
"""Difference of the ground on both sides, in the mark's contrast, above which a row is left out."""
AWAY_PX: Final = 2.0
ENOUGH_LIGHT: Final = 15.0
"""Contrast of the luma, of 255, from which a mark is measured by it alone."""
PASSES: Final = 3
FEWEST_ROWS: Final = 4
ABOUT_END_PX: Final = 2.0
UNEVEN_END: Final = 0.35
"""The same about an end: a band or the end of a track is more, the edge of a shadow less."""
BEYOND_PX: Final = 5.0
"""How far past its end a mark's ground is looked for."""


@dataclass(frozen=True, slots=True)
class _Strip:
    """A mark laid along rows: ink over the ground beside it."""

    ink: Array
    """Rows along the mark, columns across it."""
    contrast: Array
    """Of each row: its middle over the ground on both sides."""
    uneven: Array
    """Of each row: the ground on one side over that on the other."""
    across: Array
    colour: tuple[float, float, float]
    """Of the ink over the ground."""


def refine(tick: Tick, picture: NDArray[np.uint8]) -> Tick:
    """Find a mark's axis by the middle of its ink.

    Parameters
    ----------
    tick
        As found, right within a pixel or so.
    picture
        The photo, height x width x 3.

    Returns
    -------
    Tick
        With its axis moved and its scatter in pixels; as it was where too little of it can be seen.
    """
    half, moved = 0.5 * tick.width, tick
    for _ in range(PASSES):
        again = _moved(moved, picture, half)
        if again is None:
            return tick
        moved = again
    ends = _ends(picture, np.array(moved.inner_px), np.array(moved.outer_px), half)
    if ends is None:
        return moved
    inner, outer, clean = ends
    return replace(_between(moved, inner, outer), clean=clean)


def _moved(tick: Tick, picture: NDArray[np.uint8], half: float) -> Tick | None:
    """A mark on the line through the middles of its ink; None where too little of it is seen."""
    inner, outer = np.array(tick.inner_px), np.array(tick.outer_px)
    length = float(np.linalg.norm(outer - inner))
    direction = (outer - inner) / length
    side = np.array([-direction[1], direction[0]])
    margin = min(END_PX, 0.2 * length)
    along = np.arange(-AWAY_PX, length + AWAY_PX + 1e-9, ALONG_PX)
    strip = _strip(picture, inner + along[:, None] * direction, side, half, coded=True)
    if strip is None:
        return None
    own = (along >= margin) & (along <= length - margin)
    near = np.abs(strip.across) <= half + 1.5
    inked = np.clip(strip.ink[:, near], 0.0, None)
    total = inked.sum(axis=1)
    usual = float(np.percentile(strip.contrast[own], 60))
    good = own & (strip.contrast > FAINT * usual) & (total > 0)
    good &= ~_near(strip.uneven > UNEVEN * usual)  # a band beyond the end too
    if good.sum() < FEWEST_ROWS:
        return None
    line = _line(along[good], (inked @ strip.across[near])[good] / total[good])
    if line is None:
        return None
    start, slope, scatter = line
    width = _width(strip.ink[good], strip.contrast[good], strip.across)
    measured = replace(
        tick,
        width=width,
        scatter=scatter,
        ink=usual,
        seen=float(good.sum() / own.sum()),
        colour=strip.colour,
    )
    return _between(measured, inner + start * side, outer + (start + slope * length) * side)


def _between(tick: Tick, inner: Array, outer: Array) -> Tick:
    return replace(
        tick,
        inner_px=(float(inner[0]), float(inner[1])),
        outer_px=(float(outer[0]), float(outer[1])),
    )


def _width(ink: Array, contrast: Array, across: Array) -> float:
    """Between the places on both sides where the mean ink across a mark falls to half."""
    profile = ink.sum(axis=0) / contrast.sum()
    middle = len(profile) // 2
    right = middle + int(np.argmax(profile[middle:] < 0.5))
    left = middle - int(np.argmax(profile[middle::-1] < 0.5))
    if middle in (left, right):
        return float(np.sum(np.clip(profile, 0, None)) * (across[1] - across[0]))
    share = (profile[right - 1] - 0.5) / (profile[right - 1] - profile[right])
    other = (profile[left + 1] - 0.5) / (profile[left + 1] - profile[left])
    return float((across[1] - across[0]) * ((right - 1 + share) - (left + 1 - other)))


def _ends(
    picture: NDArray[np.uint8], inner: Array, outer: Array, half: float
) -> tuple[Array, Array, tuple[bool, bool]] | None:
    """Where the ink falls to half along the axis; an end that runs into other ink stays.

    And whether the ground about each end is alike on both sides: at the end of a track or band it
    is not, and the end seems to lie elsewhere than those of the other marks.
    """
    length = float(np.linalg.norm(outer - inner))
    direction = (outer - inner) / length
    side = np.array([-direction[1], direction[0]])
    along = np.arange(-BEYOND_PX, length + BEYOND_PX + 1e-9, ACROSS_PX)
    strip = _strip(picture, inner + along[:, None] * direction, side, half, coded=False)
    if strip is None:
        return None
    middle = (along > 0.2 * length) & (along < 0.8 * length)
    usual = float(np.percentile(strip.contrast[middle], 60))
    level = strip.contrast / usual
    reach = 0.45 * length
    start, end = _half_crossing(-along, level, reach), _half_crossing(along - length, level, reach)
    uneven = strip.uneven > UNEVEN_END * usual
    at_start = uneven[np.abs(along + start) < ABOUT_END_PX]
    at_end = uneven[np.abs(along - length - end) < ABOUT_END_PX]
    clean = (not at_start.any(), not at_end.any())
    return inner - start * direction, outer + end * direction, clean


def _half_crossing(past: Array, level: Array, reach: float) -> float:
    """Where a profile first falls to half on its way out; 0 where it does not near the end."""
    order = np.argsort(past)
    past, level = past[order], level[order]
    within = past > -min(reach, BEYOND_PX)
    past, level = past[within], level[within]
    under = np.flatnonzero((level[1:] < 0.5) & (level[:-1] >= 0.5))
    if len(under) == 0:
        return 0.0
    i = int(under[np.argmin(np.abs(past[under]))])
    return float(past[i] + (level[i] - 0.5) / (level[i] - level[i + 1]) * (past[i + 1] - past[i]))


def _strip(
    picture: NDArray[np.uint8], places: Array, side: Array, half: float, *, coded: bool
) -> _Strip | None:
    """Ink across a mark, in the colour in which it stands out, as light or in codes."""
    reach = half + 1.5 + BESIDE_PX
    across = np.arange(-reach, reach + 1e-9, ACROSS_PX)
    seen = sample_light(picture, places[:, None, :] + across[None, :, None] * side, coded=coded)
    if np.isnan(seen).any():
        return None
    left, right = across < -half - 1.5, across > half + 1.5
    core = np.abs(across) <= max(0.5 * half, 0.5)
    ground_left = np.median(seen[:, left], axis=1)
    ground_right = np.median(seen[:, right], axis=1)
    top = seen[:, core].mean(axis=1)
    colour = np.median(top - (ground_left + ground_right) / 2, axis=0)
    colour, luma = colour[:3], float(colour[3])
    size = float(np.linalg.norm(colour))
    if size < 1.0:
        return None
    raw = (float(colour[0]), float(colour[1]), float(colour[2]))
    if abs(luma) > ENOUGH_LIGHT:
        colour = np.array([0.0, 0.0, 0.0, np.sign(luma)])
    else:
        colour = np.array([*(colour / size), 0.0])
    share = ((across + reach) / (2 * reach))[None, :]
    ground = (ground_left @ colour)[:, None] * (1 - share) + (ground_right @ colour)[
        :, None
    ] * share
    ink = seen @ colour - ground
    contrast = ink[:, core].mean(axis=1)
    uneven = np.abs((ground_left - ground_right) @ colour)
    return _Strip(ink, contrast, uneven, across, raw)


def _near(bad: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Rows within `AWAY_PX` of a bad one: the corner of a band is filled by the photo's blur."""
    reach = round(AWAY_PX / ALONG_PX)
    return np.asarray(np.convolve(bad, np.ones(2 * reach + 1))[reach : reach + len(bad)] > 0)


def _line(along: Array, middle: Array) -> tuple[float, float, float] | None:
    """Start, slope and scatter of a robust line."""
    weights = np.ones(len(along))
    for _ in range(5):
        total = weights.sum()
        mean, level = weights @ along / total, weights @ middle / total
        spread_along = weights @ (along - mean) ** 2
        if spread_along <= 0:
            return None
        slope = float(weights @ ((along - mean) * (middle - level)) / spread_along)
        off = middle - level - slope * (along - mean)
        scatter = 1.4826 * float(np.median(np.abs(off))) + 1e-3
        weights = 1.0 / (1.0 + (off / (2 * scatter)) ** 2)
    return float(level - slope * mean), slope, scatter
