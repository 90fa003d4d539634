"""Finding the printed marks of a dial: thin things in a ring that point at its centre."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.ink import Unrolled, angle_of
from needlewright.readings.projection import Array, Projection

SHARE_OF_INK: Final = 0.4
"""Share of a clicked mark's ink above which a place is ink."""
SHORTEST_PX: Final = 3.0
SHORTEST: Final = 0.018
"""Shortest mark, in pixels of the photo and in radii."""
STEADY_WIDTH: Final = 1.6
"""Rows wider than so many times a mark's usual width belong to a numeral that touches it."""
INSIDE: Final = (0.28, 0.02)
"""Ring inside the marks, in radii below their inner ends: what goes on through it is a needle. A
numeral that touches its mark does not reach so far."""
THROUGHOUT: Final = 0.85
"""Share of that ring's rows that a needle fills."""


@dataclass(frozen=True, slots=True)
class Tick:
    """One thin radial thing, in pixels of the photo."""

    inner_px: tuple[float, float]
    outer_px: tuple[float, float]
    """Ends of its axis."""
    angle_deg: float
    """About the centre it was found with."""
    inner: float
    outer: float
    """Radii of its ends, on the plane."""
    width: float
    """Median width, on the plane."""
    scatter: float
    """Standard deviation of its axis's points about the axis, on the plane."""
    ink: float
    """How far it stands out, grey levels."""
    seen: float = 1.0
    """Share of its length that says where its axis lies: beside a band or track it does not."""
    colour: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """Of its ink over the ground: blue, green and red, grey levels."""
    clean: tuple[bool, bool] = (True, True)
    """Whether its inner and outer end stand free of what lies beside one side of them only."""

    @property
    def length(self) -> float:
        """From end to end, on the plane."""
        return self.outer - self.inner

    @property
    def area(self) -> float:
        """Length times width: what tells major marks from minor ones."""
        return self.length * self.width


def find_ticks(
    unrolled: Unrolled, projection: Projection, ring: tuple[float, float], level: float
) -> list[Tick]:
    """Find the marks in a ring.

    Parameters
    ----------
    unrolled
        The ink about the centre, somewhat wider than the ring.
    projection
        Plane to photo.
    ring
        Radii between which marks lie.
    level
        Ink of a clicked mark.

    Returns
    -------
    list of Tick
        In rising angle.
    """
    rows = (unrolled.radii >= ring[0]) & (unrolled.radii <= ring[1])
    ink, radii = unrolled.ink[rows], unrolled.radii[rows]
    if len(radii) < 4:
        return []
    solid = (ink > SHARE_OF_INK * level).astype(np.uint8)
    roll = _emptiest_column(solid)
    solid, ink = np.roll(solid, -roll, axis=1), np.roll(ink, -roll, axis=1)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(solid, connectivity=8)
    found = []
    for label in range(1, count):
        left, top, width, height, _ = (int(s) for s in stats[label])
        window = (slice(top, top + height), slice(max(left - 3, 0), left + width + 3))
        part = labels[window] == label
        around = _grown(part) & ((labels[window] == label) | (labels[window] == 0))
        weights = np.where(around, ink[window], 0.0)
        blob = _Blob(part, weights, radii[top : top + height], window[1].start + roll)
        tick = _measured(unrolled, projection, blob)
        if tick is not None and not _goes_inside(unrolled, tick, level):
            found.append(tick)
    return sorted(found, key=lambda tick: tick.angle_deg)


def _emptiest_column(solid: NDArray[np.uint8]) -> int:
    """A column to begin at that cuts no mark in two."""
    return int(np.argmin(solid.sum(axis=0)))


def _grown(part: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """A component with the soft pixels beside it."""
    return np.asarray(cv2.dilate(part.astype(np.uint8), np.ones((1, 5), np.uint8)) > 0)


@dataclass(frozen=True, slots=True)
class _Blob:
    """Ink that hangs together: rows are radii."""

    part: NDArray[np.bool_]
    weights: NDArray[np.float32]
    """The ink of it and of the soft pixels beside it."""
    radii: Array
    first_column: int


def _measured(unrolled: Unrolled, projection: Projection, blob: _Blob) -> Tick | None:
    part, weights, radii = blob.part, blob.weights, blob.radii
    px = unrolled.radii[1] - unrolled.radii[0]  # a row is half a pixel
    counts = part.sum(axis=1)
    arc = np.radians(unrolled.step_deg) * radii
    usual = float(np.median(counts * arc))
    steady = counts * arc <= STEADY_WIDTH * usual + 2 * px
    length = float(radii[steady][-1] - radii[steady][0]) if steady.any() else 0.0
    if length < max(2 * SHORTEST_PX * px, SHORTEST * radii[0]) or usual > 1.6 * length + 4 * px:
        return None
    columns = blob.first_column + np.arange(weights.shape[1])
    total = weights.sum(axis=1)
    good = steady & (total > 0)
    centroid = (weights @ columns)[good] / total[good]
    points = unrolled.on_plane(centroid * unrolled.step_deg, radii[good])
    strength = total[good] / np.median(total[good])
    axis = _axis(points, np.minimum(strength, 1.0))
    if axis is None:
        return None
    middle, direction, scatter = axis
    inner, outer = _ends(weights, radii, steady)
    # along the axis, where it meets the circles of both ends
    along = (points - middle) @ direction
    reach = np.linalg.norm(points - unrolled.centre, axis=1)
    slope, start = np.polyfit(reach - reach.mean(), along, 1) if len(along) > 2 else (1.0, 0.0)
    ends = [middle + direction * (start + slope * (r - reach.mean())) for r in (inner, outer)]
    at = projection.to_photo(np.array(ends))
    core = weights[part]
    return Tick(
        (float(at[0, 0]), float(at[0, 1])),
        (float(at[1, 0]), float(at[1, 1])),
        float(angle_of(unrolled.centre, (ends[0] + ends[1]) / 2)),
        inner,
        outer,
        usual,
        scatter,
        float(np.median(core)),
    )


def _axis(points: Array, strength: Array) -> tuple[Array, Array, float] | None:
    """Middle, direction (outwards) and scatter of a line through points, robustly."""
    if len(points) < 4:
        return None
    weights = strength.copy()
    for _ in range(4):
        middle = weights @ points / weights.sum()
        out = points - middle
        values, vectors = np.linalg.eigh((out * weights[:, None]).T @ out)
        direction = vectors[:, int(np.argmax(values))]
        off = out @ np.array([-direction[1], direction[0]])
        spread = 1.4826 * float(np.median(np.abs(off))) + 1e-6
        weights = strength / (1 + (off / (2 * spread)) ** 2)
    if (points[-1] - points[0]) @ direction < 0:
        direction = -direction
    return middle, direction, spread


def _ends(
    weights: NDArray[np.float32], radii: Array, steady: NDArray[np.bool_]
) -> tuple[float, float]:
    """Radii where the ink along a mark falls to half."""
    along = np.where(steady, weights.max(axis=1), 0.0)
    half = 0.5 * float(np.percentile(along[along > 0], 75))
    over = np.flatnonzero(along >= half)
    first, last = int(over[0]), int(over[-1])
    step = float(radii[1] - radii[0])
    inner, outer = float(radii[first]), float(radii[last])
    if first > 0 and along[first] > along[first - 1]:
        inner -= step * (along[first] - half) / (along[first] - along[first - 1])
    if last + 1 < len(along) and along[last] > along[last + 1]:
        outer += step * (along[last] - half) / (along[last] - along[last + 1])
    return inner, outer


def _goes_inside(unrolled: Unrolled, tick: Tick, level: float) -> bool:
    """Whether something goes on inwards of a mark, as a needle over it does."""
    radius = tick.inner
    rows = (unrolled.radii > radius * (1 - INSIDE[0])) & (unrolled.radii < radius * (1 - INSIDE[1]))
    if not rows.any():
        return False
    column = round(tick.angle_deg % 360.0 / unrolled.step_deg)
    reach = max(1, round(np.degrees(0.25 * tick.width / radius) / unrolled.step_deg))
    columns = np.arange(column - reach, column + reach + 1) % unrolled.broad.shape[1]
    inside = np.median(unrolled.broad[np.ix_(rows, columns)], axis=1)
    return bool(np.mean(inside > 0.6 * SHARE_OF_INK * level) > THROUGHOUT)
