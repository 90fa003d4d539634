"""The layers of a dial strip, each a small chart over one frame of pixel places."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import ceil
from textwrap import wrap
from typing import Any, Final

import altair as alt

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
HEIGHT_PX: Final = 102
PAD_PX: Final = 20
_NUMERAL_PX: Final = 26
"""Least distance of two numerals under the scale."""
SHIFT_PX: Final = {"found up": -7.5, "found down": -2.5, "left up": 2.5, "left down": 7.5}
"""The four series of one check point stand side by side, so that no sign hides another."""
_POINT_PX: Final = 11.0
"""Half the width of a tolerance that holds at a single point of the scale."""
_GAP_TEXT_PX: Final = 9.5
_GAP_LETTER_PX: Final = 5.0
"""Mean advance of a letter of that size."""
_GAP_LINE_PX: Final = 11.0
CROSS: Final = "M-1,-1L1,1M-1,1L1,-1"

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Tables:
    """The rows of all layers, kept once beside the drawing instead of copied into each layer."""

    rows: dict[str, list[Row]] = field(default_factory=dict)

    def chart(self, rows: Iterable[Row]) -> alt.Chart:
        """A chart over rows, which are stored under a name of their own."""
        name = f"t{len(self.rows)}"
        self.rows[name] = list(rows)
        return alt.Chart(alt.NamedData(name=name))


@dataclass(frozen=True, slots=True)
class Frame:
    """Pixel places along the scale, the range of the error, and the two axes of every layer."""

    data: StripData
    first_deg: float
    px_per_deg: float
    low: float
    high: float
    width_px: int = WIDTH_PX

    @classmethod
    def around(cls, data: StripData, width_px: int = WIDTH_PX) -> "Frame":
        """The frame one strip needs, so many pixels wide."""
        place, (first, last), (low, high) = unroll(data.marks), reach(data), error_range(data)
        px_per_deg = (width_px - 2 * PAD_PX) / (place(last) - place(first))
        return cls(data, place(first), px_per_deg, low, high, width_px)

    def px(self, value: float) -> float:
        """Place of a value along the strip."""
        return PAD_PX + (unroll(self.data.marks)(value) - self.first_deg) * self.px_per_deg

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


def x_axis(width_px: int = WIDTH_PX) -> alt.X:
    """The place along the strip in pixels; the scale itself is drawn by `scale_layers`."""
    return alt.X("px:Q", scale=alt.Scale(domain=[0, width_px], nice=False), axis=None)


def ground_layers(frame: Frame, tables: Tables) -> list[alt.Chart]:
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
    zero = [{"px": px, "error": 0.0} for px in (0, frame.width_px)]
    sound = [{"px": frame.px(v), "error": e} for v, e in frame.data.programme]
    x, y = x_axis(frame.width_px), frame.y
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


def _limits(number: int, stretch: Sequence[StripLimit], frame: Frame) -> list[Row]:
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


def scale_layers(frame: Frame, tables: Tables) -> list[alt.Chart]:
    """The unrolled scale under the plot: line, marks, numerals where they do not touch."""
    marks = [{"px": frame.px(v), "word": f"{v:g}"} for v, _ in frame.data.marks]
    line = [{"px": marks[0]["px"], "to": marks[-1]["px"]}]
    unit = [{"px": frame.width_px - PAD_PX, "word": f"true value, {frame.data.unit}"}]
    x, floor = x_axis(frame.width_px), HEIGHT_PX + 4
    text: Row = {"baseline": "top", "fontSize": 11}
    return [
        tables.chart(line).mark_rule(strokeWidth=1.2, y=floor).encode(x, x2="to:Q"),
        tables.chart(marks).mark_rule(strokeWidth=1.2, y=floor, y2=floor + 7).encode(x),
        tables.chart(_apart(marks)).mark_text(**text, y=floor + 10).encode(x, text="word:N"),
        tables.chart(unit)
        .mark_text(**text, color=ink.FAINT, align="right", y=floor + 22)
        .encode(x, text="word:N"),
    ]


def _apart(marks: Sequence[Row]) -> list[Row]:
    """Leave out numerals that would touch, never the first or the last."""
    kept = [marks[0]]
    for mark in marks[1:-1]:
        if min(mark["px"] - kept[-1]["px"], marks[-1]["px"] - mark["px"]) >= _NUMERAL_PX:
            kept.append(mark)
    return [*kept, marks[-1]]


def reading_layers(frame: Frame, tables: Tables) -> list[alt.Chart]:
    """Points joined, barred, signed, and crossed where they do not conform."""
    rows = [_row(p, frame) for p in sorted(frame.data.points, key=lambda p: p.true_value)]
    barred = [r for r in rows if r["from"] is not None]
    bars = [{**r, "error": frame.inside(r["from"]), "to": frame.inside(r["to"])} for r in barred]
    ends = [{**r, "error": r[e]} for r in barred for e in ("from", "to")]
    stroke = alt.Color("stroke:N", scale=None, legend=None)
    x, y = x_axis(frame.width_px), frame.y
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
        .mark_point(shape=CROSS, size=150, color=ink.NOT_GOOD, strokeWidth=1.4, opacity=1)
        .encode(x, y),
        signed(tables.chart(rows).mark_point(size=50, strokeWidth=1.3, opacity=1), x, y),
        tables.chart(r for r in rows if r["beyond"])
        .mark_text(fontSize=10, align="left", dx=7)
        .encode(x, y, text="beyond:N", color=stroke),
        tables.chart(_gap_rows(frame))
        .mark_text(
            color=ink.FAINT,
            fontSize=_GAP_TEXT_PX,
            lineHeight=_GAP_LINE_PX,
            angle=270,
            align="center",
            baseline="middle",
        )
        .encode(x, y, text="words:N"),
    ]


def signed(chart: alt.Chart, *places: alt.X | alt.Y) -> alt.Chart:
    """Triangles by approach, hollow or filled by side; the rows hold the looks themselves."""
    signed: alt.Chart = chart.encode(
        *places,
        shape=alt.Shape("shape:N", scale=None, legend=None),
        stroke=alt.Stroke("stroke:N", scale=None, legend=None),
        fill=alt.Fill("fill:N", scale=None, legend=None),
    )
    return signed


def sign(side: str, approach: str) -> Row:
    """The looks of one series: its shape, its line, its filling."""
    colour = ink.INK if side == "found" else ink.ACCENT
    return {
        "side": side,
        "series": f"{side} {approach}",
        "shape": f"triangle-{approach}",
        "stroke": colour,
        "fill": ink.PAPER if side == "found" else colour,
    }


def _row(point: StripPoint, frame: Frame) -> Row:
    """A point on the frame; one beyond its range stands at the edge with its number."""
    looks, half = sign(point.side, point.approach), point.expanded
    held = frame.inside(point.error)
    return {
        **looks,
        "px": frame.px(point.true_value) + SHIFT_PX[looks["series"]],
        "error": held,
        "from": None if half is None else point.error - half,
        "to": None if half is None else point.error + half,
        "fails": point.conforms is False,
        "beyond": "" if held == point.error else f"{point.error:+.3g}".replace("-", "−"),
    }


def _gap_rows(frame: Frame) -> list[Row]:
    """Upright words per check point without an error, on that side of no error with more room."""
    edge = max(frame.low, frame.high, key=abs)
    room_px = abs(edge) / (frame.high - frame.low) * HEIGHT_PX
    rows = []
    for value in sorted({g.true_value for g in frame.data.gaps}):
        here = [g for g in frame.data.gaps if g.true_value == value]
        said = ", ".join(dict.fromkeys(f"as {g.side}: {g.word}" for g in here))
        lines = _lines(said, int((room_px - 6) / _GAP_LETTER_PX))
        px = frame.px(value)
        aside = 18.0 if px < frame.width_px / 2 else -18.0 - _GAP_LINE_PX * (len(lines) - 1)
        rows.append({"px": px + aside, "error": edge / 2, "words": lines})
    return rows


def _lines(said: str, letters: int) -> list[str]:
    """Words in as few lines as that many letters allow, the lines as even as they can be."""
    fewest = len(wrap(said, letters, break_long_words=False))
    even = range(ceil(len(said) / fewest), letters)
    narrowest = next(
        (n for n in even if len(wrap(said, n, break_long_words=False)) == fewest), letters
    )
    return wrap(said, narrowest, break_long_words=False)
