"""How far each check point has gone from where it was first read, over the hours, drawn.

A point is a reading, the line joins those of one check point, and each check point has its own
shape. Events are dashed rules with their numbers. Nothing is told by colour alone.
"""

from collections.abc import Iterable, Sequence
from typing import Any, Final

import altair as alt
import vl_convert

from needlewright.papers import ink
from needlewright.papers.drift_lines import DriftChart
from needlewright.papers.time_chart_style import time_chart_style

WIDTH_PX: Final = 560
HEIGHT_PX: Final = 150
LABELS_PX: Final = 42
TYPE_WIDER_PX: Final = 48
"""Room on the right: a device's type may be wider than the one the names of the check points were
measured in."""
LEAST_DEG: Final = 0.2
"""So much is drawn up and down at least: what is steady looks steady."""
SHAPES: Final = ("circle", "square", "triangle-up", "diamond", "cross", "triangle-down", "stroke")
INKS: Final = (ink.INK, ink.ACCENT, ink.FAINT)


def drift_charts_svg(
    charts: Sequence[DriftChart],
    hours: float,
    *,
    head: str = "",
    type_stack: str = ink.SERIF_STACK,
    ground: bool = True,
) -> str:
    """Draw the charts of several dials under each other, with nothing fetched.

    Parameters
    ----------
    charts
        In the order of the drawing, at least one.
    hours
        Where the axis of hours ends.
    head
        Said above everything, as of a rehearsed run; empty: nothing.
    type_stack
        Families of type, the first that is there is taken.
    ground
        Whether it has the ground of a screen; on a sheet that stays the sheet's own.

    Returns
    -------
    str
        An SVG document.
    """
    padding = {"left": 5, "top": 5, "right": TYPE_WIDER_PX, "bottom": 5}
    drawn = [_chart(one, hours, is_last=one is charts[-1]) for one in charts]
    style = time_chart_style(type_stack, LABELS_PX)
    if not ground:
        style.background = "transparent"
    drawing = alt.vconcat(*drawn, spacing=20, config=style, padding=padding)
    if head:
        drawing = drawing.properties(title=alt.TitleParams(head, color=ink.NOT_GOOD, offset=16))
    drawing = drawing.resolve_scale(color="independent", shape="independent")
    svg: str = vl_convert.vegalite_to_svg(drawing.to_dict(validate=False), allowed_base_urls=[])
    return svg


def _chart(chart: DriftChart, hours: float, *, is_last: bool) -> alt.LayerChart | alt.FacetChart:
    furthest = max((abs(deg) for line in chart.lines for _, deg in line.looks), default=0.0)
    high = 1.15 * max(furthest, LEAST_DEG / 1.15)
    x = alt.X(
        "hours:Q",
        title="hours with the power on" if is_last else None,
        scale=alt.Scale(domain=(0.0, hours), nice=False),
    )
    y = alt.Y("deg:Q", title="° from the first look", scale=alt.Scale(domain=(-high, high)))
    labels = [line.label for line in chart.lines]
    rows = [
        {"hours": round(at, 5), "deg": round(deg, 4), "point": line.label}
        for line in chart.lines
        for at, deg in line.looks
    ]
    legend = alt.Legend(title=None, orient="right", symbolSize=60)
    colour = alt.Color(
        "point:N",
        scale=alt.Scale(domain=labels, range=[INKS[n % len(INKS)] for n in range(len(labels))]),
        legend=legend,
        sort=None,
    )
    shape = alt.Shape(
        "point:N",
        scale=alt.Scale(domain=labels, range=[SHAPES[n % len(SHAPES)] for n in range(len(labels))]),
        legend=legend,
        sort=None,
    )
    marks = [{"hours": round(at, 5), "number": number} for at, number in chart.marks]
    layers: list[alt.Chart] = [
        _table([{"deg": 0.0}]).mark_rule(color=ink.HAIRLINE).encode(alt.Y("deg:Q")),
        *_events(marks, x),
        _table(rows).mark_line(strokeWidth=1.3).encode(x, y, color=colour),
        _table(rows)
        .mark_point(filled=True, size=42, opacity=1)
        .encode(x, y, color=colour, shape=shape),
    ]
    title = alt.TitleParams(text=chart.title, subtitle=[chart.words], anchor="start", offset=10)
    return alt.layer(*layers).properties(width=WIDTH_PX, height=HEIGHT_PX, title=title)


def _events(marks: list[dict[str, Any]], x: alt.X) -> list[alt.Chart]:
    if not marks:
        return []
    table = _table([{**one, "row": 8} for one in marks])
    return [
        table.mark_rule(color=ink.NOT_GOOD, strokeDash=[4, 3]).encode(x),
        table.mark_text(color=ink.NOT_GOOD, align="left", dx=3, fontSize=10).encode(
            x, text="number:N", y=alt.Y("row:Q", scale=None, axis=None)
        ),
    ]


def _table(rows: Iterable[dict[str, Any]]) -> alt.Chart:
    return alt.Chart(alt.InlineData(values=list(rows)))
