"""`needlewright before-after`: two runs of one cluster side by side."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import measured_run, say_rehearsed
from needlewright.cli.written import write_file
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.papers.before_after import before_after_pdf, before_after_svg
from needlewright.papers.dial_blocks import dial_title, notes_under, rule_words, two_sided_table
from needlewright.papers.dial_pages import by_weight
from needlewright.proofs.certificate import compare
from needlewright.proofs.proof_json import comparison_document

ENDINGS = (".pdf", ".svg")


def before_after(
    found: Annotated[Path, typer.Argument(metavar="FOUND.csv", help="The run as found.")],
    left: Annotated[Path, typer.Argument(metavar="LEFT.csv", help="The run as left.")],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="File to write: .pdf (tables and strips) or .svg (strips)."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Set the run as found beside the run as left, dial by dial."""
    if out is not None and out.suffix.lower() not in ENDINGS:
        raise UsageError(f"--out {out}: the ending must be {' or '.join(ENDINGS)}")
    cluster = load_family(family)
    before, after = measured_run(cluster, found), measured_run(cluster, left)
    document = comparison_document(compare(cluster, before, after))
    if out is not None:
        write_file(out, _drawn(document, out))
    say_rehearsed(before.run, after.run, as_json=as_json)
    if as_json:
        console.emit_json({**document, "out": None if out is None else str(out)})
        return
    for dial in by_weight(document["dials"]):
        _show(dial)
    if out is not None:
        console.out.print(f"written to {out}", markup=False)


def _drawn(document: Mapping[str, Any], out: Path) -> bytes:
    if out.suffix.lower() == ".svg":
        return before_after_svg(document).encode()
    return before_after_pdf(document, date.today())


def _show(dial: Mapping[str, Any]) -> None:
    rule = rule_words(dial["rule"]) if dial["rule"] else "the family states no rule"
    console.out.print(Text(dial_title(dial), style="bold"))
    console.out.print(Text(rule))
    console.out.print(_line(("true", "told", "as found", "", "as left", ""), "bold"))
    for row in two_sided_table(dial).rows:
        told, approach, _, *seen, _ = (cell.text for cell in row)
        found, found_result, left, left_result = seen[1], seen[2], seen[4], seen[5]
        console.out.print(_line((told, approach, found, found_result, left, left_result)))
    for note in notes_under(dial, "left"):
        console.out.print(Text(note))
    console.out.print()


def _line(cells: tuple[str, ...], style: str = "") -> Text:
    """One line of fixed columns; nothing is cut or broken."""
    widths = (6, -4, 17, -26, 17, -1)
    padded = [
        f"{cell:<{-width}}" if width < 0 else f"{cell:>{width}}"
        for cell, width in zip(cells, widths, strict=True)
    ]
    return Text("  ".join(padded).rstrip(), style=style)
