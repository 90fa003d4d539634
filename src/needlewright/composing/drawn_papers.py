"""A proof drawn: the paper with its evidence, and the label that goes with a certificate."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from needlewright.composing.evidence_pictures import evidence_pictures
from needlewright.families.model import Family
from needlewright.papers.certificate import BANNER, proof_pdf
from needlewright.papers.label import LabelData, label_pdf
from needlewright.proofs.certificate import MeasuredRun

PDF = ".pdf"
LABEL = "-label.pdf"


def drawn_papers(
    document: Mapping[str, Any],
    family: Family,
    runs: Mapping[str, MeasuredRun],
    overlays: Path | None = None,
) -> dict[str, bytes]:
    """Draw a proof.

    Parameters
    ----------
    document
        Of the proof.
    family
        The cluster design.
    runs
        By side: `found`, `left`.
    overlays
        Folder of overlays, for rows whose photo is not there.

    Returns
    -------
    dict
        PDFs by what follows the number in their files' names: `.pdf`, and `-label.pdf` where a
        certificate is issued.

    Raises
    ------
    PaperError
        If they cannot be drawn.
    """
    papers = {PDF: proof_pdf(document, evidence_pictures(document, family, runs, overlays))}
    if document["issued_as_certificate"]:
        papers[LABEL] = label_pdf(_label(document))
    return papers


def _label(document: Mapping[str, Any]) -> LabelData:
    return LabelData(
        tag=document["item"]["tag"],
        rebuilt=date.fromisoformat(document["work"]),
        certificate=document["name"],
        shop=document["shop"],
        banner=BANNER if document["invented"] else "",
    )
