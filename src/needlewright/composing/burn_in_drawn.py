"""The drift of a burn-in drawn, for paper and for the page."""

from collections.abc import Mapping, Sequence
from typing import Any

from needlewright.composing.burn_in_statements import REHEARSED
from needlewright.papers import ink
from needlewright.papers.drift_lines import DriftChart


def drift_svg(
    document: Mapping[str, Any],
    charts: Sequence[DriftChart],
    type_stack: str = ink.SERIF_STACK,
    *,
    ground: bool = True,
) -> str | None:
    """Draw the drift of a burn-in.

    Parameters
    ----------
    document
        As `burn_in_report.report_document` gives it.
    charts
        As `burn_in_report.drift_charts` gives them.
    type_stack
        Families of type.
    ground
        Whether it has the ground of a screen.

    Returns
    -------
    str or None
        An SVG document; None: no check point was read.
    """
    if not charts:
        return None
    from needlewright.papers.drift_chart import drift_charts_svg  # noqa: PLC0415 - slow to import

    head = REHEARSED.capitalize() if document["rehearsed"] else ""
    hours = max(document["hours"], 1e-3)
    return drift_charts_svg(charts, hours, head=head, type_stack=type_stack, ground=ground)
