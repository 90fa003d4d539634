"""`needlewright guides`: how each operation is done and a cluster is put back, on one sheet."""

from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Table

from needlewright.cli import console
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.guides import REFIT, guide_document, list_document, refit_document
from needlewright.composing.own_guides import book_of_files
from needlewright.errors import PlanError, UsageError
from needlewright.families.folder import load_family
from needlewright.papers.guide_sheet import guide_pdf
from needlewright.papers.wording import mileage as mileage_words
from needlewright.plans.guides.load import GuideBook
from needlewright.proofs.job_facts import OdometerEntry
from needlewright.proofs.job_file import load_job

app = typer.Typer(add_completion=False)


class Size(StrEnum):
    """Paper to print on."""

    A4 = "a4"
    LETTER = "letter"


@app.command()
def guides(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="[NAME]",
            help="Of a guide or an operation, or `refit`; without one, lists them.",
        ),
    ] = None,
    *,
    family: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="The family's folder: its counts, fasteners and cautions."
        ),
    ] = None,
    catalogue: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.toml",
            help="A catalogue of operations, with its guides in the folder `guides` next to it.",
        ),
    ] = None,
    job: Annotated[
        Path | None,
        typer.Option(
            metavar="JOB.toml",
            help="For `refit`: tag, mileage as returned, wait of the vehicle's own manual.",
        ),
    ] = None,
    paper: Annotated[Size, typer.Option(metavar="SIZE", help="Paper: a4 or letter.")] = Size.A4,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.pdf", help="The sheet, to write.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Show how an operation is done, or how a cluster is put back, on one sheet to print.

    Tools, cautions, steps with drawings, what good looks like, photos, parts counted out and in,
    checks afterwards. The refit sheet is in the order of refitting and needs a family.
    """
    if name is None:
        if job or out:
            raise UsageError("name the guide that --job or --out is for")
        cluster = None if family is None else load_family(family)
        _list(book_of_files(catalogue, cluster), as_json)
        return
    if job is not None and name != REFIT:
        raise UsageError("--job goes with `refit` only")
    if out is not None:
        refuse_missing_folder(out)
    document = _document(name, family, catalogue, job)
    if out is not None:
        write_file(out, guide_pdf(document, date.today(), paper.value))
    if as_json:
        console.emit_json({**document, "file": None if out is None else str(out)})
        return
    _show(document)
    if out is not None:
        console.out.print(f"\nThe sheet is {out}", markup=False)


def _document(
    name: str, family: Path | None, catalogue: Path | None, job: Path | None
) -> dict[str, Any]:
    cluster = None if family is None else load_family(family)
    if name != REFIT:
        return guide_document(name, cluster, book_of_files(catalogue, cluster))
    if cluster is None:
        raise PlanError("the refit sheet is of a family: give its folder with --family")
    if job is None:
        return refit_document(cluster)
    facts = load_job(job)
    return refit_document(
        cluster, wait=facts.battery_wait, mileage=_mileage(facts.odometer), tag=facts.tag
    )


def _mileage(odometer: OdometerEntry) -> str | None:
    """As returned, in words; None: nobody has said it yet."""
    if odometer.none_fitted is not None:
        return "none fitted"
    returned = odometer.as_returned
    return None if returned is None else mileage_words(returned, odometer.unit)


def _list(book: GuideBook, as_json: bool) -> None:
    document = list_document(book)
    if as_json:
        console.emit_json(document)
        return
    table = Table(box=None, show_header=False, pad_edge=False)
    for one in document["guides"]:
        table.add_row(one["name"], one["title"])
    console.out.print(table)
    for words in book.missing:
        console.err.print(f"look: {words}", markup=False)
    console.out.print("\nneedlewright guides NAME --out FILE.pdf gives the sheet to print.")


def _show(document: dict[str, Any]) -> None:
    console.out.print(f"[bold]{document['title']}[/bold]\n")
    for caution in document["cautions"]:
        console.out.print(f"Caution: {caution}", markup=False)
    _said("Open first", document["open_first"])
    _said("Tools", document["tools"])
    console.out.print("\nSteps:")
    for number, step in enumerate(document["steps"], start=1):
        if step["part"]:
            console.out.print(f"{step['part']}", markup=False)
        console.say_indented(f"{number}. {step['words']}")
        for kind in step["rows"]:
            for line in document["lines"][kind]:
                console.say_indented(f"   {_line(line)}")
    _said("Then close", document["close_after"])
    _said("Counted out and in", [_line(line) for line in document["counted"]])
    _said("What good looks like", document["good"])
    _said("Photograph", document["photos"])
    checks = [
        one["words"] + (f": {one['command']}" if one["command"] else "")
        for one in document["checks"]
    ]
    _said("Checks after", checks)
    _said(
        "Other guides for this work", [f"{o['name']}: {o['title']}" for o in document["see_also"]]
    )
    console.out.print(f"\nSource: {document['source']}.", markup=False)


def _said(title: str, lines: list[str]) -> None:
    if lines:
        console.out.print(f"\n{title}:")
        for line in lines:
            console.say_indented(line)


def _line(line: dict[str, Any]) -> str:
    count = "to count" if line["count"] is None else str(line["count"])
    tightness = f"; {line['tightness']}" if line["tightness"] else ""
    return f"{line['what']}: {count}{tightness}"
