"""`needlewright report`: how a cluster came in."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.certify import file_proof, show_outcome
from needlewright.cli.measured import measured_run
from needlewright.families.folder import load_family
from needlewright.proofs.certificate import report_as_found
from needlewright.proofs.job_file import load_job
from needlewright.proofs.proof_json import proof_document


def report(
    run: Annotated[Path, typer.Argument(metavar="RUN.csv", help="The run as found.")],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    job: Annotated[Path, typer.Option(metavar="JOB.toml", help="Shop, item, dates, odometer.")],
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder the papers are filed in.")],
    overlays: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="Folder of overlays, where photos or evidence are not there."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Report how a cluster came in, and what its needles need."""
    cluster = load_family(family)
    facts = load_job(job)
    found = measured_run(cluster, run)
    document = proof_document(report_as_found(cluster, facts, found))
    files = file_proof(document, out, cluster, {"found": found}, overlays)
    if as_json:
        console.emit_json({**document, "files": {k: str(path) for k, path in files.items()}})
        return
    show_outcome(document, files)
