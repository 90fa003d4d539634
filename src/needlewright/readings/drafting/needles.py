"""Needles of a draft: what photos show of them together, what a hand typed, what is assumed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from needlewright.families.model import Needle
from needlewright.readings.drafting.model import NeedleSource
from needlewright.readings.drafting.needle import SeenNeedle

HEIGHT_MM: Final = 3.2
THICKNESS_MM: Final = 0.9
"""Top of a needle over its face, and its thickness (common practice, no source)."""
HEIGHT_SPREAD_MM: Final = 0.9
OFFSET_MM: Final = 0.15
"""Standard deviation of a needle's axis beside the centre, all causes but its height."""
KNOWN_HEIGHT_MM: Final = 0.6
"""Standard uncertainty below which a height counts as measured."""
MEASURED: Final = ("length_mm", "tail_mm", "base_width_mm", "tip_width_mm", "hub_radius_mm")
LONGEST: Final = 1.1
HUB: Final = 0.22
LEAST_HUB: Final = 0.12
"""Radius of a hub nobody could measure, and of the smallest that is believed, in the marks'."""
SHORTEST: Final = 0.45
"""Plausible lengths, in the outer and the inner radius of the major marks."""


@dataclass(frozen=True, slots=True)
class Height:
    """How high a needle's middle stands over its face."""

    middle_mm: float
    u_mm: float


def height_of(seen: Sequence[tuple[SeenNeedle, float]]) -> Height:
    """A needle's height from how far it is moved sideways in photos taken from the side.

    Parameters
    ----------
    seen
        The needle in each photo, and the height its middle was taken at, millimetres.

    Returns
    -------
    Height
        The usual height weighed against what the photos say.
    """
    usual = HEIGHT_MM - THICKNESS_MM / 2
    weight, total = 1.0 / HEIGHT_SPREAD_MM**2, usual / HEIGHT_SPREAD_MM**2
    for needle, taken in seen:
        slope = needle.per_mm_height
        weight += slope**2 / OFFSET_MM**2
        total += slope * (needle.offset_mm + slope * taken) / OFFSET_MM**2
    middle = float(np.clip(total / weight, 0.6, 8.0))
    return Height(middle, float(1.0 / np.sqrt(weight)))


def plausible(needle: SeenNeedle, marks_mm: tuple[float, float]) -> bool:
    """Whether what was measured can be a needle of a dial with marks at these radii."""
    inner, outer = marks_mm
    return (
        SHORTEST * inner < needle.length_mm < LONGEST * outer
        and needle.tail_mm < 0.9 * needle.length_mm
        and needle.hub_radius_mm < 0.6 * needle.length_mm
        and needle.base_width_mm < 0.25 * needle.length_mm
    )


def needle_of(
    seen: Sequence[SeenNeedle],
    height: Height,
    marks_mm: tuple[float, float],
    typed: Mapping[str, float],
) -> tuple[Needle, tuple[tuple[str, NeedleSource], ...]]:
    """Put a needle together.

    Parameters
    ----------
    seen
        In each photo that shows it.
    height
        From `height_of`.
    marks_mm
        Median inner and outer radius of the major marks, from which a needle nobody has seen is
        drawn up.
    typed
        Measures taken by hand.

    Returns
    -------
    tuple
        The needle, and where each of its fields is from.
    """
    inner, _ = marks_mm
    values: dict[str, float] = {
        "length_mm": 0.97 * inner,
        "tail_mm": 0.3 * inner,
        "base_width_mm": 0.06 * inner,
        "tip_width_mm": 0.03 * inner,
        "hub_radius_mm": HUB * inner,
        "height_mm": height.middle_mm + THICKNESS_MM / 2,
        "thickness_mm": THICKNESS_MM,
    }
    sources: dict[str, NeedleSource] = dict.fromkeys(values, "assumed")
    if seen:
        for name in MEASURED:
            values[name] = float(np.median([getattr(needle, name) for needle in seen]))
            sources[name] = "measured"
        hub = values["hub_radius_mm"]
        if hub < LEAST_HUB * inner:  # a dark cap on a dark face: what is seen of it is too small
            values["hub_radius_mm"], sources["hub_radius_mm"] = HUB * inner, "assumed"
    if height.u_mm < KNOWN_HEIGHT_MM:
        sources["height_mm"] = "measured"
    known = {field.name for field in fields(Needle)}
    for name, value in typed.items():
        if name in known:
            values[name], sources[name] = float(value), "typed"
    values["tail_mm"] = min(values["tail_mm"], 0.95 * values["length_mm"])
    values["hub_radius_mm"] = min(values["hub_radius_mm"], 0.9 * values["length_mm"])
    values["thickness_mm"] = min(values["thickness_mm"], values["height_mm"])
    colour = None
    if seen:
        middle = np.median([needle.colour for needle in seen], axis=0)
        colour = tuple(round(float(share), 3) for share in middle)
    needle = Needle(
        **{name: round(value, 3) for name, value in values.items()},
        colour=colour,  # type: ignore[arg-type]
    )
    return needle, (*sources.items(), ("colour", "measured" if seen else "assumed"))
