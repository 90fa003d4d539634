"""What a burn-in leaves for the warranty, over its hours, drawn: each kind of part, and all.

A line has its own dash, and its name stands at its end. Nothing is told by colour alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import altair as alt
import vl_convert

from needlewright.papers import ink
from needlewright.papers.time_chart_style import time_chart_style

WIDTH_PX: Final = 520
HEIGHT_PX: Final = 230
LABELS_PX: Final = 34
PADDING_PX: Final = {"left": 5, "top": 5, "bottom": 5, "right": 24}
DASHES: Final = ([1, 0], [7, 4], [2, 3])
INKS: Final = (ink.ACCENT, ink.INK, ink.FAINT)


@dataclass(frozen=True, slots=True)
class EarlyLine:
    """One kind of part, or all of them."""

    name: str
    points: tuple[tuple[float, float], ...]
    """`(hours of burn-in, probability of a failure within the warranty after them)`."""


def early_chart_svg(
    lines: Sequence[EarlyLine],
    hours: float,
    *,
    best: float | None = None,
    type_stack: str = ink.SANS_STACK,
) -> str:
    """Draw it, with nothing fetched.

    Parameters
    ----------
    lines
        The most important first; at most three.
    hours
        Of the burn-in that is planned: a rule.
    best
        Hours that cost least: another rule; None: not known, or outside the drawing.
    type_stack
        Families of type.

    Returns
    -------
    str
        An SVG document.
    """
    rows = [{"hours": x, "share": y, "part": line.name} for line in lines for x, y in line.points]
    names = [line.name for line in lines]
    ends = [
        {"hours": line.points[-1][0], "share": line.points[-1][1], "part": line.name}
        for line in lines
    ]
    last = max(line.points[-1][0] for line in lines)
    x = alt.X(
        "hours:Q",
        title="hours of burn-in",
        scale=alt.Scale(domain=(0.0, last), nice=False),
    )
    y = alt.Y(
        "share:Q",
        title="fails within the warranty",
        axis=alt.Axis(format="%"),
        scale=alt.Scale(domainMin=0.0),
    )
    part = alt.Color(
        "part:N", scale=alt.Scale(domain=names, range=list(INKS[: len(names)])), legend=None
    )
    dash = alt.StrokeDash(
        "part:N", scale=alt.Scale(domain=names, range=list(DASHES[: len(names)])), legend=None
    )
    marks: list[dict[str, Any]] = [{"hours": hours, "says": f"planned, {hours:g} h", "row": 10}]
    if best is not None and best <= last:
        marks.append({"hours": best, "says": f"costs least, {best:.3g} h", "row": HEIGHT_PX - 8})
    chart = alt.layer(
        _table(marks).mark_rule(color=ink.NOT_GOOD, strokeDash=[4, 3]).encode(x),
        _table(marks)
        .mark_text(color=ink.NOT_GOOD, align="left", dx=4, fontSize=11)
        .encode(x, text="says:N", y=alt.Y("row:Q", scale=None, axis=None)),
        _table(rows).mark_line(strokeWidth=2).encode(x, y, color=part, strokeDash=dash),
        _table(ends)
        .mark_text(align="left", dx=6, fontSize=11)
        .encode(x, y, text="part:N", color=part),
    ).properties(width=WIDTH_PX, height=HEIGHT_PX)
    drawing = alt.layer(chart, config=time_chart_style(type_stack, LABELS_PX), padding=PADDING_PX)
    svg: str = vl_convert.vegalite_to_svg(drawing.to_dict(validate=False), allowed_base_urls=[])
    return svg


def _table(rows: list[dict[str, Any]]) -> alt.Chart:
    return alt.Chart(alt.InlineData(values=rows))
