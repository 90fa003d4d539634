"""A needle's measures from a photo that shows it, against the bare face."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.ink import on_circle
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling import sample
from needlewright.readings.viewpoint import Viewpoint

TURN_STEP_DEG: Final = 0.5
STEP_MM: Final = 0.08
RADII: Final = (0.4, 0.8)
"""Where along the marks' inner radius a needle's direction is looked for."""
STANDS_OUT: Final = 5.0
"""Times the usual difference from the bare face that a needle must show."""
LEAST: Final = 18.0
"""Least difference of a needle from the face, root of the sum of squared grey levels."""
HUB_SHARE: Final = 0.7
"""Share of a circle that differs from the face, up to the hub's rim."""
CAP_OVER_MM: Final = 1.0
ENOUGH_CONTRAST: Final = 0.35
"""Share of the needle's usual contrast that the face must leave it for a row to count."""
RUN_MM: Final = 0.8
FEWEST_ROWS: Final = 8
LEAST_RIM: Final = 0.08
"""Radius of the smallest cap, in the marks' inner radius."""
COVERED: Final = (8.0, 3.5)
"""Difference from the face at which it is covered by a cap: grey levels, and times the usual."""
LONGEST: Final = 1.12
"""Longest needle, in outer radii of the marks."""


@dataclass(frozen=True, slots=True)
class SeenNeedle:
    """One needle in one photo."""

    angle_deg: float
    length_mm: float
    tail_mm: float
    base_width_mm: float
    tip_width_mm: float
    hub_radius_mm: float
    colour: tuple[float, float, float]
    """sRGB, 0 to 1, in this photo's light."""
    offset_mm: float
    """Its axis beside the dial's centre, positive clockwise, if its height is as taken."""
    per_mm_height: float
    """By how much the offset changes for a millimetre of height."""


@dataclass(frozen=True, slots=True)
class NeedleView:
    """A dial in a photo that was registered to the drafted face.

    Parameters
    ----------
    pixels
        The photo, height x width x 3, blue, green, red.
    face
        The bare face, rectified; its resolution in `px_per_mm`.
    px_per_mm
        Of the face.
    projection, viewpoint
        How the face lies in the photo.
    centre_mm
        Of the dial.
    marks_mm
        Median inner and outer radius of its major marks.
    height_mm
        Taken for the needle's middle, over the face.
    """

    pixels: NDArray[np.uint8]
    face: NDArray[np.uint8]
    px_per_mm: float
    projection: Projection
    viewpoint: Viewpoint
    centre_mm: Array
    marks_mm: tuple[float, float]
    height_mm: float

    def seen(self, points_mm: Array, height_mm: float) -> tuple[Array, Array]:
        """Photo and bare face where points at a height are seen, (..., 3) each."""
        on_face = self.viewpoint.lifted(points_mm, height_mm)
        at = self.projection.to_photo(on_face)
        photo = sample(self.pixels, at[..., 0], at[..., 1]).astype(np.float64)
        flat = on_face * self.px_per_mm - 0.5
        return photo, sample(self.face, flat[..., 0], flat[..., 1]).astype(np.float64)


def measure_needle(view: NeedleView) -> SeenNeedle | None:
    """Measure a needle.

    Parameters
    ----------
    view
        The dial.

    Returns
    -------
    SeenNeedle | None
        None where no needle is seen clearly.
    """
    inner, outer = view.marks_mm
    angles = np.arange(0.0, 360.0, TURN_STEP_DEG)
    radii = np.arange(STEP_MM, LONGEST * outer, 2 * STEP_MM)
    photo, face = view.seen(on_circle(view.centre_mm, angles[None], radii[:, None]), view.height_mm)
    lit = _lit(photo, face, (radii > 0.5 * inner)[:, None] & np.ones(len(angles), bool))
    apart = np.linalg.norm(photo - lit(face), axis=-1)
    rough = _direction(apart, radii, inner, angles)
    if rough is None:
        return None
    hub = _hub_mm(view, lit, inner)
    start = min(max(1.15 * hub, 0.25 * inner), 0.5 * inner)
    return _bar(view, lit, rough, hub, start)


class _Light:
    """Gain and offset of a photo's light on the bare face about a dial, per colour."""

    def __init__(self, gains: Array) -> None:
        self._gains = gains

    def __call__(self, face: Array) -> Array:
        return np.asarray(face * self._gains[0] + self._gains[1])


def _lit(photo: Array, face: Array, used: NDArray[np.bool_]) -> _Light:
    gains = np.empty((2, 3))
    for k in range(3):
        seen, bare = photo[..., k][used], face[..., k][used]
        weights = np.ones(len(seen))
        slope, start = 1.0, 0.0
        for _ in range(8):
            mean_bare, mean = np.average(bare, weights=weights), np.average(seen, weights=weights)
            spread = np.average((bare - mean_bare) ** 2, weights=weights)
            both = np.average((bare - mean_bare) * (seen - mean), weights=weights)
            slope = float(both / max(spread, 1e-6)) if spread > 1.0 else 1.0
            start = float(mean - slope * mean_bare)
            off = seen - slope * bare - start
            scale = 1.4826 * float(np.median(np.abs(off))) + 0.5
            weights = 1.0 / (1.0 + (off / (2 * scale)) ** 2)
        gains[:, k] = slope, start
    return _Light(gains)


def _direction(apart: Array, radii: Array, inner: float, angles: Array) -> float | None:
    rows = (radii > RADII[0] * inner) & (radii < RADII[1] * inner)
    along = np.percentile(apart[rows], 25, axis=0)  # all along, not only where print differs
    around = np.convolve(np.concatenate([along[-2:], along, along[:2]]), np.ones(5) / 5, "valid")
    best = int(np.argmax(around))
    usual = float(np.median(around))
    spread = 1.4826 * float(np.median(np.abs(around - usual))) + 1.0
    if around[best] < max(LEAST, usual + STANDS_OUT * spread):
        return None
    return float(angles[best])


def _hub_mm(view: NeedleView, lit: _Light, inner: float) -> float:
    """Radius up to which the face is covered all round."""
    radii = np.arange(STEP_MM, 0.7 * inner, STEP_MM)
    angles = np.arange(0.0, 360.0, 3.0)
    photo, face = view.seen(
        on_circle(view.centre_mm, angles[None], radii[:, None]), view.height_mm + CAP_OVER_MM
    )
    apart = np.linalg.norm(photo - lit(face), axis=-1)
    usual = float(np.median(apart[radii > 0.5 * inner]))
    covered = (apart > max(COVERED[0], COVERED[1] * usual)).mean(axis=1) > HUB_SHARE
    inside = np.flatnonzero(~covered & (radii > 0.06 * inner))
    return float(radii[inside[0]]) if len(inside) else float(radii[-1])


def _bar(
    view: NeedleView, lit: _Light, rough_deg: float, hub: float, start: float
) -> SeenNeedle | None:
    inner, outer = view.marks_mm
    across = np.arange(-0.14 * inner, 0.14 * inner + 1e-9, STEP_MM)
    angle, offset = rough_deg, 0.0
    core = np.arange(start, 0.75 * inner, 2 * STEP_MM)
    for _ in range(4):
        photo, bare = _laid(view, lit, (angle, offset), core, across)
        middle = np.abs(across) < 0.3
        colour = np.median(photo[:, middle].reshape(-1, 3), axis=0)
        share = _share(photo, bare, colour)
        weights = np.where(share > 0.3, np.clip(share, 0, 1), 0.0)
        weights[:, np.abs(across) > _reach(share, across)] = 0.0
        total = weights.sum(axis=1)
        good = total > 0.3 / STEP_MM
        if good.sum() < FEWEST_ROWS:
            return None
        centroid = weights[good] @ across / total[good]
        slope, level = np.polyfit(core[good], centroid, 1)
        angle += float(np.degrees(np.arctan(slope)))
        offset += float(level)
    along = np.arange(-0.9 * inner, LONGEST * outer, STEP_MM)
    photo, bare = _laid(view, lit, (angle, offset), along, across)
    share = _share(photo, bare, colour)
    contrast = np.linalg.norm(colour - bare, axis=-1)
    ends = _ends(along, share, contrast, across, hub)
    if ends is None:
        return None
    tail, length, rim = ends
    widths = _widths(along, share, contrast, across, (start, length))
    if widths is None:
        return None
    turn = np.radians(angle)
    lean = (view.centre_mm - np.array(view.viewpoint.foot_mm)) / view.viewpoint.height_mm
    per_mm = float(lean @ np.array([np.cos(turn), np.sin(turn)]))
    return SeenNeedle(
        angle_deg=float((angle + 180.0) % 360.0 - 180.0),
        length_mm=length,
        tail_mm=tail,
        base_width_mm=widths[0],
        tip_width_mm=widths[1],
        hub_radius_mm=rim if rim > LEAST_RIM * inner else hub,
        colour=tuple(float(c) / 255.0 for c in colour[::-1]),  # type: ignore[arg-type]
        offset_mm=offset,
        per_mm_height=per_mm,
    )


def _laid(
    view: NeedleView, lit: _Light, axis: tuple[float, float], along: Array, across: Array
) -> tuple[Array, Array]:
    """Photo and lit bare face along and across an axis, (rows, columns, 3) each."""
    angle, offset = axis
    turn = np.radians(angle)
    out, side = np.array([np.sin(turn), -np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
    points = view.centre_mm + along[:, None, None] * out + (across + offset)[None, :, None] * side
    photo, face = view.seen(points, view.height_mm)
    return photo, lit(face)


def _share(photo: Array, bare: Array, colour: Array) -> Array:
    """How far each place has gone from the bare face to the needle's colour."""
    way = colour - bare
    return np.asarray(
        np.sum((photo - bare) * way, axis=-1) / np.maximum(np.sum(way**2, axis=-1), 25.0)
    )


def _reach(share: Array, across: Array) -> float:
    """Half the width within which a needle's own ink lies."""
    profile = np.median(share, axis=0)
    over = np.abs(across[profile > 0.4])
    return float(over.max()) + 0.4 if len(over) else 0.8


def _ends(
    along: Array, share: Array, contrast: Array, across: Array, hub: float
) -> tuple[float, float, float] | None:
    """Tail, length, and where the needle comes out from under its cap (0: nowhere)."""
    middle = np.abs(across) < 0.25
    line = np.median(share[:, middle], axis=1)
    clear = np.median(contrast[:, middle], axis=1)
    trusted = clear > ENOUGH_CONTRAST * float(np.percentile(clear, 75))
    line = np.interp(along, along[trusted], line[trusted]) if trusted.sum() > 8 else line
    beyond = along > hub
    tip = _first_under(along[beyond], line[beyond])
    before = along < 0
    tail = _last_over(-along[before][::-1], line[before][::-1])
    if tip is None or tip < 1.5 * hub:
        return None
    # a cap stands higher and is moved by parallax: the mean of both sides is its radius
    rims = [
        _rim(along, line, tip),
        _rim(-along[::-1], line[::-1], tail) if tail is not None else None,
    ]
    seen = [rim for rim in rims if rim is not None]
    return tail or hub, tip, float(np.mean(seen)) if len(seen) == len(rims) else 0.0


def _rim(along: Array, line: Array, end: float) -> float | None:
    """Where the needle comes out from under its cap, looked for from its end inwards."""
    out = (along > 0) & (along < end - RUN_MM)
    inwards = _first_under(-along[out][::-1], line[out][::-1])
    return None if inwards is None else -inwards


def _first_under(at: Array, line: Array) -> float | None:
    """Where a profile that begins over a half falls under it for good (`RUN_MM`)."""
    under = line < 0.5
    run = max(1, round(RUN_MM / STEP_MM))
    for i in range(1, len(line) - run):
        if under[i : i + run].all() and not under[i - 1]:
            return _crossing(at, line, i)
    return None


def _last_over(at: Array, line: Array) -> float | None:
    """Where the last stretch (`RUN_MM` or more) of a profile over a half ends.

    A cap hides the middle of a needle, so its tail begins anywhere.
    """
    over = line >= 0.5
    run = max(1, round(RUN_MM / STEP_MM))
    for i in range(len(line) - 1, run, -1):
        if over[i - run : i].all() and not over[i]:
            return _crossing(at, line, i)
    return None


def _crossing(at: Array, line: Array, i: int) -> float:
    share = (line[i - 1] - 0.5) / max(line[i - 1] - line[i], 1e-6)
    return float(at[i - 1] + share * (at[i] - at[i - 1]))


def _widths(
    along: Array, share: Array, contrast: Array, across: Array, span: tuple[float, float]
) -> tuple[float, float] | None:
    """Widths at the centre and at the tip, from a line through the widths between."""
    start, length = span
    rows = (along > start) & (along < 0.94 * length)
    if rows.sum() < FEWEST_ROWS:
        return None
    usual = float(np.median(contrast[rows]))
    found = []
    for radius, row, clear in zip(along[rows], share[rows], contrast[rows], strict=True):
        if clear.min() < ENOUGH_CONTRAST * usual:
            continue
        width = _width(row, across)
        if width is not None:
            found.append((radius, width))
    if len(found) < FEWEST_ROWS:
        return None
    radii, widths = np.array(found).T
    weights = np.ones(len(radii))
    slope, base = 0.0, float(np.median(widths))
    for _ in range(6):
        slope, base = np.polyfit(radii, widths, 1, w=np.sqrt(weights))
        off = widths - slope * radii - base
        scale = 1.4826 * float(np.median(np.abs(off))) + 0.02
        weights = 1.0 / (1.0 + (off / (2 * scale)) ** 2)
    return max(float(base), 0.2), max(float(base + slope * length), 0.15)


def _width(row: Array, across: Array) -> float | None:
    middle = len(row) // 2
    if row[middle] < 0.5:
        return None
    right = np.flatnonzero(row[middle:] < 0.5)
    left = np.flatnonzero(row[middle::-1] < 0.5)
    if len(right) == 0 or len(left) == 0:
        return None
    i, j = middle + int(right[0]), middle - int(left[0])
    step = across[1] - across[0]
    a = (row[i - 1] - 0.5) / max(row[i - 1] - row[i], 1e-6)
    b = (row[j + 1] - 0.5) / max(row[j + 1] - row[j], 1e-6)
    return float(step * (i - 1 + a - (j + 1 - b)))
