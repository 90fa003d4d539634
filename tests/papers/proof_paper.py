"""A proof drawn once for the tests of papers, and what can be read from a PDF."""

from functools import cache
from io import BytesIO
from typing import Any

import pypdf

from needlewright.papers.certificate import EvidencePicture, proof_pdf
from needlewright.proofs.proof_json import proof_document
from proofs.proof_job import measured, proof, turned, with_rows


@cache
def document(kind: str = "certificate") -> dict[str, Any]:
    """The document of the drawn job, or of one made to fail."""
    if kind == "certificate":
        return proof_document(proof())
    dial, turn = {"with exceptions": ("fuel", 6.0), "not conforming": ("speed", -6.0)}[kind]
    return proof_document(proof(with_rows(measured("as-left"), dial, turned(turn))))


@cache
def pdf(kind: str = "certificate") -> bytes:
    """Its paper."""
    return proof_pdf(document(kind))


@cache
def pages(content: bytes) -> list[str]:
    """The text of each page, blanks and line ends made one blank."""
    return [
        " ".join((page.extract_text() or "").split())
        for page in pypdf.PdfReader(BytesIO(content)).pages
    ]


def text(content: bytes) -> str:
    """The text of all pages."""
    return " ".join(pages(content))


def picture(jpeg: bytes, dial: str = "speed", side: str = "left") -> EvidencePicture:
    """A picture of the row that decides."""
    worst = next(d for d in document()["dials"] if d["dial"] == dial)[side]["worst"]
    return EvidencePicture(dial, side, worst, jpeg)
