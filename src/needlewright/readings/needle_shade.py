"""The light a cluster stands in, learned from the shadows its needles cast.

Whatever lights the cluster - a lamp, a window, a row of them - is taken for many small lamps, each
of which throws the needle's shadow to its own side. How much each lamp takes from the ground is
linear in the looks, and no lamp takes less than nothing: non-negative least squares finds the few
that are there. They stand still and light every needle of the cluster alike, so all needles tell
of them together.

Source: derivation in docs/decisions/0016-following-a-needle.md; non-negative least squares: C. L.
Lawson, R. J. Hanson, "Solving Least Squares Problems" (1974), chapter 23; from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Needle
from needlewright.readings import shadow_kernel
from needlewright.readings.projection import Array
from needlewright.readings.shadow_looks import FARTHEST, Look

COARSE: Final = 0.35
FINE: Final = 0.175
"""How far apart lamps are tried, in heights of the needle; then again about those found."""
NEAR: Final = 0.3
LEAST_SHARE: Final = 0.002
"""A lamp that gives less of the light is none."""
LEAST_GAIN: Final = 0.02
"""Share of the ground's departures the shadows must explain to be believed."""
RIDGE: Final = 1e-4
STRANGE: Final = 3.0
"""What departs from the light found first by so many standard deviations counts half."""
COARSE_DOUBT: Final = 0.3
"""Share of a shadow by which that light may be off."""
TABLE_DEG: Final = 1.0
"""A shadow is worked out once for so many degrees of the needle's direction."""
TABLE_ROW_PX: Final = 1.25
TABLE_COLUMN_PX: Final = 0.75
BESIDE_MM: Final = 1.5
"""How far a needle's axis may pass from where its strip was laid."""
NO_TABLE: Final = (np.zeros((0, 0)), np.zeros(4))


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """Where light comes from, as the shadows say.

    Parameters
    ----------
    leans
        (lamps, 2): how far right and down each lamp throws a shadow on the face, in heights of
        what casts it.
    shares
        (lamps,): share of the light on the ground each gives.
    apart
        How far apart they are, which each is blurred by.
    """

    leans: Array
    shares: Array
    apart: float

    @property
    def depth(self) -> float:
        """Share of the light that casts shadows."""
        return float(self.shares.sum())

    @property
    def lean(self) -> Array:
        """Mean throw of a shadow times its depth, in heights of what casts it."""
        return np.asarray(self.shares @ self.leans)


NO_LIGHT: Final = Light(np.zeros((0, 2)), np.zeros(0), COARSE)


class Caster:
    """How one needle casts the shadow of a lamp, as a camera sees it.

    Parameters
    ----------
    needle
        Its shape.
    toward
        How far right and down the camera sees the needle before the face, in heights of it: so
        much less does it see the shadow away from the needle.
    blur_mm
        Blur of the frame's edges, standard deviation.
    """

    def __init__(self, needle: Needle, toward: Array, blur_mm: float) -> None:
        self._needle, self._toward, self._blur = needle, toward, blur_mm

    def taken(
        self, angle_deg: float, rows: Array, cols: Array, leans: Array, apart: float
    ) -> NDArray[np.float64]:
        """Share of each lamp taken from places beside the needle: (lamps, rows, columns)."""
        needle, a = self._needle, np.radians(angle_deg)
        right, down = (leans - self._toward).T
        across = right * np.cos(a) + down * np.sin(a)
        along = right * np.sin(a) - down * np.cos(a)
        middle = needle.height_mm - needle.thickness_mm / 2
        shape = np.array(
            [
                needle.base_width_mm / 2,
                (needle.tip_width_mm - needle.base_width_mm) / 2 / needle.length_mm,
                needle.length_mm,
                needle.tail_mm,
                hypot(self._blur, apart / 2 * needle.height_mm),
            ]
        )
        taken = shadow_kernel.taken_by(
            rows,
            cols,
            middle * along,
            middle * across,
            abs(across) * needle.thickness_mm / 2,
            shape,
        )
        return np.asarray(taken)


class Shadow:
    """One needle's shadow in a known light, over places beside its axis.

    Parameters
    ----------
    caster
        How the needle casts it.
    needle
        The needle.
    light
        The light.
    half_mm
        How far aside it is asked for.
    px_per_mm
        Scale of the frame.
    """

    def __init__(
        self, caster: Caster, needle: Needle, light: Light, half_mm: float, px_per_mm: float
    ) -> None:
        self._caster, self.light = caster, light
        row, column = TABLE_ROW_PX / px_per_mm, TABLE_COLUMN_PX / px_per_mm
        half = half_mm + BESIDE_MM
        self._rows = np.arange(-needle.tail_mm, needle.length_mm + row, row)
        self._cols = np.arange(-half, half + column, column)
        self._place = np.array([self._rows[0], self._cols[0], 1 / row, 1 / column])
        self._tables: dict[int, Array] = {}

    def at(self, angle_deg: float) -> tuple[Array, Array]:
        """Table and its place, as `shadow_kernel.shaded` takes them."""
        if len(self.light.shares) == 0:
            return NO_TABLE
        key = round(angle_deg / TABLE_DEG)
        if key not in self._tables:
            light = self.light
            taken = self._caster.taken(
                key * TABLE_DEG, self._rows, self._cols, light.leans, light.apart
            )
            self._tables[key] = np.tensordot(light.shares, taken, 1)
        return self._tables[key], self._place


class Shaded(Protocol):
    """A needle that can show its shadow."""

    @property
    def caster(self) -> Caster:
        """How it casts it."""

    def looks(self, light: Light) -> Sequence[Look]:
        """The ground about it in many directions, its axis fitted in that light."""


def learn_light(needles: Sequence[Shaded]) -> Light:
    """Find the light all needles of a cluster stand in.

    Parameters
    ----------
    needles
        Those that turned, so that the face under them is known.

    Returns
    -------
    Light
        `NO_LIGHT` where no shadow explains enough.
    """
    light = NO_LIGHT
    around = _grid(COARSE)
    for apart in (COARSE, FINE):
        sums = _Sums(len(around))
        for needle in needles:
            for look in needle.looks(light):
                sums.add(look, needle.caster, around, apart, light)
        shares = sums.solved()
        if sums.explained(shares) < LEAST_GAIN:
            return NO_LIGHT
        there = shares > LEAST_SHARE
        light = Light(around[there], shares[there], apart)
        fine = _grid(FINE)
        away = np.linalg.norm(fine[:, None] - light.leans[None], axis=2)
        around = fine[away.min(axis=1, initial=np.inf) < NEAR]
    return light


def _grid(apart: float) -> Array:
    """Leans of lamps so far apart, out to the farthest."""
    steps = apart * np.arange(-int(FARTHEST / apart), int(FARTHEST / apart) + 1)
    right, down = np.meshgrid(steps, steps)
    inside = np.hypot(right, down) <= FARTHEST
    return np.stack([right[inside], down[inside]], axis=1)


class _Sums:
    """Normal equations of the lamps' shares, and what is to be explained."""

    def __init__(self, lamps: int) -> None:
        self._normal, self._right = np.zeros((lamps, lamps)), np.zeros(lamps)
        self._whole = 0.0

    def add(self, look: Look, caster: Caster, leans: Array, apart: float, before: Light) -> None:
        """Take in a look; what a light found before leaves of it too strangely counts little."""
        place = look.weight > 0
        weight, lost, bare = look.weight[place], look.lost[place], look.bare[place]
        if len(before.shares):
            taken = caster.taken(look.angle_deg, look.rows, look.cols, before.leans, before.apart)[
                :, place
            ]
            shade = bare * (before.shares @ taken)
            usual2 = 1 / weight + (COARSE_DOUBT * shade) ** 2
            weight = weight / (1 + (lost - shade) ** 2 / (STRANGE**2 * usual2))
        taken = caster.taken(look.angle_deg, look.rows, look.cols, leans, apart)[:, place] * bare
        self._normal += (taken * weight) @ taken.T
        self._right += taken @ (weight * lost)
        self._whole += float(weight @ lost**2)

    def solved(self) -> Array:
        """Shares, none below nothing."""
        size = len(self._right)
        ridge = RIDGE * float(np.trace(self._normal)) / max(size, 1)
        if ridge <= 0.0:
            return np.zeros(size)
        root = np.linalg.cholesky(self._normal + ridge * np.eye(size))
        from scipy.optimize import nnls  # noqa: PLC0415 (slow to load, and no start waits for it)

        shares, _ = nnls(root.T, np.linalg.solve(root, self._right))
        return np.asarray(shares)

    def explained(self, shares: Array) -> float:
        """Share of the departures those lamps explain."""
        gain = 2 * shares @ self._right - shares @ self._normal @ shares
        return float(gain) / self._whole if self._whole > 0 else 0.0
