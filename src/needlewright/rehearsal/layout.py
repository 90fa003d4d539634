"""Where the dials of an invented face stand."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np


@dataclass(frozen=True, slots=True)
class Place:
    """Room for one dial."""

    quantity: str
    """speed, engine, or small: any of the lesser gauges."""
    centre_mm: tuple[float, float]
    radius_mm: float
    """Of the free circle."""
    middle_deg: float = 0.0
    """Direction of the middle of its scale."""


@dataclass(frozen=True, slots=True)
class Layout:
    """The sheet and its dials."""

    name: str
    size_mm: tuple[float, float]
    places: tuple[Place, ...]


def invent_layout(rng: np.random.Generator) -> Layout:
    """Choose a layout and its measures.

    Parameters
    ----------
    rng
        Where chance comes from.

    Returns
    -------
    Layout
        Of two to six dials whose circles do not touch.
    """
    name = str(rng.choice(list(_LAYOUTS)))
    layout = _LAYOUTS[name](rng)
    size = tuple(round(side, 1) for side in layout.size_mm)
    places = tuple(
        replace(p, centre_mm=(round(p.centre_mm[0], 3), round(p.centre_mm[1], 3)))
        for p in layout.places
    )
    return Layout(name, (size[0], size[1]), places)


def _two_and_stack(rng: np.random.Generator) -> Layout:
    """Two large dials, two small ones between them, one over the other."""
    high = float(rng.uniform(100, 128))
    big, small = high * 0.42, high * 0.2
    gap, edge = float(rng.uniform(5, 12)), float(rng.uniform(6, 14))
    wide = 2 * edge + 4 * big + 2 * gap + 2 * small
    left, right = edge + big, wide - edge - big
    mid = high * float(rng.uniform(0.47, 0.53))
    first, second = _main_pair(rng)
    down = 180.0 if rng.random() < 0.25 else 0.0
    return Layout(
        "",
        (wide, high),
        (
            Place(first, (left, mid), big),
            Place(second, (right, mid), big),
            Place("small", (wide / 2, high * 0.29), small),
            Place("small", (wide / 2, high * 0.73), small, down),
        ),
    )


def _one_and_sides(rng: np.random.Generator) -> Layout:
    """One large dial in the middle, one or two small ones on each side."""
    high = float(rng.uniform(105, 130))
    big = high * 0.43
    a_side = int(rng.integers(1, 3))
    small = high * (0.21 if a_side == 2 else 0.27)
    gap, edge = float(rng.uniform(8, 24)), float(rng.uniform(8, 20))
    wide = 2 * (edge + gap + 2 * small + big)
    heights = (0.28, 0.72) if a_side == 2 else (float(rng.uniform(0.45, 0.6)),)
    places = [Place("speed", (wide / 2, high / 2), big)]
    for x, sideways in ((edge + small, -90.0), (wide - edge - small, 90.0)):
        middle = sideways if rng.random() < 0.2 else 0.0
        places += [Place("small", (x, high * y), small, middle) for y in heights]
    return Layout("", (wide, high), tuple(places))


def _row_of_three(rng: np.random.Generator) -> Layout:
    """A large dial between two of middle size, or a middle one of engine speed."""
    high = float(rng.uniform(95, 120))
    big, middle = high * 0.44, high * float(rng.uniform(0.30, 0.36))
    gap, edge = float(rng.uniform(3, 10)), float(rng.uniform(5, 12))
    wide = 2 * (edge + gap + 2 * middle + big)
    low = high * float(rng.uniform(0.5, 0.62))
    return Layout(
        "",
        (wide, high),
        (
            Place("engine", (edge + middle, low), middle),
            Place("speed", (wide / 2, high / 2), big),
            Place(
                "small", (wide - edge - middle, low), middle, float(rng.choice([0.0, 0.0, 90.0]))
            ),
        ),
    )


def _two_alone(rng: np.random.Generator) -> Layout:
    """Two large dials."""
    high = float(rng.uniform(85, 115))
    big = high * 0.45
    gap, edge = float(rng.uniform(6, 40)), float(rng.uniform(5, 15))
    wide = 2 * edge + 4 * big + gap
    first, second = _main_pair(rng)
    return Layout(
        "",
        (wide, high),
        (
            Place(first, (edge + big, high / 2), big),
            Place(second, (wide - edge - big, high / 2), big),
        ),
    )


def _insets(rng: np.random.Generator) -> Layout:
    """Two large dials with a small one in the gap at the foot of each."""
    high = float(rng.uniform(105, 130))
    big = high * 0.45
    gap, edge = float(rng.uniform(8, 30)), float(rng.uniform(6, 14))
    wide = 2 * edge + 4 * big + gap
    left, right = edge + big, wide - edge - big
    small, low = big * 0.30, high / 2 + big * 0.62
    first, second = _main_pair(rng)
    return Layout(
        "",
        (wide, high),
        (
            Place(first, (left, high / 2), big),
            Place(second, (right, high / 2), big),
            Place("small", (left, low), small),
            Place("small", (right, low), small),
        ),
    )


def _six(rng: np.random.Generator) -> Layout:
    """Two large dials and a block of four small ones between or beside them."""
    high = float(rng.uniform(110, 130))
    big, small = high * 0.40, high * 0.20
    gap, edge = float(rng.uniform(5, 9)), float(rng.uniform(5, 10))
    wide = 2 * edge + 4 * big + 4 * small + 3 * gap
    first, second = _main_pair(rng)
    x1 = edge + 2 * big + gap + small
    x2 = x1 + 2 * small + gap
    rows = (high * 0.27, high * 0.73)
    return Layout(
        "",
        (wide, high),
        (
            Place(first, (edge + big, high / 2), big),
            Place(second, (wide - edge - big, high / 2), big),
            *(Place("small", (x, y), small) for y in rows for x in (x1, x2)),
        ),
    )


def _row_on_top(rng: np.random.Generator) -> Layout:
    """A large dial on one side, small ones in a row or a square on the other."""
    high = float(rng.uniform(90, 112))
    big, small = high * 0.44, high * 0.21
    gap, edge = float(rng.uniform(8, 16)), float(rng.uniform(6, 12))
    columns = int(rng.integers(1, 3))
    wide = 2 * edge + 2 * big + gap + columns * (2 * small + gap / 2)
    speed = Place("speed", (edge + big, high / 2), big)
    xs = [edge + 2 * big + gap + small + i * (2 * small + gap / 2) for i in range(columns)]
    smalls = [Place("small", (x, high * y), small) for y in (0.27, 0.73) for x in xs]
    places = (speed, *smalls)
    if rng.random() < 0.5:
        places = tuple(
            replace(p, centre_mm=(wide - p.centre_mm[0], p.centre_mm[1])) for p in places
        )
    return Layout("", (wide, high), places)


def _main_pair(rng: np.random.Generator) -> tuple[str, str]:
    return ("engine", "speed") if rng.random() < 0.6 else ("speed", "engine")


_LAYOUTS: Final[dict[str, Callable[[np.random.Generator], Layout]]] = {
    "two and a stack": _two_and_stack,
    "one and sides": _one_and_sides,
    "row of three": _row_of_three,
    "two alone": _two_alone,
    "insets": _insets,
    "six": _six,
    "one side": _row_on_top,
}
