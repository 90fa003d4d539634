"""What a dial's error looks like, drawn: readings, the most probable explanation, the next one.

A triangle points up where the command rose and down where it fell; a bar is the expanded
uncertainty; what explains best is a full line for each approach, the next a dashed one; a row left
aside is crossed. Nothing is told by colour alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import altair as alt
import vl_convert

from needlewright.papers import ink
from needlewright.papers.house_style import scale_chart_style
from needlewright.papers.strip_data import StripData, unroll
from needlewright.papers.strip_layers import (
    CROSS,
    HEIGHT_PX,
    PAD_PX,
    WIDTH_PX,
    Frame,
    Tables,
    scale_layers,
    x_axis,
)

_ROOM: Final = 0.14
_LEAST_REACH_DEG: Final = 0.5
_OUTLYING: Final = 2.0
"""A row left aside may stretch the drawing by this much of what the others need."""


@dataclass(frozen=True, slots=True)
class SignaturePoint:
    """One row: where on the scale, how far off, and what two explanations make of it."""

    true_value: float
    error_deg: float
    """Positive where it reads high."""
    expanded_deg: float
    approach: Literal["up", "down"]
    best_deg: float
    next_deg: float
    on_stop: bool = False
    aside: bool = False
    """Left aside by the best explanation."""


@dataclass(frozen=True, slots=True)
class SignatureChart:
    """The chart of one dial."""

    title: str
    best: str
    """The most probable explanation, with its probability."""
    next: str
    unit: str
    """For people: `km/h`."""
    marks: tuple[tuple[float, float], ...]
    """`(value, angle_deg)` of each mark of the scale, values rising."""
    points: tuple[SignaturePoint, ...]
    coverage_k: float


def signature_charts_svg(
    charts: Sequence[SignatureChart], type_stack: str = ink.SERIF_STACK
) -> str:
    """Draw the charts of several dials under each other, with nothing fetched.

    Parameters
    ----------
    charts
        In the order of the drawing.
    type_stack
        Families of type, the first that is there is taken.

    Returns
    -------
    str
        An SVG document.
    """
    tables = Tables()
    drawing = alt.vconcat(
        *(_chart(chart, tables) for chart in charts),
        spacing=24,
        config=scale_chart_style(type_stack),
    )
    specification = {**drawing.to_dict(validate=False), "datasets": tables.rows}
    svg: str = vl_convert.vegalite_to_svg(specification, allowed_base_urls=[])
    return svg


def _chart(chart: SignatureChart, tables: Tables) -> alt.LayerChart | alt.FacetChart:
    frame = _frame(chart)
    x = x_axis(WIDTH_PX)
    y = alt.Y(
        "error:Q",
        scale=alt.Scale(domain=[frame.low, frame.high], nice=False, zero=False),
        axis=alt.Axis(title="reads high by, °", tickCount=5, format="~r", grid=False),
    )
    points = [_row(point, frame) for point in chart.points]
    layers = [
        tables.chart({"px": px, "error": 0.0} for px in (0, WIDTH_PX))
        .mark_line(color=ink.INK, strokeWidth=0.6)
        .encode(x, y),
        *scale_layers(frame, tables),
        tables.chart(_lines(chart, frame, "next_deg"))
        .mark_line(color=ink.FAINT, strokeWidth=1.2, strokeDash=[5, 4], clip=True)
        .encode(x, y, detail="approach:N", order="order:Q"),
        tables.chart(_lines(chart, frame, "best_deg"))
        .mark_line(color=ink.ACCENT, strokeWidth=1.8, clip=True)
        .encode(x, y, detail="approach:N", order="order:Q"),
        tables.chart(points)
        .mark_rule(strokeWidth=1.0, color=ink.INK, clip=True)
        .encode(x, alt.Y("from:Q"), y2="to:Q"),
        tables.chart(points)
        .mark_point(size=46, strokeWidth=1.2, stroke=ink.INK, fill=ink.PAPER, opacity=1)
        .encode(x, y, shape=alt.Shape("shape:N", scale=None, legend=None)),
        tables.chart(row for row in points if row["aside"])
        .mark_point(shape=CROSS, size=150, color=ink.NOT_GOOD, strokeWidth=1.4, opacity=1)
        .encode(x, y),
        tables.chart({(row["px"], row["word"]): row for row in points if row["word"]}.values())
        .mark_text(fontSize=9.5, color=ink.FAINT, align="left", dx=7, dy=-7)
        .encode(x, y, text="word:N"),
    ]
    heading = alt.TitleParams(
        text=chart.title,
        subtitle=[
            f"full line: {chart.best}; dashed: {chart.next}",
            f"bars: uncertainty of the reading, k = {chart.coverage_k:g}",
        ],
        anchor="start",
        frame="group",
        dx=PAD_PX,
        offset=8,
    )
    return alt.layer(*layers).properties(width=WIDTH_PX, height=HEIGHT_PX, title=heading)


def _frame(chart: SignatureChart) -> Frame:
    data = StripData(chart.title, chart.unit, chart.marks, (), ())
    place = unroll(chart.marks)
    values = [v for v, _ in chart.marks] + [p.true_value for p in chart.points]
    first, last = place(min(values)), place(max(values))
    kept = [p for p in chart.points if not p.aside] or list(chart.points)
    ends = [p.error_deg + s * p.expanded_deg for p in kept for s in (-1.0, 1.0)]
    low, high = min([-_LEAST_REACH_DEG, *ends]), max([_LEAST_REACH_DEG, *ends])
    widest = _OUTLYING * (high - low)
    errors = [p.error_deg for p in chart.points]
    low, high = max(min([low, *errors]), high - widest), min(max([high, *errors]), low + widest)
    room = _ROOM * (high - low)
    px_per_deg = (WIDTH_PX - 2 * PAD_PX) / (last - first)
    return Frame(data, first, px_per_deg, low - room, high + room, WIDTH_PX)


def _row(point: SignaturePoint, frame: Frame) -> dict[str, Any]:
    held = frame.inside(point.error_deg)
    word = "on its stop" if point.on_stop else ""
    if held != point.error_deg:
        word = f"{point.error_deg:+.3g}".replace("-", "−")
    return {
        "px": frame.px(point.true_value),
        "error": held,
        "from": frame.inside(point.error_deg - point.expanded_deg),
        "to": frame.inside(point.error_deg + point.expanded_deg),
        "shape": f"triangle-{point.approach}",
        "aside": point.aside,
        "word": word,
    }


def _lines(chart: SignatureChart, frame: Frame, model: str) -> list[dict[str, Any]]:
    """A model's line for each approach, in the order of the rows."""
    return [
        {
            "px": frame.px(point.true_value),
            "error": frame.inside(getattr(point, model)),
            "approach": point.approach,
            "order": order,
        }
        for order, point in enumerate(chart.points)
    ]
