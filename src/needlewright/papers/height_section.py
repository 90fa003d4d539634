"""A needle's section along its shaft, to scale, with the tolerance of every edge as a bar."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_sheet import SMALL_PX, SumSheet

HEIGHT: Final = 330.0
TOP_PX: Final = 44.0
FOOT_PX: Final = 296.0
SHAFT_X: Final = 92.0
HUB_X: Final = (64.0, 120.0)
BORE_X: Final = (84.0, 100.0)
TIP_X: Final = 196.0
BARS_X: Final = 208.0
BAR_STEP_PX: Final = 9.0
LABEL_X: Final = 252.0
LABEL_PX: Final = 15.0


@dataclass(frozen=True, slots=True)
class Edge:
    """A height above the face, and how far units lie from it."""

    words: str
    mm: float
    away_mm: float
    """Worst case, either side."""


@dataclass(frozen=True, slots=True)
class HeightSection:
    """What is drawn; heights above the face's upper side, mm."""

    title: str
    face_mm: float
    shaft_mm: float
    gap_mm: float
    hub_mm: float
    bore_mm: float
    blade_mm: float
    """Underside of the bar above the hub's underside."""
    thickness_mm: float
    droop_mm: float
    lens_mm: float | None
    edges: Sequence[Edge]
    """To be labelled."""


def height_svg(section: HeightSection) -> str:
    """Draw a section.

    Parameters
    ----------
    section
        What is drawn.

    Returns
    -------
    str
        An SVG document; heights to one scale, widths are not.
    """
    sheet = SumSheet(HEIGHT, section.title)
    sheet.words(16, 20, section.title, bold=True)
    highest = max(edge.mm + edge.away_mm for edge in section.edges)
    lowest = -max(section.face_mm, 0.4)
    scale = (FOOT_PX - TOP_PX) / (highest - lowest)

    def y(mm: float) -> float:
        return FOOT_PX - (mm - lowest) * scale

    _draw_face(sheet, section, y(0.0), y(lowest))
    _draw_needle(sheet, section, [y(mm) for mm in _needle_edges(section)])
    if section.lens_mm is not None:
        sheet.line(((16, y(section.lens_mm)), (TIP_X + 4, y(section.lens_mm))), width=3)
    _draw_edges(sheet, section.edges, scale, y(0.0))
    sheet.words(
        16, HEIGHT - 10, "Heights to one scale, mm above the face; bars: worst case", size=SMALL_PX
    )
    return sheet.svg()


def _draw_face(sheet: SumSheet, section: HeightSection, top: float, foot: float) -> None:
    shaft_gap = (BORE_X[0] - 3, BORE_X[1] + 3)
    for left, right in ((16.0, shaft_gap[0]), (shaft_gap[1], TIP_X + 4)):
        sheet.box(left, top, right - left, foot - top, fill=ink.BAND, colour=ink.FAINT)
    sheet.words(20, min(foot - 4, top + 14), "face", size=SMALL_PX)


def _needle_edges(section: HeightSection) -> tuple[float, ...]:
    """Heights of hub, bore, shaft and bar, foot before top."""
    gap, bar = section.gap_mm, section.gap_mm + section.blade_mm
    return (
        gap,
        gap + section.hub_mm,
        gap + section.bore_mm,
        -section.face_mm,
        section.shaft_mm,
        bar,
        bar + section.thickness_mm,
        bar - section.droop_mm,
        bar + section.thickness_mm - section.droop_mm,
    )


def _draw_needle(sheet: SumSheet, section: HeightSection, at: Sequence[float]) -> None:
    foot, top, bore, shaft_foot, shaft_top, bar_foot, bar_top, tip_foot, tip_top = at
    bar = ((HUB_X[1], bar_foot), (TIP_X, tip_foot), (TIP_X, tip_top), (HUB_X[1], bar_top))
    sheet.area(bar, fill=ink.ACCENT)
    sheet.box(HUB_X[0], top, HUB_X[1] - HUB_X[0], foot - top, fill=ink.PAPER)
    sheet.box(BORE_X[0], bore, BORE_X[1] - BORE_X[0], foot - bore, fill=ink.BAND)
    width = BORE_X[1] - BORE_X[0] - 4
    sheet.box(BORE_X[0] + 2, shaft_top, width, shaft_foot - shaft_top, fill=ink.FAINT)
    sheet.words(HUB_X[0] - 6, (top + foot) / 2, "hub", anchor="end", size=SMALL_PX)


def _draw_edges(sheet: SumSheet, edges: Sequence[Edge], scale: float, face_y: float) -> None:
    """A bar for each edge's tolerance, a line to its label, labels kept apart."""
    rising = sorted(edges, key=lambda edge: edge.mm)
    places = _kept_apart([face_y - edge.mm * scale for edge in rising])
    for i, (edge, label_y) in enumerate(zip(rising, places, strict=True)):
        edge_y, away = face_y - edge.mm * scale, edge.away_mm * scale
        bar_x = BARS_X + BAR_STEP_PX * (i % 4)
        sheet.line(((TIP_X - 70, edge_y), (bar_x, edge_y)), colour=ink.FAINT, width=0.7)
        sheet.line(((bar_x, edge_y - away), (bar_x, edge_y + away)), width=3)
        sheet.line(((bar_x, edge_y), (LABEL_X - 4, label_y - 4)), colour=ink.FAINT, width=0.7)
        said = f"{edge.words} {edge.mm:.2f}"
        sheet.words(LABEL_X, label_y, said, size=SMALL_PX, halo=True)


def _kept_apart(wanted: Sequence[float]) -> list[float]:
    """Places of labels from the foot up, at least a line apart."""
    placed: list[float] = []
    for place in wanted:
        highest = placed[-1] - LABEL_PX if placed else HEIGHT
        placed.append(min(place + 4, highest))
    below = TOP_PX - placed[-1] if placed else 0.0
    return [place + below for place in placed] if below > 0 else placed
