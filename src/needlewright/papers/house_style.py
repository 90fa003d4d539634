"""The look that charts over an unrolled scale share, as the configuration of a drawing."""

from typing import Any, Final

from needlewright.papers import ink

AXIS_PX: Final = 38
"""Room for the numbers of the error, the same in every chart, so that charts stand flush."""


def scale_chart_style(type_stack: str) -> dict[str, Any]:
    """The type, the ground and the lines of a chart of errors over a scale.

    Parameters
    ----------
    type_stack
        Families of type, the first that is there is taken.

    Returns
    -------
    dict
        The `config` of a Vega-Lite drawing; sizes in px.
    """
    return {
        "font": type_stack,
        "background": ink.PAPER,
        "padding": {"left": 6, "right": 10, "top": 4, "bottom": 6},
        "view": {"stroke": None},
        "title": {
            "fontSize": 13,
            "color": ink.INK,
            "subtitleFontSize": 11,
            "subtitleColor": ink.FAINT,
        },
        "text": {"color": ink.INK},
        "rule": {"color": ink.INK},
        "axis": {
            "labelColor": ink.INK,
            "titleColor": ink.FAINT,
            "titleFontWeight": "normal",
            "labelFontSize": 11,
            "titleFontSize": 10.5,
            "tickColor": ink.FAINT,
            "domainColor": ink.FAINT,
            "minExtent": AXIS_PX,
            "maxExtent": AXIS_PX,
        },
    }
