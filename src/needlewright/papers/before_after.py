"""As found against as left on paper, without a job and without a certificate's claims."""

import re
from collections.abc import Mapping
from datetime import date
from textwrap import wrap
from typing import Any, Final
from xml.sax.saxutils import escape

from needlewright.errors import PaperError
from needlewright.papers import ink
from needlewright.papers.blocks import Sheet
from needlewright.papers.dial_blocks import strip_data
from needlewright.papers.dial_pages import by_weight, dial_pages, strip_assets
from needlewright.papers.document import sheet_pdf

Document = Mapping[str, Any]
_SIZE: Final = re.compile(r'<svg [^>]*?width="([\d.]+)" height="([\d.]+)"')
_EDGE_PX: Final = 12
_LINE_PX: Final = 20
_LETTER_PX: Final = 8.0
"""Room for a letter of the band at its size, the wide ones taken as most."""


def before_after_pdf(document: Document, day: date) -> bytes:
    """Lay two runs out side by side, dial after dial.

    Parameters
    ----------
    document
        As `proofs.proof_json.comparison_document` gives it.
    day
        The date the file carries.

    Returns
    -------
    bytes
        A PDF.

    Raises
    ------
    PaperError
        If it cannot be laid out.
    """
    dials = by_weight(document["dials"])
    runs = f"{document['found_run']} against {document['left_run']}"
    sheet = Sheet(
        title="As found against as left",
        under_title=f"Family {document['family']}, runs {runs}. No certificate.",
        head_left=f"Family {document['family']}",
        head_right=runs,
        foot_left="No certificate. ± is the expanded uncertainty, k = 2 (about 95 %)",
        banner=_rehearsed(document),
        end=f"end of {runs}",
        blocks=tuple(dial_pages("Results by dial", dials)),
        assets=strip_assets(dials, document["coverage_k"]),
    )
    return sheet_pdf(sheet, day)


def before_after_svg(document: Document) -> str:
    """Draw the strips of two runs under each other.

    Parameters
    ----------
    document
        As `proofs.proof_json.comparison_document` gives it.

    Returns
    -------
    str
        An SVG document; where a run was rehearsed, that stands above the strips.
    """
    from needlewright.papers.strip import strips_svg  # noqa: PLC0415 - slow to import

    k = document["coverage_k"]
    drawing = strips_svg([strip_data(dial, k) for dial in by_weight(document["dials"])])
    said = _rehearsed(document)
    return _headed(drawing, said) if said else drawing


def _rehearsed(document: Document) -> str:
    """What is said of runs that no real cluster was seen in; empty: there are none."""
    runs = " and ".join(document["rehearsed_runs"])
    return f"Rehearsed: {runs}. Not seen on a real cluster." if runs else ""


def _headed(drawing: str, said: str) -> str:
    """A drawing under a band of words that goes wherever the drawing goes."""
    size = _SIZE.match(drawing)
    if size is None:
        raise PaperError("the drawing of the strips states no size; nothing was written")
    width, height = (float(side) for side in size.groups())
    lines = wrap(said, int((width - 2 * _EDGE_PX) / _LETTER_PX)) or [said]
    band = len(lines) * _LINE_PX + _EDGE_PX
    words = "".join(
        f'<text x="{_EDGE_PX}" y="{(n + 1) * _LINE_PX:g}">{escape(line)}</text>'
        for n, line in enumerate(lines)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width:g}" '
        f'height="{height + band:g}" viewBox="0 0 {width:g} {height + band:g}">'
        f'<rect width="100%" height="100%" fill="{ink.PAPER}"/>'
        f'<g font-family="{ink.SERIF_STACK}" font-size="14" font-weight="bold" '
        f'fill="{ink.NOT_GOOD}">{words}</g>'
        f'<svg y="{band}"{drawing.removeprefix("<svg")}</svg>'
    )
