"""Outlines of needles, and needles as they stand in one built cluster."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial, Family, Needle
from needlewright.rehearsal.canvas import Colour
from needlewright.rehearsal.solids import Bar, Cap

Knots = tuple[NDArray[np.float64], NDArray[np.float64]]
"""Distances from the pivot, rising, and half widths there."""

CAP_RISE_MM: Final = 1.2
"""Top of a cap over the needle's top, where the family does not say."""
CAP_COLOUR: Final[Colour] = (0.06, 0.06, 0.065)
NEEDLE_COLOUR: Final[Colour] = (0.9, 0.3, 0.1)
"""Where the family does not say."""
PITCH_LIMIT_DEG: Final = 3.0


def _bar(needle: Needle) -> Knots:
    at = np.array([-needle.tail_mm, 0.0, needle.length_mm])
    return at, np.array([needle.width_at(x) / 2 for x in at])


def _pointed(needle: Needle) -> Knots:
    """A bar whose last widths run to a point."""
    point = 2.5 * needle.tip_width_mm
    at = np.array([-needle.tail_mm, 0.0, needle.length_mm - point, needle.length_mm])
    half = np.array([needle.width_at(x) / 2 for x in at])
    half[-1] = 0.08 * needle.tip_width_mm
    return at, half


def _lance(needle: Needle) -> Knots:
    """Widest at a third of its length."""
    length = needle.length_mm
    at = np.array([-needle.tail_mm, 0.0, 0.33 * length, length])
    base, tip = needle.base_width_mm / 2, needle.tip_width_mm / 2
    return at, np.array([0.75 * base, 0.75 * base, 1.05 * base, tip])


def _counterweight(needle: Needle) -> Knots:
    """A bar with a broad tail."""
    base, tip, tail = needle.base_width_mm / 2, needle.tip_width_mm / 2, needle.tail_mm
    at = np.array([-tail, -0.45 * tail, -0.4 * tail, 0.0, needle.length_mm])
    return at, np.array([1.9 * base, 1.9 * base, base, base, tip])


OUTLINES: Final[Mapping[str, Callable[[Needle], Knots]]] = {
    "bar": _bar,
    "pointed": _pointed,
    "lance": _lance,
    "counterweight": _counterweight,
}


@dataclass(frozen=True, slots=True)
class Finish:
    """How a dial's needle looks, from the family's `needle.drawn` or by default."""

    outline: str
    colour: Colour
    line_colour: Colour
    cap_colour: Colour
    cap_rise_mm: float


@dataclass(frozen=True, slots=True)
class Seat:
    """How one needle sits in one built cluster: what differs from unit to unit."""

    pivot_mm: tuple[float, float]
    """Where the shaft stands on the print."""
    pitch_deg: float
    """Of the needle against the face; positive: the tip is higher."""


def finish_of(family: Family, dial: Dial) -> Finish:
    """How a dial's needle is finished.

    Parameters
    ----------
    family
        Whose document may say.
    dial
        Which.

    Returns
    -------
    Finish
        Plain where the document does not say, or says what cannot be drawn.
    """
    raw = dict(family.raw or {})
    dials = {d["id"]: d for d in raw.get("dials", ())}
    said: Any = dials.get(dial.id, {}).get("needle", {}).get("drawn", {})
    said = said if isinstance(said, Mapping) else {}
    colour = dial.needle.colour or NEEDLE_COLOUR
    outline = said.get("outline")
    rise = said.get("cap_rise_mm")
    return Finish(
        outline=outline if isinstance(outline, str) and outline in OUTLINES else "bar",
        colour=colour,
        line_colour=_colour(said.get("line_colour"), colour),
        cap_colour=_colour(said.get("cap_colour"), CAP_COLOUR),
        cap_rise_mm=float(rise) if isinstance(rise, int | float) and 0 < rise < 20 else CAP_RISE_MM,
    )


def seat_needles(family: Family, rng: np.random.Generator) -> dict[str, Seat]:
    """Build one unit: each shaft a little off the print's centre, each needle a little pitched.

    Parameters
    ----------
    family
        Whose `eccentricity_mm` and `pitch_u_deg` are the standard deviations.
    rng
        Where chance comes from.

    Returns
    -------
    dict
        Dial id to seat.
    """
    seats = {}
    for dial in family.dials:
        off = rng.normal(0.0, family.eccentricity_mm / np.sqrt(2.0), 2)
        pitch = float(
            np.clip(rng.normal(0.0, dial.needle.pitch_u_deg), -PITCH_LIMIT_DEG, PITCH_LIMIT_DEG)
        )
        at = (dial.centre_mm[0] + float(off[0]), dial.centre_mm[1] + float(off[1]))
        seats[dial.id] = Seat(at, pitch)
    return seats


def true_seats(family: Family) -> dict[str, Seat]:
    """A unit without a fault: shafts on the printed centres, needles parallel to the face.

    Parameters
    ----------
    family
        The design.

    Returns
    -------
    dict
        Dial id to seat.
    """
    return {dial.id: Seat(dial.centre_mm, 0.0) for dial in family.dials}


def bar_of(dial: Dial, finish: Finish, seat: Seat, angle_deg: float) -> Bar:
    """The needle of a dial as it stands.

    Parameters
    ----------
    dial
        Which.
    finish
        Its outline.
    seat
        Of this unit.
    angle_deg
        Direction in the face plane, clockwise from 12 o'clock.

    Returns
    -------
    Bar
        Solid, in face coordinates.
    """
    along, half = OUTLINES[finish.outline](dial.needle)
    keep = np.concatenate([np.diff(along) > 1e-9, [True]])
    return Bar(
        pivot_mm=seat.pivot_mm,
        angle_deg=angle_deg,
        along_mm=along[keep],
        half_width_mm=half[keep],
        top_mm=dial.needle.height_mm,
        thickness_mm=dial.needle.thickness_mm,
        pitch_deg=seat.pitch_deg,
    )


def cap_of(dial: Dial, finish: Finish, seat: Seat) -> Cap:
    """The cap of a dial.

    Parameters
    ----------
    dial
        Which.
    finish
        How high its cap rises.
    seat
        Of this unit.

    Returns
    -------
    Cap
        Solid, in face coordinates.
    """
    needle = dial.needle
    return Cap(
        centre_mm=seat.pivot_mm,
        radius_mm=needle.hub_radius_mm,
        bottom_mm=max(needle.height_mm - needle.thickness_mm, 0.0),
        top_mm=needle.height_mm + finish.cap_rise_mm,
    )


def _colour(said: Any, otherwise: Colour) -> Colour:
    if (
        isinstance(said, list)
        and len(said) == 3
        and all(isinstance(c, int | float) and 0 <= c <= 1 for c in said)
    ):
        return float(said[0]), float(said[1]), float(said[2])
    return otherwise
