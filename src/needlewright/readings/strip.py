"""A strip of the photo along the needle: what the fit looks at.

The photo's colours are taken along one direction in colour, the one that tells needle from
ground best and shadow from light least; the print under the strip is drawn beside it.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.readings.dial_view import DialView
from needlewright.readings.needle_search import Candidate
from needlewright.readings.projection import Array
from needlewright.readings.sampling import sample_finely

STEP_PX: Final = 0.5
FLANK_PX: Final = 5.0
MAX_ROWS: Final = 180
MIN_ROWS: Final = 6
TIP_CUT_PX: Final = 1.0
TAIL_CUT_PX: Final = 0.5
"""Left out at the ends: the tip is narrow and often lies on print, the tail is broad and bare."""
SHORTEST_TAIL_PX: Final = 2.0
"""A shorter piece of tail lies in the hub's own light and shadow and is left out."""
PRINT_SHIFT_PX: Final = 0.35
"""How far the drawn print may lie off the photo's."""
PRINT_GAIN_DOUBT: Final = 0.3
"""How far the drawn print's contrast may be off the photo's."""
PRINT_DOUBT_SHARE: Final = 0.06
"""Doubt about the print, as a share of the needle's step, at which a sample counts half."""
SHADOW: Final = 0.1
"""Depth of shadow the colour axis is made blind to, as a share of the ground's light."""
NOISE: Final = 6.0
COLOUR_NOISE: Final = 4.0
"""Variance of a colour difference over that of light (common practice, no source)."""
LIGHT: Final = np.array([0.114, 0.587, 0.299]) / np.linalg.norm([0.114, 0.587, 0.299])
"""Unit direction of luma in BGR (ITU-R BT.601)."""
SATURATED: Final = 250.0


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip of the photo along a direction, rows by columns.

    Parameters
    ----------
    angle_deg
        Its direction.
    r_mm
        (rows,) distances from the dial's centre, negative on the tail.
    t_mm
        (columns,) sideways distances, positive clockwise.
    light
        (rows, columns) the photo along the needle's colour step.
    ground
        (rows, columns) the print there, as this photo would show it.
    trust
        (rows, columns) weights 0..1 by position: low on print edges, none where saturated.
    step
        The needle's step along it as the search saw it, grey levels.
    """

    angle_deg: float
    r_mm: Array
    t_mm: Array
    light: Array
    ground: Array
    trust: Array
    step: float

    def every(self, stride: int) -> "Strip":
        """Every so many rows."""
        return Strip(
            self.angle_deg,
            self.r_mm[::stride],
            self.t_mm,
            self.light[::stride],
            self.ground[::stride],
            self.trust[::stride],
            self.step,
        )


def cut_strip(view: DialView, angle_deg: float, axis: Array, step: float) -> Strip | None:
    """Sample a strip along a direction.

    Parameters
    ----------
    view
        The dial.
    angle_deg
        Direction.
    axis
        (3,) unit direction in colour along which the photo is taken, BGR.
    step
        The needle's step along it, grey levels.

    Returns
    -------
    Strip | None
        None when too little of the needle lies inside the photo.
    """
    row_mm = max(1.0 / view.px_per_mm, (view.dial.needle.length_mm * 1.3) / MAX_ROWS)
    rows = _row_places(view, angle_deg, row_mm)
    width_mm = view.dial.needle.base_width_mm
    half, column_mm = width_mm / 2 + FLANK_PX / view.px_per_mm, STEP_PX / view.px_per_mm
    columns = np.arange(-half, half + column_mm / 2, column_mm)
    photo, brightest = _photo_along(view, angle_deg, rows, columns, row_mm)
    inside = np.isfinite(photo).all(axis=(1, 2))
    if inside.sum() < MIN_ROWS:
        return None
    rows, photo, brightest = rows[inside], photo[inside], brightest[inside]
    points = view.along_needle(angle_deg, rows[:, None], columns[None, :])
    art = view.art_at(points).astype(np.float64)
    ground = _gains(photo, art, rows, columns, width_mm) @ axis
    edge = np.abs(np.gradient(ground, axis=1)) / STEP_PX
    level = np.abs(ground - np.median(ground, axis=1, keepdims=True))
    doubt = (edge * PRINT_SHIFT_PX) ** 2 + (level * PRINT_GAIN_DOUBT) ** 2
    trust = 1 / (1 + doubt / (PRINT_DOUBT_SHARE * step) ** 2)
    trust = np.where((brightest > SATURATED) & (photo.min(axis=2) > 200), 0.0, trust)
    return Strip(angle_deg, rows, columns, photo @ axis, ground, trust, step)


def _row_places(view: DialView, angle_deg: float, row_mm: float) -> Array:
    """Where rows are taken: from where the needle comes out of the cap to its ends.

    Short of the ends by less than the blur: an end only takes light from a row, as a shadow does.
    """
    needle, scale = view.dial.needle, view.px_per_mm
    tip = np.arange(view.inner_radius_mm(angle_deg), needle.length_mm - TIP_CUT_PX / scale, row_mm)
    inner, end = view.inner_radius_mm(angle_deg + 180.0), needle.tail_mm - TAIL_CUT_PX / scale
    if end <= inner + SHORTEST_TAIL_PX / scale:
        return tip
    return np.concatenate([-np.arange(inner, end, row_mm)[::-1], tip])


def _photo_along(
    view: DialView, angle_deg: float, rows: Array, columns: Array, row_mm: float
) -> tuple[Array, Array]:
    """Colours of each row over its own length, and the brightest value met there.

    Where rows stand further apart than pixels each is the mean of several lines, so that nothing
    of the photo between them goes unseen.

    Returns
    -------
    tuple
        (rows, columns, 3), NaN outside the photo, and (rows, columns).
    """
    lines = max(1, round(row_mm * view.px_per_mm))
    shifts = ((np.arange(lines) + 0.5) / lines - 0.5) * row_mm
    places = (rows[:, None] + shifts).reshape(-1, 1)
    at = view.projection.to_photo(view.along_needle(angle_deg, places, columns[None, :]))
    colours = sample_finely(view.pixels, at).reshape(len(rows), lines, len(columns), 3)
    return colours.mean(axis=1), np.nanmax(colours.max(axis=3), axis=1, initial=0.0)


def colour_axis(best: Candidate) -> Array:
    """Unit colour direction that tells needle from ground best and shadow from light least.

    A shadow scales the ground's colour; noise is what this photo shows; and a camera knows colour
    less exactly than light: it samples it coarser, and JPEG keeps less of it. The best linear
    contrast under all three is the step divided by the sum of their covariances (Fisher's
    discriminant).
    """
    shade = SHADOW * best.ground
    light = np.outer(LIGHT, LIGHT)
    covariance = NOISE**2 * (light + COLOUR_NOISE * (np.eye(3) - light))
    covariance = covariance + np.outer(shade, shade) + best.colour_noise
    axis = np.linalg.solve(covariance, best.colour_step)
    return np.asarray(axis / (np.linalg.norm(axis) + 1e-9))


def _gains(photo: Array, art: Array, rows: Array, columns: Array, width_mm: float) -> Array:
    """The art scaled, channel by channel, to the contrast the photo's flanks show."""
    flank = np.abs(columns) > (width_mm / 2 + np.abs(columns).max()) / 2
    shown = np.zeros_like(photo)
    for channel in range(3):
        a = art[:, flank, channel]
        p = photo[:, flank, channel]
        a = a - a.mean(axis=1, keepdims=True)
        p = p - p.mean(axis=1, keepdims=True)
        weights = np.ones_like(a)
        gain = 1.0
        for _ in range(4):
            gain = float((weights * a * p).sum() / ((weights * a * a).sum() + 50.0 * len(a)))
            residual = p - gain * a
            spread = 1.4826 * float(np.median(np.abs(residual))) + 1.0
            weights = 1 / (1 + (residual / (2 * spread)) ** 2)
        shown[..., channel] = np.clip(gain, 0.0, 2.0) * art[..., channel]
    return shown
