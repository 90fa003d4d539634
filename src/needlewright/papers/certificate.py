"""The certificate, and the reports that are none, from the JSON document of a proof.

The paper says what the document says and nothing else, so that whoever has the one can check the
other. What belongs on it: ISO/IEC 17025:2017, 7.8.2.1, 7.8.4.1 and 7.8.6, as far as a shop has it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from needlewright.papers.back_pages import back_pages
from needlewright.papers.blocks import Block, Heading, Picture, Pictures, Sheet
from needlewright.papers.dial_pages import by_weight, dial_pages, strip_assets
from needlewright.papers.document import sheet_pdf
from needlewright.papers.first_page import first_page
from needlewright.papers.wording import day_words, place_words, places_for, plus_minus

Document = Mapping[str, Any]

_SPOKEN: Final = {
    "certificate": "Certificate",
    "certificate_with_exceptions": "Certificate",
    "not_conforming_report": "Report",
    "as_found_report": "Report",
}
BANNER: Final = "INVENTED DEMONSTRATION"


@dataclass(frozen=True, slots=True)
class EvidencePicture:
    """A photo with the fitted needle drawn on it, of one row."""

    dial: str
    side: str
    row: int
    jpeg: bytes


def proof_pdf(document: Document, pictures: Sequence[EvidencePicture] = ()) -> bytes:
    """Lay a proof out as a certificate or report.

    Parameters
    ----------
    document
        As `proofs.proof_json.proof_document` gives it.
    pictures
        Of the rows that decide.

    Returns
    -------
    bytes
        A PDF; the same document and pictures give the same bytes.

    Raises
    ------
    PaperError
        If it cannot be laid out.
    """
    return sheet_pdf(proof_sheet(document, pictures), date.fromisoformat(document["issued"]))


def proof_sheet(document: Document, pictures: Sequence[EvidencePicture] = ()) -> Sheet:
    """Compose a proof of blocks.

    Parameters
    ----------
    document
        Of the proof.
    pictures
        As for `proof_pdf`.

    Returns
    -------
    Sheet
        With its drawings and photos.
    """
    dials = by_weight(document["dials"])
    spoken, name = _SPOKEN[document["kind"]], document["name"]
    assets = strip_assets(dials, document["coverage_k"])
    for i, picture in enumerate(pictures):
        assets[f"photo-{i}.jpg"] = picture.jpeg
    return Sheet(
        title=document["title"],
        under_title=_under_title(document, spoken),
        head_left=document["shop"],
        head_right=f"{spoken} {name}",
        foot_left=f"{spoken} {name}, {document['shop']}, {document['place']}",
        banner=BANNER if document["invented"] else "",
        end=f"end of {spoken.lower()} {name}",
        blocks=(
            *first_page(document),
            *dial_pages("Results by dial", dials),
            *_evidence(document, pictures),
            *back_pages(document),
        ),
        assets=assets,
    )


def _under_title(document: Document, spoken: str) -> str:
    text = f"{spoken} number {document['name']}, issued on {day_words(document['issued'])}"
    if document["replaces"]:
        because = document["replaces_because"]
        text += f"; it replaces {document['replaces']}, because: {because}"
    return text


def _evidence(document: Document, pictures: Sequence[EvidencePicture]) -> Iterator[Block]:
    if not pictures:
        return
    yield Heading("The rows that decide, as photographed")
    yield Pictures(
        tuple(
            Picture(f"photo-{i}.jpg", _caption(document, picture))
            for i, picture in enumerate(pictures)
        ),
        across=4,
    )


def _caption(document: Document, picture: EvidencePicture) -> str:
    dial = next(d for d in document["dials"] if d["dial"] == picture.dial)
    row = dial[picture.side]["rows"][picture.row]
    told = place_words(row, dial["unit"])
    if row["shown"] is None:
        shown = "no value"
    else:
        shown = plus_minus(row["shown"], row["expanded"], places_for([row["expanded"]]))
    if row["basis"] == "rest":
        shown = f"{row['angle_deg']:.1f}°" if row["angle_deg"] is not None else "no angle"
    return f"{dial['dial']}, as {picture.side}, {told}: {shown}; {row['words']}"
