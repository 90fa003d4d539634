"""`needlewright burn-in report`: counts, events, drift, and both statements."""

from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Table

from needlewright.bench.burn_in.journal import read_journal
from needlewright.cli import console
from needlewright.cli.burn_in_options import (
    AsJson,
    Confidence,
    FamilyDir,
    History,
    Prior,
    WarrantyHours,
    WarrantySweeps,
    known_of,
)
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.burn_in_report import drift_charts, report_document
from needlewright.composing.burn_in_statements import (
    REHEARSED,
    WARRANTY_HOURS,
    WARRANTY_SWEEPS,
)
from needlewright.errors import RunError
from needlewright.families.folder import load_family
from needlewright.papers.wording import sentence_for_people
from needlewright.plans.burn_in.one_unit import CONFIDENCE

Folder = Annotated[Path, typer.Argument(metavar="FOLDER", help="Of the burn-in.")]
Pdf = Annotated[
    Path | None, typer.Option("--pdf", metavar="FILE.pdf", help="The report as a paper.")
]
Svg = Annotated[
    Path | None, typer.Option("--svg", metavar="FILE.svg", help="The drift, drawn dial by dial.")
]


def report(
    folder: Folder,
    *,
    family: FamilyDir,
    prior: Prior = None,
    history: History = None,
    warranty_hours: WarrantyHours = WARRANTY_HOURS,
    warranty_sweeps: WarrantySweeps = WARRANTY_SWEEPS,
    confidence: Confidence = CONFIDENCE,
    pdf: Pdf = None,
    svg: Svg = None,
    as_json: AsJson = False,
) -> None:
    """Say what a burn-in gave, finished or not: counts, events, drift of each check point.

    What was to be expected beforehand and what this run shows by itself are said apart.
    """
    for path in (pdf, svg):
        if path is not None:
            refuse_missing_folder(path)
    cluster = load_family(family)
    journal = read_journal(folder)
    if journal.begun.family != cluster.name:
        raise RunError(
            f"{journal.path}: is of family '{journal.begun.family}', and '{cluster.name}' was "
            "given; name its own"
        )
    warranty = {"hours": warranty_hours, "sweeps": warranty_sweeps}
    known = known_of(prior or [], history, warranty, confidence)  # type: ignore[arg-type]
    document = report_document(journal, cluster, known)
    chart = None
    if pdf is not None or svg is not None:
        chart = _chart(document, drift_charts(journal, cluster, document))
    if svg is not None:
        if chart is None:
            raise RunError(f"{journal.path}: no check point was read yet, so there is no chart")
        write_file(svg, chart.encode())
    if pdf is not None:
        from needlewright.papers.burn_in_paper import burn_in_pdf  # noqa: PLC0415 - slow

        write_file(pdf, burn_in_pdf(document, chart, _pictures(folder, document)))
    if as_json:
        console.emit_json(document)
        return
    _say(document)


def _chart(document: dict[str, Any], charts: Any) -> str | None:
    from needlewright.papers.drift_chart import drift_charts_svg  # noqa: PLC0415 - slow to import

    if not charts:
        return None
    title = REHEARSED.capitalize() if document["rehearsed"] else ""
    return drift_charts_svg(charts, max(document["hours"], 1e-3), head=title)


def _pictures(folder: Path, document: dict[str, Any]) -> dict[str, bytes]:
    """The pictures of the first events; one that is gone is left out."""
    found: dict[str, bytes] = {}
    for event in document["events"]:
        for name in event["pictures"]:
            path = folder / name
            if len(found) < 60 and path.is_file():
                found[name] = path.read_bytes()
    return found


def _say(document: dict[str, Any]) -> None:
    say = console.out.print
    say(
        f"unit {document['unit']}, family {document['family']}: {document['state']}, "
        f"{document['hours']:.3f} of {document['of_hours']:g} h, {document['sweeps']} sweeps, "
        f"{document['key_ons']} key-ons",
        markup=False,
    )
    if document["rehearsed"]:
        say(REHEARSED, markup=False)
    if document["counts"]:
        table = Table(box=None, pad_edge=False)
        for head in ("event", "where", "times", "first h", "last h", ""):
            table.add_column(head)
        for one in document["counts"]:
            table.add_row(
                one["name"],
                one["where"],
                str(one["times"]),
                f"{one['first_hours']:.3f}",
                f"{one['last_hours']:.3f}",
                "FAILURE" if one["is_failure"] else "remark",
            )
        say(table)
    else:
        say("no event")
    for row in document["drift"]:
        say(f"{row['dial']} at {row['value']:g} {row['unit']}: {row['words']}", markup=False)
    say("\nexpected, from what was known beforehand", markup=False)
    console.say_indented(sentence_for_people(document["beforehand"]["words"]))
    say("\nwhat this run shows by itself", markup=False)
    for words in document["shown"]["words"].split("; "):
        console.say_indented(sentence_for_people(words))
