"""The look that charts over time share, as the configuration of a drawing."""

from typing import Any

import altair as alt

from needlewright.papers import ink


def time_chart_style(type_stack: str, labels_px: float, **title: Any) -> alt.Config:
    """The type, the ground and the lines of a chart over time.

    Parameters
    ----------
    type_stack
        Families of type, the first that is there is taken.
    labels_px
        Room for the numbers beside the drawing: a device's type may be wider than the one they
        were measured in.
    **title
        What the title has beside or in place of the usual, as `altair.TitleConfig` takes it.

    Returns
    -------
    altair.Config
        Sizes in px.
    """
    usual: dict[str, Any] = {
        "color": ink.INK,
        "fontSize": 15,
        "fontWeight": "normal",
        "subtitleColor": ink.FAINT,
        "subtitleFontSize": 11,
    }
    return alt.Config(
        background=ink.PAPER,
        font=type_stack,
        view=alt.ViewConfig(stroke=ink.HAIRLINE),
        title=alt.TitleConfig(**(usual | title)),
        legend=alt.LegendConfig(labelColor=ink.INK, labelFontSize=11),
        axis=alt.AxisConfig(
            gridColor=ink.HAIRLINE,
            gridOpacity=0.6,
            domainColor=ink.FAINT,
            tickColor=ink.FAINT,
            labelColor=ink.INK,
            titleColor=ink.FAINT,
            titleFontWeight="normal",
            labelFontSize=11,
            titleFontSize=11,
            tickCount=6,
        ),
        axisY=alt.AxisConfig(minExtent=labels_px),
    )
