"""Zones of a face: where each lamp's light shows, or an even division round the dials."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial, Family
from needlewright.readings.light.laying import grid_mm

FEWEST: Final = 2
"""With one zone there is nothing to compare: the exposure takes it all."""
FAR_REACHES: Final = 2.0
"""Reaches of a lamp beyond which a place belongs to none."""
HALVED_MM: Final = 25.0
"""Needle's length from which a dial is worth two zones."""
MIRRORED_MM: Final = 0.12
"""Of the face's width: so near a zone's middle lies to the mirrored middle of another."""

ZoneSource = Literal["lamps", "dials"]
_Part = tuple[str, str | None, tuple[float, float], float, int]


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of the face."""

    number: int
    """From 1, left to right."""
    id: str
    """The lamp's, or the dial's and which half."""
    lamp: str | None
    """The lamp that lights it; None: not stated."""
    middle_mm: tuple[float, float]
    mirror: int | None = None
    """Number of the zone it is a mirror image of, each of the other; None: of none, or itself."""


@dataclass(frozen=True, slots=True, eq=False)
class Zoning:
    """How a face is divided."""

    source: ZoneSource
    """By the lamps the family states, or evenly round its dials."""
    zones: tuple[Zone, ...]
    seeds: tuple["Seed", ...]

    def of_places(self, shape: tuple[int, int], px_per_mm: float) -> NDArray[np.int16]:
        """Number of each pixel's zone.

        Parameters
        ----------
        shape
            Height and width.
        px_per_mm
            Of the pixels.

        Returns
        -------
        NDArray
            Height x width; 0: of none.
        """
        x, y = grid_mm(shape, px_per_mm)
        nearest = np.full(shape, np.inf, np.float32)
        numbers = np.zeros(shape, np.int16)
        for seed in self.seeds:
            away = seed.away(x, y)
            own = (away < nearest) & (away <= seed.farthest)
            nearest[own] = away[own]
            numbers[own] = seed.number
        return numbers


@dataclass(frozen=True, slots=True)
class Seed:
    """What draws places to a zone."""

    number: int
    at_mm: tuple[float, float]
    reach_mm: float
    farthest: float
    """In reaches."""
    side: int = 0
    """-1: only left of it, 1: only right of it."""

    def away(self, x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
        """Distance in reaches; infinite on the side that is not its own."""
        across = x - np.float32(self.at_mm[0])
        away = np.hypot(across, y - np.float32(self.at_mm[1])) / np.float32(self.reach_mm)
        if self.side:
            away = np.where(across * self.side >= 0, away, np.float32(np.inf))
        return np.asarray(away, np.float32)


def zoning_of(family: Family) -> Zoning:
    """Divide a family's face into zones.

    Parameters
    ----------
    family
        The cluster design.

    Returns
    -------
    Zoning
        By lamps where it says of two or more where they are; else round its dials, the larger ones
        in halves.
    """
    placed = [lamp for lamp in family.lamps if lamp.centre_mm is not None]
    if len(placed) >= FEWEST:
        even = max(family.face_size_mm) / (2 * len(placed))
        named: list[_Part] = [
            (lamp.id, lamp.id, lamp.centre_mm or (0.0, 0.0), lamp.reach_mm or even, 0)
            for lamp in placed
        ]
        return _zoning("lamps", family, named)
    return _zoning("dials", family, [part for dial in family.dials for part in _parts(dial)])


def _parts(dial: Dial) -> list[_Part]:
    reach = 1.35 * dial.needle.length_mm
    if dial.needle.length_mm < HALVED_MM:
        return [(dial.id, None, dial.centre_mm, reach, 0)]
    return [
        (f"{dial.id}-left", None, dial.centre_mm, reach, -1),
        (f"{dial.id}-right", None, dial.centre_mm, reach, 1),
    ]


def _zoning(source: ZoneSource, family: Family, parts: list[_Part]) -> Zoning:
    parts = sorted(parts, key=lambda part: (part[2][0], part[4], part[2][1]))
    middles = [(at[0] + side * reach / 2, at[1]) for _, _, at, reach, side in parts]
    farthest = FAR_REACHES if source == "lamps" else 1.0
    zones, seeds = [], []
    for number, (name, lamp, at, reach, side) in enumerate(parts, start=1):
        mirror = _mirror(number - 1, parts, middles, family.face_size_mm[0])
        if mirror is not None and mirror != number:
            back = _mirror(mirror - 1, parts, middles, family.face_size_mm[0])
            # one that is nearest to a zone which has another mirror image has other inks
            mirror = mirror if back == number else None
        zones.append(Zone(number, name, lamp, middles[number - 1], mirror))
        seeds.append(Seed(number, at, reach, farthest, side))
    return Zoning(source, tuple(zones), tuple(seeds))


def _mirror(
    index: int, parts: list[_Part], middles: list[tuple[float, float]], wide_mm: float
) -> int | None:
    """The other half of the same dial, or the zone on the other side of the face's middle."""
    _, _, at, _, side = parts[index]
    if side:
        other = next(i for i, part in enumerate(parts) if part[2] == at and part[4] == -side)
        return other + 1
    x, y = middles[index]
    away = [np.hypot(wide_mm - x - u, y - v) for u, v in middles]
    nearest = int(np.argmin(away))
    if nearest == index or away[nearest] > MIRRORED_MM * wide_mm:
        return None
    return nearest + 1
