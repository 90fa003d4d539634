"""The dial strip: a scale unrolled to a straight line, the error over it, the tolerance a band.

As found is hollow, as left is filled; a triangle points up where the commanded value was rising
and down where it was falling; a bar is the expanded uncertainty; a cross marks what does not
conform. Nothing is told by colour alone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import altair as alt
import vl_convert

from needlewright.papers import ink
from needlewright.papers.strip_data import (
    StripData,
    StripLimit,
    StripPoint,
    error_range,
    reach,
    unroll,
)

WIDTH_PX: Final = 640
HEIGHT_PX: Final = 108
_LEGEND_PX: Final = 18
_PAD_PX: Final = 20
_AXIS_PX: Final = 38
"""Room for the numbers of the error, the same on every strip, so that strips stand flush."""
_NUMERAL_PX: Final = 26
"""Least distance of two numerals under the scale."""
_SHIFT_PX: Final = {"found up": -7.5, "found down": -2.5, "left up": 2.5, "left down": 7.5}
"""The four series of one check point stand side by side, so that no sign hides another."""
_POINT_PX: Final = 11.0
"""Half the width of a tolerance that holds at a single point of the scale."""
_CROSS: Final = "M-1,-1L1,1M-1,1L1,-1"

Row = dict[str, Any]


def strip_svg(
    data: StripData, *, legend: bool = True, title: bool = True, ground: bool = True
) -> str:
    """Draw one dial's strip as SVG, with nothing fetched.

    Parameters
    ----------
    data
        What to show.
    legend
        Whether the key of signs stands above the drawing.
    title
        Whether dial and rule are named above the plot.
    ground
        Whether the warm ground lies under the drawing; a document has its own.

    Returns
    -------
    str
        An SVG document.
    """
    return strips_svg((data,), legend=legend, title=title, ground=ground)


def strips_svg(
    strips: Sequence[StripData], *, legend: bool = True, title: bool = True, ground: bool = True
) -> str:
    """Draw several dials under each other as one SVG; the key of signs stands once, on top.

    Parameters
    ----------
    strips
        One per dial, in the order of the drawing; none draws the key of signs alone.
    legend, title, ground
        As for `strip_svg`.

    Returns
    -------
    str
        An SVG document.
    """
    specification = strips_specification(strips, legend=legend, title=title, ground=ground)
    svg: str = vl_convert.vegalite_to_svg(specification, allowed_base_urls=[])
    return svg


def strips_specification(
    strips: Sequence[StripData], *, legend: bool = True, title: bool = True, ground: bool = True
) -> dict[str, Any]:
    """Define the drawing of several dials, for a file or for a page.

    Parameters
    ----------
    strips, legend, title, ground
        As for `strips_svg`.

    Returns
    -------
    dict
        A Vega-Lite document that carries its own rows.
    """
    tables = _Tables()
    charts = [_legend(strips[0].coverage_k if strips else 2.0, tables)] if legend else []
    charts += [_strip_chart(data, title, tables) for data in strips]
    drawing = alt.vconcat(*charts, spacing=14, config=_house(ground))
    # The form is fixed and a test holds it against the schema, which takes a second a drawing.
    return {**drawing.to_dict(validate=False), "datasets": tables.rows}


@dataclass(frozen=True, slots=True)
class _Tables:
    """The rows of all layers, kept once beside the drawing instead of copied into each layer."""

    rows: dict[str, list[Row]] = field(default_factory=dict)

    def chart(self, rows: Iterable[Row]) -> alt.Chart:
        """A chart over rows, which are stored under a name of their own."""
        name = f"t{len(self.rows)}"
        self.rows[name] = list(rows)
        return alt.Chart(alt.NamedData(name=name))


@dataclass(frozen=True, slots=True)
class _Frame:
    """Pixel places along the scale, the range of the error, and the two axes of every layer."""

    data: StripData
    first_deg: float
    px_per_deg: float
    low: float
    high: float

    @classmethod
    def around(cls, data: StripData) -> "_Frame":
        """The frame one strip needs."""
        place, (first, last), (low, high) = unroll(data.marks), reach(data), error_range(data)
        px_per_deg = (WIDTH_PX - 2 * _PAD_PX) / (place(last) - place(first))
        return cls(data, place(first), px_per_deg, low, high)

    def px(self, value: float) -> float:
        """Place of a value along the strip."""
        return _PAD_PX + (unroll(self.data.marks)(value) - self.first_deg) * self.px_per_deg

    def inside(self, error: float) -> float:
        """An error, held inside the drawing."""
        return min(max(error, self.low), self.high)

    @property
    def y(self) -> alt.Y:
        """The error."""
        return alt.Y(
            "error:Q",
            scale=alt.Scale(domain=[self.low, self.high], nice=False, zero=False),
            axis=alt.Axis(title=f"error, {self.data.unit}", tickCount=5, format="~r", grid=False),
        )


def _strip_chart(data: StripData, title: bool, tables: _Tables) -> alt.LayerChart | alt.FacetChart:
    frame = _Frame.around(data)
    layers = [*_ground(frame, tables), *_scale(frame, tables), *_readings(frame, tables)]
    chart = alt.layer(*layers).properties(width=WIDTH_PX, height=HEIGHT_PX)
    if not title:
        return chart
    heading = alt.TitleParams(
        text=data.title,
        subtitle=data.rule or "no rule: nothing is judged",
        anchor="start",
        frame="group",
        dx=_PAD_PX,
        offset=8,
    )
    return chart.properties(title=heading)


def _x() -> alt.X:
    return alt.X("px:Q", scale=alt.Scale(domain=[0, WIDTH_PX], nice=False), axis=None)


def _ground(frame: _Frame, tables: _Tables) -> list[alt.Chart]:
    """The tolerance with an edge on each limited side, no error, and a sound unit's programme."""
    limits = [
        row for i, stretch in enumerate(frame.data.limits) for row in _limits(i, stretch, frame)
    ]
    area = [
        {
            **row,
            "error": frame.low if row["lower"] is None else frame.inside(row["lower"]),
            "to": frame.high if row["upper"] is None else frame.inside(row["upper"]),
        }
        for row in limits
    ]
    edges = [
        {"px": row["px"], "error": row[side], "line": f"{side} {row['stretch']}"}
        for side in ("lower", "upper")
        for row in limits
        if row[side] is not None
    ]
    zero = [{"px": px, "error": 0.0} for px in (0, WIDTH_PX)]
    sound = [{"px": frame.px(v), "error": e} for v, e in frame.data.programme]
    x, y = _x(), frame.y
    return [
        tables.chart(area)
        .mark_area(color=ink.BAND, clip=True)
        .encode(x, y, y2="to:Q", detail="stretch:N"),
        tables.chart(edges)
        .mark_line(color=ink.FAINT, strokeWidth=0.8, clip=True)
        .encode(x, y, detail="line:N"),
        tables.chart(zero).mark_line(color=ink.INK, strokeWidth=0.6).encode(x, y),
        tables.chart(sound)
        .mark_line(color=ink.INK, strokeWidth=0.9, strokeDash=[6, 3], clip=True)
        .encode(x, y),
    ]


def _limits(number: int, stretch: Sequence[StripLimit], frame: _Frame) -> list[Row]:
    """A stretch of the tolerance; one that is a single point is drawn a little wide."""
    spread = (-_POINT_PX, _POINT_PX) if len(stretch) == 1 else (0.0,)
    return [
        {
            "px": frame.px(p.true_value) + aside,
            "lower": p.lower,
            "upper": p.upper,
            "stretch": number,
        }
        for p in stretch
        for aside in spread
    ]


def _scale(frame: _Frame, tables: _Tables) -> list[alt.Chart]:
    """The unrolled scale under the plot: line, marks, numerals where they do not touch."""
    marks = [{"px": frame.px(v), "word": f"{v:g}"} for v, _ in frame.data.marks]
    line = [{"px": marks[0]["px"], "to": marks[-1]["px"]}]
    unit = [{"px": WIDTH_PX - _PAD_PX, "word": f"true value, {frame.data.unit}"}]
    x, floor = _x(), HEIGHT_PX + 4
    text: Row = {"baseline": "top", "fontSize": 11}
    return [
        tables.chart(line).mark_rule(strokeWidth=1.2, y=floor).encode(x, x2="to:Q"),
        tables.chart(marks).mark_rule(strokeWidth=1.2, y=floor, y2=floor + 7).encode(x),
        tables.chart(_apart(marks)).mark_text(**text, y=floor + 10).encode(x, text="word:N"),
        tables.chart(unit)
        .mark_text(**text, color=ink.FAINT, align="right", y=floor + 24)
        .encode(x, text="word:N"),
    ]


def _apart(marks: Sequence[Row]) -> list[Row]:
    """Leave out numerals that would touch, never the first or the last."""
    kept = [marks[0]]
    for mark in marks[1:-1]:
        if min(mark["px"] - kept[-1]["px"], marks[-1]["px"] - mark["px"]) >= _NUMERAL_PX:
            kept.append(mark)
    return [*kept, marks[-1]]


def _readings(frame: _Frame, tables: _Tables) -> list[alt.Chart]:
    """Points joined, barred, signed, and crossed where they do not conform."""
    rows = [_row(p, frame) for p in sorted(frame.data.points, key=lambda p: p.true_value)]
    barred = [r for r in rows if r["from"] is not None]
    bars = [{**r, "error": frame.inside(r["from"]), "to": frame.inside(r["to"])} for r in barred]
    ends = [{**r, "error": r[e]} for r in barred for e in ("from", "to")]
    stroke = alt.Color("stroke:N", scale=None, legend=None)
    x, y = _x(), frame.y
    lines = (([r for r in rows if r["side"] == side]) for side in ("found", "left"))
    return [
        *(
            tables.chart(some)
            .mark_line(strokeWidth=0.8, strokeDash=dash)
            .encode(x, y, color=stroke, detail="series:N")
            for some, dash in zip(lines, ([2, 2], [1, 0]), strict=True)
        ),
        tables.chart(r for r in bars if r["error"] < r["to"])
        .mark_rule(strokeWidth=1.1)
        .encode(x, y, y2="to:Q", color=stroke),
        tables.chart(r for r in ends if r["error"] == frame.inside(r["error"]))
        .mark_tick(thickness=1.1, size=6, orient="horizontal")
        .encode(x, y, color=stroke),
        tables.chart(r for r in rows if r["fails"])
        .mark_point(shape=_CROSS, size=150, color=ink.NOT_GOOD, strokeWidth=1.4, opacity=1)
        .encode(x, y),
        _signed(tables.chart(rows).mark_point(size=50, strokeWidth=1.3, opacity=1), y),
        tables.chart(r for r in rows if r["beyond"])
        .mark_text(fontSize=10, align="left", dx=7)
        .encode(x, y, text="beyond:N", color=stroke),
        tables.chart(_gap_rows(frame))
        .mark_text(color=ink.FAINT, fontSize=9.5, angle=270, align="right", y=3)
        .encode(x, text="word:N"),
    ]


def _signed(chart: alt.Chart, *y: alt.Y) -> alt.Chart:
    """Triangles by approach, hollow or filled by side; the rows hold the looks themselves."""
    signed: alt.Chart = chart.encode(
        _x(),
        *y,
        shape=alt.Shape("shape:N", scale=None, legend=None),
        stroke=alt.Stroke("stroke:N", scale=None, legend=None),
        fill=alt.Fill("fill:N", scale=None, legend=None),
    )
    return signed


def _sign(side: str, approach: str) -> Row:
    colour = ink.INK if side == "found" else ink.ACCENT
    return {
        "side": side,
        "series": f"{side} {approach}",
        "shape": f"triangle-{approach}",
        "stroke": colour,
        "fill": ink.PAPER if side == "found" else colour,
    }


def _row(point: StripPoint, frame: _Frame) -> Row:
    """A point on the frame; one beyond its range stands at the edge with its number."""
    sign, half = _sign(point.side, point.approach), point.expanded
    held = frame.inside(point.error)
    return {
        **sign,
        "px": frame.px(point.true_value) + _SHIFT_PX[sign["series"]],
        "error": held,
        "from": None if half is None else point.error - half,
        "to": None if half is None else point.error + half,
        "fails": point.conforms is False,
        "beyond": "" if held == point.error else f"{point.error:+.3g}".replace("-", "−"),
    }


def _gap_rows(frame: _Frame) -> list[Row]:
    """One upright line of words per check point without an error."""
    rows = []
    for value in sorted({g.true_value for g in frame.data.gaps}):
        here = [g for g in frame.data.gaps if g.true_value == value]
        words = ", ".join(dict.fromkeys(f"as {g.side}: {g.word}" for g in here))
        px = frame.px(value)
        rows.append({"px": px + (18 if px < WIDTH_PX / 2 else -18), "word": words})
    return rows


def _legend(coverage_k: float, tables: _Tables) -> alt.LayerChart | alt.FacetChart:
    """The key of signs, one line."""
    places = zip((6, 18, 154, 166), _SHIFT_PX, strict=True)
    signs = [{"px": px, **_sign(*series.split())} for px, series in places]
    words = [
        (27, "as found, up and down"),
        (175, "as left"),
        (229, f"uncertainty, k = {coverage_k:g}"),
        (347, "allowed"),
        (423, "a sound unit"),
        (513, "does not conform"),
    ]
    x, mid = _x(), _LEGEND_PX / 2
    top, foot = mid - 7, mid + 7
    chart = alt.layer(
        _signed(tables.chart(signs).mark_point(size=50, strokeWidth=1.3, opacity=1, y=mid)),
        tables.chart([{"px": 220}]).mark_rule(y=top, y2=foot, color=ink.ACCENT).encode(x),
        tables.chart({"px": 217, "to": 223, "at": at} for at in (top, foot))
        .mark_rule(color=ink.ACCENT)
        .encode(x, x2="to:Q", y=alt.Y("at:Q", scale=None, axis=None)),
        tables.chart([{"px": 330, "to": 341}])
        .mark_rect(y=top, y2=foot, color=ink.BAND, stroke=ink.FAINT, strokeWidth=0.6)
        .encode(x, x2="to:Q"),
        tables.chart([{"px": 397, "to": 417}])
        .mark_rule(y=mid, strokeDash=[6, 3], strokeWidth=0.9, color=ink.INK)
        .encode(x, x2="to:Q"),
        tables.chart([{"px": 503}])
        .mark_point(shape=_CROSS, size=110, color=ink.NOT_GOOD, strokeWidth=1.4, opacity=1, y=mid)
        .encode(x),
        tables.chart({"px": px, "word": word} for px, word in words)
        .mark_text(align="left", baseline="middle", fontSize=10.5, y=mid)
        .encode(x, text="word:N"),
    ).properties(width=WIDTH_PX, height=_LEGEND_PX)
    return chart


def _house(ground: bool) -> alt.Config:
    """The type and the ground of the house."""
    return alt.Config(
        font=ink.SERIF_STACK,
        background=ink.PAPER if ground else "transparent",
        padding=6,
        view=alt.ViewConfig(stroke=None),
        title=alt.TitleConfig(
            fontSize=13, color=ink.INK, subtitleFontSize=11, subtitleColor=ink.FAINT
        ),
        text=alt.MarkConfig(color=ink.INK),
        rule=alt.MarkConfig(color=ink.INK),
        axis=alt.AxisConfig(
            labelColor=ink.INK,
            titleColor=ink.FAINT,
            titleFontWeight="normal",
            labelFontSize=11,
            titleFontSize=10.5,
            tickColor=ink.FAINT,
            domainColor=ink.FAINT,
            minExtent=_AXIS_PX,
            maxExtent=_AXIS_PX,
        ),
    )
