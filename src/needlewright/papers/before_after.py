"""As found against as left on paper, without a job and without a certificate's claims."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from needlewright.papers.blocks import Sheet
from needlewright.papers.dial_blocks import strip_data
from needlewright.papers.dial_pages import by_weight, dial_pages, strip_assets
from needlewright.papers.document import sheet_pdf

Document = Mapping[str, Any]


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
    rehearsed = " and ".join(document["rehearsed_runs"])
    sheet = Sheet(
        title="As found against as left",
        under_title=f"Family {document['family']}, runs {runs}. No certificate.",
        head_left=f"Family {document['family']}",
        head_right=runs,
        foot_left="No certificate. ± is the expanded uncertainty, k = 2 (about 95 %)",
        banner=f"Rehearsed: {rehearsed}. Not seen on a real cluster." if rehearsed else "",
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
        An SVG document.
    """
    from needlewright.papers.strip import strips_svg  # noqa: PLC0415 - slow to import

    k = document["coverage_k"]
    return strips_svg([strip_data(dial, k) for dial in by_weight(document["dials"])])
