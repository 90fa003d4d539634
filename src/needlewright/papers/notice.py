"""The written notice that goes on a vehicle whose odometer could not keep its mileage."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from needlewright.papers.certificate import BANNER
from needlewright.papers.document import compile_pdf
from needlewright.papers.wording import day_words, grouped


def notice_pdf(document: Mapping[str, Any]) -> bytes:
    """Lay the notice out.

    Parameters
    ----------
    document
        What it says: `mileage_before` in `unit`, `date`, `law`, `attached_to`, shop and name.

    Returns
    -------
    bytes
        A PDF of one page, 120 mm wide and as high as its words need: the mileage before and the
        date in large type.

    Raises
    ------
    PaperError
        If it cannot be laid out.

    Notes
    -----
    **Source** 49 USC 32704(a): the notice states the mileage before the service and the date.
    """
    mileage = document["mileage_before"]
    said = grouped(mileage, 1 if mileage % 1 else 0)
    content = {
        "title": document["title"],
        "name": document["name"],
        "shop": f"{document['shop']}, {document['place']}".strip(", "),
        "vehicle": document["vehicle"],
        "mileage": f"{said.replace(',', ' ')} {document['unit']}",
        "day": day_words(document["date"]),
        "attached_to": document["attached_to"],
        "law": document["law"],
        "procedure": document["procedure"],
        "replaces": document["replaces"] or "",
        "banner": BANNER if document["invented"] else "",
    }
    return compile_pdf("notice.typ", content, {}, date.fromisoformat(document["issued"]))
