"""What the port said over time, and what the needle showed when a photo was taken, drawn.

The line is what a sound unit shows of what the port said; the shaded stretch is when the photo may
have been taken; the bracket is what a sound unit may show; the point with its bar is the needle. A
needle that cannot be compared is a cross. Nothing is told by colour alone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import altair as alt
import vl_convert

from needlewright.papers import ink
from needlewright.papers.time_chart_style import time_chart_style
from needlewright.papers.wording import sentence_for_people

WIDTH_PX: Final = 620
HEIGHT_PX: Final = 190
LABELS_PX: Final = 38
LINE_SIGNS: Final = 112
"""Longest line of a subtitle."""
MOST_POINTS: Final = 2000
ROOM: Final = 0.1
LABELS_ROOM: Final = 2.2
"""Above, so many times as much: the photos' names stand there."""


@dataclass(frozen=True, slots=True)
class PhotoMark:
    """One photo on a dial's chart; values in the dial's unit."""

    photo: str
    at_s: float
    """From the log's beginning."""
    window_s: tuple[float, float]
    """From when to when it may have been taken."""
    shown: float
    expanded: float
    sound: tuple[float, float] | None
    """Between which values a sound unit shows; None: not known."""
    compared: bool


@dataclass(frozen=True, slots=True)
class InVehicleChart:
    """The chart of one dial."""

    title: str
    words: str
    """The verdict's sentence."""
    unit: str
    curve: tuple[tuple[float, float, float], ...]
    """`(seconds, told, what a sound unit shows then)` of every answer near the photos."""
    photos: tuple[PhotoMark, ...]
    coverage_k: float


def in_vehicle_charts_svg(
    charts: Sequence[InVehicleChart], type_stack: str = ink.SERIF_STACK
) -> str:
    """Draw the charts of several dials under each other, with nothing fetched.

    Parameters
    ----------
    charts
        In the order of the drawing, at least one.
    type_stack
        Families of type, the first that is there is taken.

    Returns
    -------
    str
        An SVG document.
    """
    drawn = [_chart(one, explained=one is charts[0]) for one in charts]
    drawing = alt.vconcat(*drawn, spacing=26, config=time_chart_style(type_stack, LABELS_PX))
    svg: str = vl_convert.vegalite_to_svg(drawing.to_dict(validate=False), allowed_base_urls=[])
    return svg


def _chart(chart: InVehicleChart, *, explained: bool) -> alt.LayerChart | alt.FacetChart:
    x = alt.X(
        "t:Q", title="seconds from the log's beginning", scale=alt.Scale(nice=False, zero=False)
    )
    domain = alt.Scale(domain=_domain(chart), nice=False, zero=False)
    y = alt.Y("value:Q", title=chart.unit, scale=domain)
    marks = [_row(one, number) for number, one in enumerate(chart.photos)]
    layers = [
        _table(marks).mark_rect(color=ink.BAND, opacity=0.9).encode(alt.X("from:Q"), x2="to:Q"),
        _table(_lines(chart))
        .mark_line(color=ink.ACCENT, strokeWidth=1.6, interpolate="linear")
        .encode(x, y),
        *_brackets(marks),
        _table(marks)
        .mark_rule(color=ink.INK, strokeWidth=1.4)
        .encode(x, alt.Y("low:Q"), y2="high:Q"),
        _table(row for row in marks if row["compared"])
        .mark_point(size=60, filled=True, color=ink.INK, opacity=1)
        .encode(x, y),
        _table(row for row in marks if not row["compared"])
        .mark_point(shape="cross", size=90, color=ink.NOT_GOOD, opacity=1)
        .encode(x, y),
        _table(marks)
        .mark_text(color=ink.FAINT, fontSize=9.5, align="center", baseline="middle")
        .encode(alt.X("t:Q"), text="photo:N", y=alt.Y("row:Q", scale=None, axis=None)),
    ]
    title = alt.TitleParams(
        text=chart.title,
        subtitle=[
            *_broken(sentence_for_people(chart.words)),
            *(_legend(chart.coverage_k) if explained else ()),
        ],
        anchor="start",
        frame="group",
        offset=10,
    )
    return alt.layer(*layers).properties(width=WIDTH_PX, height=HEIGHT_PX, title=title)


def _table(rows: Iterable[dict[str, Any]]) -> alt.Chart:
    return alt.Chart(alt.InlineData(values=list(rows)))


def _legend(coverage_k: float) -> tuple[str, ...]:
    return (
        "line: what a sound unit shows of what the port said; shaded: when the photo is from;",
        f"brackets: what a sound unit may show; bar: the needle, k = {coverage_k:g}",
    )


def _domain(chart: InVehicleChart) -> tuple[float, float]:
    """All that is drawn, with some room."""
    ends = [shown for _, _, shown in chart.curve]
    for one in chart.photos:
        ends += [one.shown - one.expanded, one.shown + one.expanded, *(one.sound or ())]
    low, high = min(ends, default=0.0), max(ends, default=1.0)
    room = ROOM * (high - low) or 1.0
    return low - room, high + LABELS_ROOM * room


def _row(one: PhotoMark, number: int) -> dict[str, Any]:
    sound = one.sound or (None, None)
    return {
        "photo": one.photo,
        "row": 9 + 12 * (number % 3),
        "t": round(one.at_s, 4),
        "from": round(one.window_s[0], 4),
        "to": round(one.window_s[1], 4),
        "value": one.shown,
        "low": one.shown - one.expanded,
        "high": one.shown + one.expanded,
        "lowest": sound[0],
        "highest": sound[1],
        "compared": one.compared,
    }


def _brackets(marks: Sequence[dict[str, Any]]) -> list[alt.Chart]:
    """Two short bars for what a sound unit may show."""
    known = [row for row in marks if row["lowest"] is not None]
    return [
        _table(known)
        .mark_tick(orient="horizontal", size=22, thickness=1.6, color=ink.ACCENT)
        .encode(alt.X("t:Q"), alt.Y(f"{end}:Q"))
        for end in ("lowest", "highest")
    ]


def _lines(chart: InVehicleChart) -> list[dict[str, Any]]:
    """The curve, thinned where a screen shows no more."""
    every = max(1, len(chart.curve) // MOST_POINTS)
    return [{"t": round(t, 4), "value": shown} for t, _, shown in chart.curve[::every]]


def _broken(words: str) -> list[str]:
    """A sentence in lines that fit over the plot."""
    lines = [""]
    for word in words.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > LINE_SIGNS:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines
