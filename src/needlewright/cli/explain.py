"""`needlewright explain`: which fault a run shows, how sure that is, and how large."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.drawn_currents import (
    current_document,
    current_findings,
    drop_evidence,
    seen_beside,
)
from needlewright.composing.explaining import (
    Explained,
    KeyCycles,
    explain_with_rests,
    explained_document,
    key_cycles_document,
    signature_chart,
)
from needlewright.composing.series_summary import outcome_of
from needlewright.errors import RunError
from needlewright.families.folder import load_family
from needlewright.findings.evidence_file import evidence_documents
from needlewright.findings.signatures.words import (
    NAMES,
    WORTH_NAMING,
    reason_of,
    size_words,
)
from needlewright.findings.wording import share_words
from needlewright.papers.signature_chart import signature_charts_svg
from needlewright.readings.complete import complete_run
from needlewright.readings.run_csv import read_run

app = typer.Typer(add_completion=False)


@app.command()
def explain(
    runs: Annotated[
        list[Path],
        typer.Argument(metavar="RUN.csv...", help="Runs, measured or typed, one entry each."),
    ],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    run_name: Annotated[
        str | None,
        typer.Option("--run", metavar="NAME", help="Which run, where a file holds several."),
    ] = None,
    chart: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="SVG file: readings, the best explanation and the next one, for every dial.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Say for every dial of a run which fault it shows, with a probability for each.

    What is compared are the faults a run can show, and pairs that come together; one row in ten
    may be simply wrong. Sizes are given with their uncertainty. Where needles were looked at, at
    rest, over three counts of key-ons or more, it also says whether they creep home.
    """
    if chart is not None:
        refuse_missing_folder(chart)
    cluster = load_family(family)
    taken = [complete_run(read_run(path, run_name), cluster) for path in runs]
    explained = [explain_with_rests(cluster, one) for one in taken]
    found = [(path, dials) for path, (dials, _) in zip(runs, explained, strict=True)]
    keyed = [rests for _, rests in explained]
    drawn = [current_findings(cluster, path) for path in runs]
    say_rehearsed(*taken, as_json=as_json)
    if chart is not None:
        charts = [
            signature_chart(dial if len(found) == 1 else f"{path.stem}: {dial}", one)
            for path, dials in found
            for dial, one in dials.items()
        ]
        if not charts:
            raise RunError(f"--chart {chart}: nothing was commanded, so there is nothing to draw")
        write_file(chart, signature_charts_svg(charts).encode())
    if as_json:
        document = [
            {
                "run": str(path),
                "dials": explained_document(dials),
                "key_cycles": key_cycles_document(rests),
                "currents": [current_document(one) for one in currents],
            }
            for (path, dials), rests, currents in zip(found, keyed, drawn, strict=True)
        ]
        pieces = [
            piece
            for path, rests, currents in zip(runs, keyed, drawn, strict=True)
            for piece in (
                *seen_beside(rests, currents, path.name),
                *drop_evidence(outcome_of(path), path.name),
            )
        ]
        console.emit_json({"runs": document, "evidence": evidence_documents(pieces)})
        return
    for (path, dials), rests, currents in zip(found, keyed, drawn, strict=True):
        _show(path, dials)
        _show_key_cycles(rests)
        for one in currents:
            style = "red" if one.side in ("below", "above") else ""
            console.out.print(Text(one.words, style=style))
    if chart is not None:
        console.out.print(f"chart in {chart}", markup=False)


def _show(path: Path, dials: Explained) -> None:
    heading = f"{path}; ± is U, k = 2 (about 95 %), of what the rows say together\n"
    console.out.print(Text(heading, style="bold"))
    for dial, one in dials.items():
        sound = one.faults[0].fault == "sound"
        console.out.print(
            Text(f"{dial}: {NAMES[one.faults[0].fault].upper()}", style="green" if sound else "red")
        )
        console.say_indented(reason_of(one))
        for fault in one.faults:
            if fault.probability < WORTH_NAMING:
                continue
            said = f"{share_words(fault.probability):>9}  {NAMES[fault.fault]}  {size_words(fault)}"
            console.say_indented(said.rstrip())
        console.out.print()


def _show_key_cycles(rests: KeyCycles) -> None:
    if not rests:
        return
    console.out.print(Text("at rest over the key-ons", style="bold"))
    for one in rests.values():
        console.out.print(Text(one.words, style="" if one.faults[0][0] == "sound" else "red"))
    console.out.print()
