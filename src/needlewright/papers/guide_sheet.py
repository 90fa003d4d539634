"""A guide, or the refit sheet, on one sheet of paper: boxes to tick, drawings beside the steps."""

from collections.abc import Mapping
from datetime import date
from typing import Any, Final, Literal

from needlewright.errors import PaperError
from needlewright.papers.document import compile_pdf
from needlewright.papers.guide_drawings import guide_drawing
from needlewright.papers.plan_sheet import BANNER

Document = Mapping[str, Any]
PaperSize = Literal["a4", "letter"]
SIZES: Final[Mapping[PaperSize, str]] = {"a4": "a4", "letter": "us-letter"}
DEFER: Final = "Local codes and licensed practice come before this sheet."
TOO_LONG: Final = "does not fit on one sheet"


def guide_pdf(document: Document, day: date, size: PaperSize = "a4") -> bytes:
    """Lay a guide or the refit sheet out.

    Parameters
    ----------
    document
        As `needlewright guides NAME --json` prints it.
    day
        The date the file carries.
    size
        ISO 216 A4, or the letter size of North America.

    Returns
    -------
    bytes
        A PDF of one page: type and drawings are set smaller, down to four fifths, until it fits.

    Raises
    ------
    PaperError
        If it does not fit even so, or cannot be laid out.
    """
    content = {
        **document,
        "paper": SIZES[size],
        "banner": BANNER if document["invented"] else "",
        "defer": DEFER,
        "day": f"{day:%d} {day:%B} {day.year}",
    }
    assets = {
        f"{one['name']}.svg": guide_drawing(one["name"], on_paper=True).encode()
        for one in document["drawings"]
    }
    try:
        return compile_pdf("guide.typ", content, assets, day)
    except PaperError as error:
        if TOO_LONG in str(error):
            raise PaperError(
                f"{document['title']}: {TOO_LONG}; shorten what the guide or the family's refit "
                "notes say"
            ) from error
        raise
