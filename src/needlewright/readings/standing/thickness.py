"""How thick a needle is, by what shows of its side: how well each thickness explains the photos.

Source: derivation in docs/calibrating.md.
"""

from collections.abc import Sequence
from math import hypot, sqrt
from typing import Final

import numpy as np

from needlewright.families.model import Dial
from needlewright.readings.projection import Array
from needlewright.readings.standing.looks import NeedleLook, looked_again, misfit, with_needle

THINNEST_MM: Final = 0.2
THICKEST_MM: Final = 2.4
STEP_MM: Final = 0.1
"""Thicknesses that are tried."""
REACH: Final = 3
"""A parabola is laid through so many of them on both sides of the best."""
LEAST_U_MM: Final = 0.15
"""Of a thickness: a side and a top of nearly one colour, with rounded corners, tell no more."""
MOST_OF_ONE: Final = 6.0
"""Rises of one photo beyond so many count less and less."""
TELLING: Final = 6.0
"""Rise of the misfit, in units of twice a log-likelihood, that both sides of the best thickness
must show within the range."""
WIDTH_PX: Final = 0.1
"""How far the widths of one needle's top may differ from photo to photo, pixels (k = 1)."""
MISFIT_SHARE: Final = 0.1
"""Of the misfit's rise that counts: a model of a bar with two flat sides is not a needle."""
U_THICKNESS_SHARE: Final = 0.2
"""Standard uncertainty of a thickness by the light on its side, as a share of it."""
OTHER_SHAPE: Final = 0.3
"""Of a needle's width: one that is so much wider or narrower than the family says is no such bar,
and its sides tell no thickness."""
U_UNKNOWN_THICKNESS: Final = 0.35
"""Standard uncertainty of the family's thickness where the photos do not tell it: a share of it."""


def find_thickness(
    looks: Sequence[NeedleLook], dial: Dial, height_mm: float
) -> tuple[float, float, bool]:
    """Find the thickness that explains the photos of a needle best.

    Parameters
    ----------
    looks
        The needle in its photos, fitted at about its height.
    dial
        As the family has it.
    height_mm
        At which the needle is taken to stand.

    Returns
    -------
    tuple
        Thickness and its standard uncertainty, mm, and whether the photos tell it; where they do
        not it is the family's, with an uncertainty that says so.
    """
    stated = dial.needle.thickness_mm
    not_told = stated, U_UNKNOWN_THICKNESS * stated, False
    grid = np.arange(THINNEST_MM, min(THICKEST_MM, height_mm) + 1e-9, STEP_MM)
    width = dial.needle.width_at(dial.needle.length_mm / 2)
    if abs(float(np.median([one.fit.width_excess_mm for one in looks]))) > OTHER_SHAPE * width:
        return not_told
    told = [tell for one in looks if (tell := _tried(one, dial, height_mm, grid)) is not None]
    if len(grid) < 2 * REACH + 1 or len(told) < 2:
        return not_told
    worse = MISFIT_SHARE * np.array([misfits - misfits.min() for misfits, _ in told])
    widths = np.array([width for _, width in told])
    apart = ((widths - np.median(widths, axis=0)) / WIDTH_PX) ** 2 * len(told) / (len(told) - 1)
    rise = _capped(worse).sum(axis=0) + _capped(apart).sum(axis=0)
    best = int(np.argmin(rise))
    rise -= rise[best]
    if min(rise[: best + 1].max(), rise[best:].max()) < TELLING:
        return not_told
    near = slice(max(best - REACH, 0), best + REACH + 1)
    curve, slope, _ = np.polyfit(grid[near] - grid[best], rise[near], 2)
    if curve <= 0:
        return not_told
    value = float(np.clip(grid[best] - slope / (2 * curve), grid[near][0], grid[near][-1]))
    return value, hypot(1 / sqrt(curve), U_THICKNESS_SHARE * value, LEAST_U_MM), True


def _capped(rises: Array) -> Array:
    """Of one photo no more and no more: one that is wrong must not decide."""
    return np.asarray(MOST_OF_ONE * np.log1p(rises / MOST_OF_ONE))


def _tried(
    one: NeedleLook, dial: Dial, height_mm: float, grid: Array
) -> tuple[Array, Array] | None:
    """Misfit of a photo at each thickness, and the width of the needle's top then, pixels."""
    fitted = [looked_again(one, with_needle(dial, height_mm, float(at))) for at in grid]
    rows = one.fit.accepted_rows
    whole = [fit for fit in fitted if fit and fit.fit.accepted_rows.shape == rows.shape]
    if len(whole) < len(grid):
        return None
    for fit in whole:
        rows = rows & fit.fit.accepted_rows
    misfits = np.array([misfit(fit, one.fit.noise, rows) for fit in whole])
    widths = np.array([fit.fit.width_excess_mm * fit.view.px_per_mm for fit in whole])
    return misfits, widths
