"""`needlewright certify`: the paper a rebuilt cluster leaves with."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.cli import console
from needlewright.cli.measured import measured_run
from needlewright.composing.drawn_papers import drawn_papers
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.filing import file_papers, refuse_taken_number
from needlewright.papers.wording import sentences_for_people
from needlewright.proofs.certificate import MeasuredRun
from needlewright.proofs.certificate import certify as prove
from needlewright.proofs.job_file import load_job
from needlewright.proofs.proof_json import proof_document


def certify(
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    job: Annotated[Path, typer.Option(metavar="JOB.toml", help="Shop, item, dates, odometer.")],
    found: Annotated[Path, typer.Option(metavar="FOUND.csv", help="The run as found.")],
    left: Annotated[Path, typer.Option(metavar="LEFT.csv", help="The run as left.")],
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder the papers are filed in.")],
    overlays: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="Folder of overlays, where photos or evidence are not there."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Certify a rebuilt cluster, or report why it cannot be certified."""
    cluster = load_family(family)
    facts = load_job(job, goes_out=True)
    runs = {"found": measured_run(cluster, found), "left": measured_run(cluster, left)}
    document = proof_document(prove(cluster, facts, runs["found"], runs["left"]))
    files = file_proof(document, out, cluster, runs, overlays)
    if as_json:
        console.emit_json({**document, "files": {k: str(path) for k, path in files.items()}})
        return
    show_outcome(document, files)


def file_proof(
    document: Mapping[str, Any],
    out: Path,
    family: Family,
    runs: Mapping[str, MeasuredRun],
    overlays: Path | None = None,
) -> dict[str, Path]:
    """Draw a proof and put its papers into a folder, all of them or none.

    Parameters
    ----------
    document
        Of the proof.
    out
        The folder.
    family
        The cluster design.
    runs
        By side: `found`, `left`.
    overlays
        Folder of overlays, for rows whose photo is not there.

    Returns
    -------
    dict
        Paths by what they are: `paper`, `data`, and `label` where a certificate is issued.

    Raises
    ------
    PaperError
        If the number is taken, or the papers cannot be drawn or written.
    """
    refuse_taken_number(out, document)
    filed = file_papers(out, document, drawn_papers(document, family, runs, overlays))
    names = {".pdf": "paper", ".json": "data", "-label.pdf": "label"}
    return {names[ending]: path for ending, path in filed.items()}


def show_outcome(document: Mapping[str, Any], files: Mapping[str, Path]) -> None:
    """Say what was issued, why not, what is excepted, and where it lies."""
    console.out.print(f"{document['title']}, number {document['name']}", markup=False)
    for sentence in sentences_for_people([*document["why_not"], *document["exceptions"]]):
        console.out.print(f"  {sentence}", markup=False)
    for what, path in files.items():
        console.out.print(f"{what}: {path}", markup=False)
