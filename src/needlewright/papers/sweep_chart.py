"""A needle through a video, drawn: its angle and its speed over time, with what happened marked."""

from collections.abc import Sequence
from typing import Any, Final

import altair as alt
import numpy as np
import vl_convert
from numpy.typing import NDArray

from needlewright.papers import ink
from needlewright.papers.sweep_chart_data import SweepChart
from needlewright.papers.time_chart_style import time_chart_style

WIDTH_PX: Final = 720
ANGLE_HEIGHT_PX: Final = 170
SPEED_HEIGHT_PX: Final = 80
LABELS_PX: Final = 38
"""Room for the numbers beside a plot, so that its title stands clear of them."""
MOST_POINTS: Final = 3000
"""Longer tracks are thinned to their highest and lowest points: a screen shows no more."""


def sweep_charts_svg(
    charts: Sequence[SweepChart], *, width_px: int = WIDTH_PX, type_stack: str = ink.SERIF_STACK
) -> str:
    """Draw one chart per needle under each other.

    Parameters
    ----------
    charts
        In the order of the drawing.
    width_px
        Width of the plots.
    type_stack
        Type of the lettering.

    Returns
    -------
    str
        An SVG document.
    """
    specification = sweep_charts_specification(charts, width_px=width_px, type_stack=type_stack)
    svg: str = vl_convert.vegalite_to_svg(specification, allowed_base_urls=[])
    return svg


def sweep_charts_specification(
    charts: Sequence[SweepChart], *, width_px: int = WIDTH_PX, type_stack: str = ink.SERIF_STACK
) -> dict[str, Any]:
    """Define the drawing, for a file or for a page.

    Parameters
    ----------
    charts
        In the order of the drawing.
    width_px
        Width of the plots.
    type_stack
        Type of the lettering.

    Returns
    -------
    dict
        A Vega-Lite specification.
    """
    last_s = max(float(chart.t_s[-1]) for chart in charts)
    drawn = [_needle(chart, (0.0, last_s), width_px) for chart in charts]
    return dict(
        alt.vconcat(
            *drawn,
            spacing=22,
            config=time_chart_style(type_stack, LABELS_PX, anchor="start", offset=12),
        ).to_dict()
    )


def _needle(chart: SweepChart, span_s: tuple[float, float], width_px: int) -> alt.VConcatChart:
    time = alt.X("t:Q", title=None, scale=alt.Scale(domain=span_s, nice=False))
    labelled = time.title("seconds of the video")
    angle = alt.layer(
        *_events(chart, time, words=True),
        _line(chart.t_s, chart.angle_deg, time, "angle, ° clockwise"),
    ).properties(width=width_px, height=ANGLE_HEIGHT_PX, title=chart.dial)
    zero = (
        alt.Chart(alt.InlineData(values=[{"at": 0}])).mark_rule(color=ink.HAIRLINE).encode(y="at:Q")
    )
    speed = alt.layer(
        zero,
        *_events(chart, labelled, words=False),
        _line(chart.t_s, chart.speed_deg_s, labelled, "speed, °/s"),
    ).properties(width=width_px, height=SPEED_HEIGHT_PX)
    return alt.vconcat(angle, speed, spacing=4)


def _line(
    t_s: NDArray[np.float64], values: NDArray[np.float64], time: alt.X, title: str
) -> alt.Chart:
    """A line that is broken where there is no value."""
    points = [
        {"t": round(float(t), 4), "value": round(float(v), 4) if np.isfinite(v) else None}
        for t, v in zip(*_thinned(t_s, values), strict=True)
    ]
    chart: alt.Chart = alt.Chart(alt.InlineData(values=points)).mark_line(
        color=ink.INK, strokeWidth=1.4, invalid="break-paths-filter-domains"
    )
    encoded: alt.Chart = chart.encode(
        time, alt.Y("value:Q", title=title, scale=alt.Scale(zero=False))
    )
    return encoded


def _thinned(
    t_s: NDArray[np.float64], values: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The highest and the lowest point of every stretch of a long track."""
    if len(t_s) <= MOST_POINTS:
        return t_s, values
    kept: set[int] = {0, len(t_s) - 1}
    for stretch in np.array_split(np.arange(len(t_s)), MOST_POINTS // 3):
        seen = stretch[np.isfinite(values[stretch])]
        lost = stretch[~np.isfinite(values[stretch])]
        kept.update(lost[:1].tolist())
        if len(seen):
            kept |= {int(seen[np.argmin(values[seen])]), int(seen[np.argmax(values[seen])])}
    order = sorted(kept)
    return t_s[order], values[order]


def _events(chart: SweepChart, time: alt.X, *, words: bool) -> list[alt.Chart]:
    """Dashed rules, with words over the upper plot in two rows."""
    if not chart.marks:
        return []
    rows = [
        {"t": mark.t_s, "words": mark.words, "row": -7 - 13 * (number % 2)}
        for number, mark in enumerate(chart.marks)
    ]
    base = alt.Chart(alt.InlineData(values=rows)).encode(time)
    rules = base.mark_rule(color=ink.NOT_GOOD, strokeDash=[4, 3])
    if not words:
        return [rules]
    labels = base.mark_text(
        color=ink.NOT_GOOD, align="center", baseline="middle", fontSize=11, clip=False
    ).encode(text="words:N", y=alt.Y("row:Q", scale=None, axis=None))
    return [rules, labels]
