"""`needlewright intake`: the questions to the owner, as one file to send or to print."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.written import write_file
from needlewright.composing.intake import asked_of_owner, intake_of
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge

app = typer.Typer(add_completion=False)


@app.command()
def intake(
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    out: Annotated[Path, typer.Option(metavar="FILE.html", help="File to write.")],
    knowledge: Annotated[
        Path | None,
        typer.Option(metavar="FILE.toml", help="Knowledge file; the shipped one otherwise."),
    ] = None,
    sent_by: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The shop's name and address, shown on top.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Write the questions for the owner: one file that is filled in on a screen or printed.

    It needs no network. What was answered becomes a short text that is sent back and given to
    `needlewright troubleshoot --answers`.
    """
    cluster, known = load_family(family), load_knowledge(knowledge)
    write_file(out, intake_of(cluster, known, sent_by).encode("utf-8"))
    questions = [one.id for one in asked_of_owner(known)]
    if as_json:
        console.emit_json({"family": cluster.name, "path": str(out), "questions": questions})
        return
    console.out.print(f"{len(questions)} questions written to {out}", markup=False)
