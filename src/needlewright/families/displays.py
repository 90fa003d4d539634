"""Displays of a face: where they are, and where their segments are, as far as a family says so."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from needlewright.errors import FamilyError
from needlewright.families.model import Family

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Segment:
    """A part of a display that lights by itself."""

    id: str
    centre_mm: Pair
    reach_mm: float


@dataclass(frozen=True, slots=True)
class Display:
    """A display behind or in the face."""

    id: str
    centre_mm: Pair
    size_mm: Pair
    """Width and height."""
    segments: tuple[Segment, ...] = ()


def displays_of(family: Family) -> tuple[Display, ...]:
    """The displays whose place a family states.

    Parameters
    ----------
    family
        The cluster design; its file's `displays` may say more, which is passed over.

    Returns
    -------
    tuple of Display
        In the file's order; those without `centre_mm` and `size_mm` are left out.

    Raises
    ------
    FamilyError
        If a place or a segment is not what it should be.
    """
    found = []
    for number, raw in enumerate((family.raw or {}).get("displays") or (), start=1):
        if not isinstance(raw, Mapping) or "centre_mm" not in raw or "size_mm" not in raw:
            continue
        name = str(raw.get("id", f"display-{number}"))
        where = f"family '{family.name}': display '{name}'"
        size = _pair(raw["size_mm"], f"{where}, size_mm")
        if min(size) <= 0:
            raise FamilyError(f"{where}, size_mm: expected two lengths above 0, found {size}")
        given = raw.get("segments") or ()
        if not isinstance(given, list | tuple):
            raise FamilyError(f"{where}, segments: expected a list of objects, found {given!r}")
        segments = tuple(_segment(one, i, where) for i, one in enumerate(given, start=1))
        found.append(Display(name, _pair(raw["centre_mm"], f"{where}, centre_mm"), size, segments))
    return tuple(found)


def _segment(raw: Any, number: int, where: str) -> Segment:
    here = f"{where}, segment {number}"
    if not isinstance(raw, Mapping) or "centre_mm" not in raw:
        raise FamilyError(f"{here}: expected an object with centre_mm and reach_mm, found {raw!r}")
    reach = raw.get("reach_mm", 1.0)
    if isinstance(reach, bool) or not isinstance(reach, int | float) or not 0 < reach < 100:
        raise FamilyError(f"{here}, reach_mm: expected a length above 0, found {reach!r}")
    return Segment(
        str(raw.get("id", f"segment-{number}")),
        _pair(raw["centre_mm"], f"{here}, centre_mm"),
        float(reach),
    )


def _pair(raw: Any, where: str) -> Pair:
    numbers = raw if isinstance(raw, list | tuple) and len(raw) == 2 else ()
    good = [n for n in numbers if isinstance(n, int | float) and not isinstance(n, bool)]
    if len(good) != 2 or not all(isfinite(n) for n in good):
        raise FamilyError(f"{where}: expected [x, y] in mm, found {raw!r}")
    return float(good[0]), float(good[1])
