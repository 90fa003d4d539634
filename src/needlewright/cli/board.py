"""`needlewright board`: two photos of one side of a board laid over each other and compared."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.shop_options import say
from needlewright.cli.written import refuse_missing_folder
from needlewright.composing.board import changes_document, compare_files, write_comparison
from needlewright.errors import UsageError
from needlewright.readings.board.changes import BoardChanges, ChangedPlace

app = typer.Typer(add_completion=False)


@app.command()
def board(
    *,
    before: Annotated[
        Path, typer.Option(metavar="FILE", help="Photo of a side from before the work.")
    ],
    after: Annotated[
        Path, typer.Option(metavar="FILE", help="Photo of the same side from after it.")
    ],
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Draws both with the changed places boxed."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Show where one side of a board looks otherwise after the work than before it.

    A changed place is where to look, not a verdict. Take both photos from straight above, the
    supply off.
    """
    if out is not None:
        _refuse_place(out, before, after)
    changes = compare_files(before, after)
    if out is not None:
        write_comparison(out, changes, (f"before: {before.name}", f"after: {after.name}"))
    if as_json:
        document = {"before": str(before), "after": str(after), **changes_document(changes)}
        console.emit_json({**document, "picture": None if out is None else str(out)})
        return
    _say(changes)
    if out is not None:
        say(f"drawn in {out}")


def _refuse_place(out: Path, before: Path, after: Path) -> None:
    refuse_missing_folder(out)
    if out.suffix.lower() != ".png":
        raise UsageError(f"--out: expected a file name that ends in .png, given '{out}'")
    if out.exists() and out.resolve() in (before.resolve(), after.resolve()):
        raise UsageError(f"--out: '{out}' is one of the photos compared; give another")


def _say(changes: BoardChanges) -> None:
    alignment = changes.alignment
    say(
        f"laid over each other by {alignment.agreeing} places, which scatter by "
        f"{alignment.scatter_px:.2f} px; the after photo shows {100 * alignment.share_seen:.0f} % "
        "of the before photo"
    )
    if not changes.places:
        say("nothing has changed that stands out")
    for number, place in enumerate(changes.places, start=1):
        say(f"{number}: {_words(place)}")
    if changes.left_out:
        say(f"and {changes.left_out} weaker places")


def _words(place: ChangedPlace) -> str:
    across, down = place.left + place.width / 2, place.top + place.height / 2
    light = "lighter" if place.by_grey_levels > 0 else "darker"
    return (
        f"{100 * across:.1f} % from the left, {100 * down:.1f} % from the top: "
        f"{light} after, score {place.score:.1f}"
    )
