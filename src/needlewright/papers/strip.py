"""The dial strip: a scale unrolled to a straight line, the error over it, the tolerance a band.

As found is hollow, as left is filled; a triangle points up where the commanded value was rising
and down where it was falling; a bar is the expanded uncertainty; a cross marks what does not
conform. Nothing is told by colour alone.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Final

import altair as alt
import vl_convert

from needlewright.papers import ink
from needlewright.papers.strip_data import StripData
from needlewright.papers.strip_layers import (
    CROSS,
    HEIGHT_PX,
    PAD_PX,
    SHIFT_PX,
    WIDTH_PX,
    Frame,
    Tables,
    ground_layers,
    reading_layers,
    scale_layers,
    sign,
    signed,
    x_axis,
)

_LEGEND_PX: Final = 18
_AXIS_PX: Final = 38
"""Room for the numbers of the error, the same on every strip, so that strips stand flush."""


def strip_svg(
    data: StripData,
    *,
    legend: bool = True,
    title: bool = True,
    ground: bool = True,
    width_px: int = WIDTH_PX,
    type_stack: str = ink.SERIF_STACK,
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
    width_px
        Of the plot, without the numbers of the error beside it; the key of signs needs all of
        `WIDTH_PX`.
    type_stack
        Families of type, the first that is there is taken.

    Returns
    -------
    str
        An SVG document.
    """
    return strips_svg(
        (data,),
        legend=legend,
        title=title,
        ground=ground,
        width_px=width_px,
        type_stack=type_stack,
    )


def strips_svg(
    strips: Sequence[StripData],
    *,
    legend: bool = True,
    title: bool = True,
    ground: bool = True,
    width_px: int = WIDTH_PX,
    type_stack: str = ink.SERIF_STACK,
) -> str:
    """Draw several dials under each other as one SVG; the key of signs stands once, on top.

    Parameters
    ----------
    strips
        One per dial, in the order of the drawing; none draws the key of signs alone.
    legend
        As for `strip_svg`.
    title
        As for `strip_svg`.
    ground
        As for `strip_svg`.
    width_px
        As for `strip_svg`.
    type_stack
        As for `strip_svg`.

    Returns
    -------
    str
        An SVG document.
    """
    return _drawn(
        tuple(strips),
        legend=legend,
        title=title,
        ground=ground,
        width_px=width_px,
        type_stack=type_stack,
    )


@lru_cache(maxsize=64)
def _drawn(
    strips: tuple[StripData, ...],
    *,
    legend: bool,
    title: bool,
    ground: bool,
    width_px: int,
    type_stack: str,
) -> str:
    """The same data gives the same drawing, which takes a third of a second."""
    specification = strips_specification(
        strips,
        legend=legend,
        title=title,
        ground=ground,
        width_px=width_px,
        type_stack=type_stack,
    )
    svg: str = vl_convert.vegalite_to_svg(specification, allowed_base_urls=[])
    return svg


def strips_specification(
    strips: Sequence[StripData],
    *,
    legend: bool = True,
    title: bool = True,
    ground: bool = True,
    width_px: int = WIDTH_PX,
    type_stack: str = ink.SERIF_STACK,
) -> dict[str, Any]:
    """Define the drawing of several dials, for a file or for a page.

    Parameters
    ----------
    strips
        One per dial, in the order of the drawing.
    legend
        As for `strips_svg`.
    title
        As for `strips_svg`.
    ground
        As for `strips_svg`.
    width_px
        As for `strips_svg`.
    type_stack
        As for `strips_svg`.

    Returns
    -------
    dict
        A Vega-Lite document that carries its own rows.
    """
    tables = Tables()
    charts = [_legend(strips[0].coverage_k if strips else 2.0, tables)] if legend else []
    charts += [_strip_chart(data, title, tables, width_px) for data in strips]
    drawing = alt.vconcat(*charts, spacing=14, config=_house(ground, type_stack))
    # The form is fixed and a test holds it against the schema, which takes a second a drawing.
    return {**drawing.to_dict(validate=False), "datasets": tables.rows}


def _strip_chart(
    data: StripData, title: bool, tables: Tables, width_px: int
) -> alt.LayerChart | alt.FacetChart:
    frame = Frame.around(data, width_px)
    layers = [
        *ground_layers(frame, tables),
        *scale_layers(frame, tables),
        *reading_layers(frame, tables),
    ]
    chart = alt.layer(*layers).properties(width=width_px, height=HEIGHT_PX)
    if not title:
        return chart
    heading = alt.TitleParams(
        text=data.title,
        subtitle=data.rule or "no rule: nothing is judged",
        anchor="start",
        frame="group",
        dx=PAD_PX,
        offset=8,
    )
    return chart.properties(title=heading)


def _legend(coverage_k: float, tables: Tables) -> alt.LayerChart | alt.FacetChart:
    """The key of signs, one line."""
    places = zip((6, 18, 154, 166), SHIFT_PX, strict=True)
    signs = [{"px": px, **sign(*series.split())} for px, series in places]
    words = [
        (27, "as found, up and down"),
        (175, "as left"),
        (229, f"uncertainty, k = {coverage_k:g}"),
        (347, "allowed"),
        (423, "a sound unit"),
        (513, "does not conform"),
    ]
    x, mid = x_axis(), _LEGEND_PX / 2
    top, foot = mid - 7, mid + 7
    chart = alt.layer(
        signed(tables.chart(signs).mark_point(size=50, strokeWidth=1.3, opacity=1, y=mid), x),
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
        .mark_point(shape=CROSS, size=110, color=ink.NOT_GOOD, strokeWidth=1.4, opacity=1, y=mid)
        .encode(x),
        tables.chart({"px": px, "word": word} for px, word in words)
        .mark_text(align="left", baseline="middle", fontSize=10.5, y=mid)
        .encode(x, text="word:N"),
    ).properties(width=WIDTH_PX, height=_LEGEND_PX)
    return chart


def _house(ground: bool, type_stack: str) -> alt.Config:
    """The type and the ground of the house."""
    return alt.Config(
        font=type_stack,
        background=ink.PAPER if ground else "transparent",
        padding={"left": 6, "right": 6, "top": 2, "bottom": 2},
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
