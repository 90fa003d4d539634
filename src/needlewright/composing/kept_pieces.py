"""What analyses of files outside the records saw, taken in by their documents."""

import json
from collections.abc import Iterator

from needlewright.composing.bench_seen import names_of_runs
from needlewright.composing.evidence_piece import Material, Piece
from needlewright.errors import KnowledgeError
from needlewright.findings.evidence_file import (
    LISTED,
    evidence_documents,
    parse_evidence,
    parse_pieces,
)
from needlewright.findings.troubleshooting.belief import belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.records.analyses import keep_analysis
from needlewright.records.families import load_version
from needlewright.records.needle_heights import is_height
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet


def kept(material: Material) -> Iterator[Piece]:
    """What was taken in.

    Parameters
    ----------
    material
        The job.

    Yields
    ------
    Piece
        In the order it was taken in.

    Raises
    ------
    KnowledgeError
        If a document that is kept cannot be understood by this version of the program.
    """
    of_runs = names_of_runs(material.job)
    for view in material.job.analyses:
        # a run's speak while the run does; how high a needle is set speaks of no cause
        if view.name in of_runs or is_height(view.name):
            continue
        for one in parse_pieces(view.name, view.pieces):
            yield Piece(one, one.words, one.seen_in)


def take_analysis(
    shop: Shop, tag: str, name: str, content: bytes, by: str | None = None
) -> JobSheet:
    """Take in what an analysis saw, by its document.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    name
        What the document is called; one of that name that was taken in before counts no more.
    content
        JSON: a list of evidence, or the document of a command with that list under `evidence`.
    by
        Who takes it in.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    KnowledgeError
        If it is no evidence, or speaks of a finding or dial there is not.
    RecordError
        If it holds no piece, or there is no such job or person.
    """
    job = job_sheet(shop, tag)
    family = load_version(shop, job.family_version_id)
    if name in names_of_runs(job):
        raise KnowledgeError(f"{name}: is what a run at the bench saw; give the file another name")
    if is_height(name):
        raise KnowledgeError(f"{name}: is called as a needle's height is; give it another name")
    _refuse_pair(name, content)
    found = parse_evidence(name, content)
    dials = [dial.id for dial in family.dials]
    try:
        belief_of(load_knowledge(None), dials, evidence=found)
    except KnowledgeError as error:
        raise KnowledgeError(f"{name}: {error}") from error
    return keep_analysis(shop, tag, name, evidence_documents(found), by)


def _refuse_pair(name: str, content: bytes) -> None:
    """Refuse two photos of a board that were compared, which a person may well try to take in."""
    try:
        document = json.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError):
        return  # said where evidence is parsed
    if isinstance(document, dict) and LISTED not in document and "share_seen" in document:
        raise KnowledgeError(
            f"{name}: two photos of a board compared say nothing of a cause by themselves; set "
            "pins on the photos of the job's board"
        )
