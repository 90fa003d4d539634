"""Printing one dial: disc, marks, numerals, warning range, legend."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final, Literal

import numpy as np

from needlewright.rehearsal.canvas import Canvas, Colour, Point
from needlewright.rehearsal.layout import Place
from needlewright.rehearsal.palette import Palette
from needlewright.rehearsal.scales import InventedScale

TickShape = Literal["bar", "wedge", "dot", "open wedge"]


SMALL_MM: Final = 32.0
"""Dials of a smaller radius have bolder marks and larger numerals for their size."""
_TICK_ENDS: Final[Mapping[str, tuple[float, float]]] = {
    "bar": (1.0, 1.0),
    "wedge": (0.35, 1.3),
    "open wedge": (1.5, 0.6),
}
"""Width of a mark at its inner and outer end, over its nominal width."""


@dataclass(frozen=True, slots=True)
class PrintStyle:
    """How the dials of one face are printed."""

    font: Path | None
    squeeze: float
    tick: TickShape
    minor_tick: TickShape
    numerals_inside: bool
    numerals_turn: bool
    """Numerals stand along the radius instead of upright."""
    track: bool
    """A thin arc joins the marks."""
    disc: Literal["none", "flat", "shaded"]
    rim: bool
    grooves: bool
    warning: Literal["band", "marks"]
    weight: float
    """Of strokes, about 1."""


def invent_style(rng: np.random.Generator, fonts: tuple[Path, ...]) -> PrintStyle:
    """Choose how dials are printed.

    Parameters
    ----------
    rng
        Where chance comes from.
    fonts
        Fonts to choose from; none: the drawing library's own.

    Returns
    -------
    PrintStyle
        One for all dials of a face.
    """
    ticks: tuple[TickShape, ...] = ("bar", "bar", "bar", "wedge", "open wedge")
    minors: tuple[TickShape, ...] = ("bar", "bar", "dot", "wedge")
    discs: tuple[Literal["none", "flat", "shaded"], ...] = ("none", "flat", "shaded")
    return PrintStyle(
        font=fonts[int(rng.integers(len(fonts)))] if fonts else None,
        squeeze=float(rng.uniform(0.8, 1.08)),
        tick=ticks[int(rng.integers(len(ticks)))],
        minor_tick=minors[int(rng.integers(len(minors)))],
        numerals_inside=bool(rng.random() < 0.8),
        numerals_turn=bool(rng.random() < 0.2),
        track=bool(rng.random() < 0.35),
        disc=discs[int(rng.integers(len(discs)))],
        rim=bool(rng.random() < 0.45),
        grooves=bool(rng.random() < 0.2),
        warning="band" if rng.random() < 0.6 else "marks",
        weight=float(rng.uniform(0.8, 1.3)),
    )


@dataclass(frozen=True, slots=True)
class Marks:
    """Radii of a printed dial, in millimetres."""

    outer_mm: float
    major_mm: float
    """Inner end of a major mark."""
    minor_mm: float
    numeral_mm: float
    numeral_height_mm: float


def marks_of(place: Place, style: PrintStyle) -> Marks:
    """The radii at which a dial's marks and numerals stand.

    Parameters
    ----------
    place
        Its room.
    style
        How it is printed.

    Returns
    -------
    Marks
        Inside the room.
    """
    r, small = place.radius_mm, place.radius_mm < SMALL_MM
    height = r * (0.15 if small else 0.095)
    if style.numerals_inside:
        outer = r * 0.95
        major = outer - r * (0.13 if small else 0.10)
        return Marks(outer, major, outer - r * 0.06, major - height * 1.25, height)
    outer = r - height * 1.7
    return Marks(outer, outer - r * 0.13, outer - r * 0.07, r - height * 0.75, height)


def print_dial(
    canvas: Canvas, place: Place, scale: InventedScale, style: PrintStyle, palette: Palette
) -> None:
    """Print a dial.

    Parameters
    ----------
    canvas
        The face.
    place
        The dial's room.
    scale
        What it shows.
    style
        How.
    palette
        In which inks.
    """
    _disc(canvas, place, style, palette)
    marks = marks_of(place, style)
    for a, b in _warning_spans(scale):
        if style.warning == "band":
            thick = (marks.outer_mm - marks.major_mm) * 0.55
            canvas.band(
                place.centre_mm,
                marks.outer_mm - thick,
                marks.outer_mm,
                from_deg=a,
                to_deg=b,
                colour=palette.warning,
            )
    if style.track:
        line = 0.28 * style.weight
        canvas.band(
            place.centre_mm,
            marks.outer_mm - line,
            marks.outer_mm,
            from_deg=scale.angles_deg[0],
            to_deg=scale.angles_deg[-1],
            colour=palette.print_main,
        )
    _minor_marks(canvas, place, scale, style, palette)
    _major_marks(canvas, place, scale, style, palette)
    _legend(canvas, place, scale, style, palette)


def _disc(canvas: Canvas, place: Place, style: PrintStyle, palette: Palette) -> None:
    centre, r = place.centre_mm, place.radius_mm
    if style.disc == "flat" or (style.disc == "none" and palette.name == "white dials"):
        canvas.disc(centre, r, palette.dial)
    elif style.disc == "shaded":
        canvas.shaded_disc(centre, r, palette.dial, palette.dial_rim)
    if style.grooves and style.disc != "none":
        for share in np.arange(0.12, 0.7, 0.04):
            canvas.ring(centre, r * float(share), 0.12, palette.dial_rim)
    if style.rim:
        canvas.ring(centre, r * 0.99, 0.5 * style.weight, palette.print_dim)


def _major_marks(
    canvas: Canvas, place: Place, scale: InventedScale, style: PrintStyle, palette: Palette
) -> None:
    marks = marks_of(place, style)
    width = (0.034 if place.radius_mm < SMALL_MM else 0.022) * place.radius_mm * style.weight
    told = told_labels(scale, marks, style)
    for value, angle, label in zip(scale.values, scale.angles_deg, told, strict=True):
        ink = palette.warning if _warns(scale, value) else palette.print_main
        at = (marks.major_mm, marks.outer_mm)
        _tick(canvas, place.centre_mm, angle, at, width_mm=width, shape=style.tick, ink=ink)
        if label:
            canvas.words(
                _at(place.centre_mm, angle, marks.numeral_mm),
                label,
                marks.numeral_height_mm,
                colour=ink,
                font=style.font,
                turn_deg=angle if style.numerals_turn else 0.0,
                squeeze=style.squeeze,
            )


def told_labels(scale: InventedScale, marks: Marks, style: PrintStyle) -> tuple[str, ...]:
    """The labels there is room for: all, every second one, or those of the ends.

    Parameters
    ----------
    scale
        With all its labels.
    marks
        Where they would stand.
    style
        How wide they are.

    Returns
    -------
    tuple of str
        One per mark; empty where none is printed.
    """
    labels, count = scale.labels, len(scale.labels)
    every = [tuple(label if i % n == 0 else "" for i, label in enumerate(labels)) for n in (1, 2)]
    ends = tuple(label if i in (0, count - 1) else "" for i, label in enumerate(labels))
    return next((some for some in every if _fits(some, scale, marks, style)), ends)


def _fits(labels: tuple[str, ...], scale: InventedScale, marks: Marks, style: PrintStyle) -> bool:
    printed = [(a, w) for a, w in zip(scale.angles_deg, labels, strict=True) if w]
    for (a0, w0), (a1, w1) in pairwise(printed):
        apart = np.radians(abs(a1 - a0)) * marks.numeral_mm
        wide = 0.34 * marks.numeral_height_mm * style.squeeze * (len(w0) + len(w1))
        if apart < wide + 0.45 * marks.numeral_height_mm:
            return False
    return True


def _minor_marks(
    canvas: Canvas, place: Place, scale: InventedScale, style: PrintStyle, palette: Palette
) -> None:
    marks, parts = marks_of(place, style), scale.minor_parts
    width = (0.018 if place.radius_mm < SMALL_MM else 0.010) * place.radius_mm * style.weight
    for i in range(len(scale.values) - 1):
        for k in range(1, parts):
            share = k / parts
            value = scale.values[i] + share * (scale.values[i + 1] - scale.values[i])
            angle = scale.angles_deg[i] + share * (scale.angles_deg[i + 1] - scale.angles_deg[i])
            inner = marks.minor_mm
            if parts in (4, 10) and k == parts // 2:
                inner = (marks.minor_mm + marks.major_mm) / 2
            ink = palette.warning if _warns(scale, value) else palette.print_main
            at = (inner, marks.outer_mm)
            _tick(
                canvas, place.centre_mm, angle, at, width_mm=width, shape=style.minor_tick, ink=ink
            )


def _tick(
    canvas: Canvas,
    centre: Point,
    angle_deg: float,
    radii_mm: tuple[float, float],
    *,
    width_mm: float,
    shape: TickShape,
    ink: Colour,
) -> None:
    if shape == "dot":
        radius = radii_mm[1] - width_mm * 1.2
        canvas.disc(_at(centre, angle_deg, radius), width_mm * 1.2, ink)
        return
    a = np.radians(angle_deg)
    out, side = np.array([np.sin(a), -np.cos(a)]), np.array([np.cos(a), np.sin(a)])
    wide_in, wide_out = (width_mm / 2 * share for share in _TICK_ENDS[shape])
    inner, outer = (np.array(centre) + out * radius for radius in radii_mm)
    corners = [inner - side * wide_in, outer - side * wide_out]
    corners += [outer + side * wide_out, inner + side * wide_in]
    canvas.polygon(np.array(corners), ink)


def _legend(
    canvas: Canvas, place: Place, scale: InventedScale, style: PrintStyle, palette: Palette
) -> None:
    if not scale.legend:
        return
    small = place.radius_mm < SMALL_MM
    middle = (scale.angles_deg[0] + scale.angles_deg[-1]) / 2
    # over the hub on a large dial, opposite the scale on a small one
    angle, radius = (middle + 180.0, 0.52) if small else (middle, 0.42)
    height = place.radius_mm * (0.12 if small else 0.06)
    at = _at(place.centre_mm, angle, place.radius_mm * radius)
    canvas.words(
        at, scale.legend, height, colour=palette.print_dim, font=style.font, squeeze=style.squeeze
    )


def _warns(scale: InventedScale, value: float) -> bool:
    low = scale.warning_to is not None and value <= scale.warning_to
    return low or (scale.warning_from is not None and value >= scale.warning_from)


def _warning_spans(scale: InventedScale) -> list[tuple[float, float]]:
    spans = []
    if scale.warning_from is not None:
        spans.append((_angle(scale, scale.warning_from), scale.angles_deg[-1]))
    if scale.warning_to is not None:
        spans.append((scale.angles_deg[0], _angle(scale, scale.warning_to)))
    return spans


def _angle(scale: InventedScale, value: float) -> float:
    return float(np.interp(value, scale.values, scale.angles_deg))


def _at(centre: Point, angle_deg: float, radius_mm: float) -> Point:
    a = np.radians(angle_deg)
    return (
        centre[0] + radius_mm * float(np.sin(a)),
        centre[1] - radius_mm * float(np.cos(a)),
    )
