"""`needlewright rehearse`: a simulated cluster, drawn."""

import re
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from typer.core import TyperGroup

from needlewright.cli import console
from needlewright.cli.progress import progress_bar
from needlewright.cli.rehearse_cluster import cluster
from needlewright.cli.rehearse_drive import drive
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.rehearsal.photo_set import SIZE_PX, DrawnSet, draw_set, refuse_used_folder

MOST: Final = 100_000
SMALLEST_PX: Final = 160
LARGEST_PX: Final = 6000

GROUP_HELP: Final = (
    "Rehearse without a cluster: photos whose truth is known, a simulated cluster with faults. "
    "`rehearse --family DIR ...` is `rehearse cluster --family DIR ...`."
)


class _ClusterByDefault(TyperGroup):
    """Takes options without a command for those of `cluster`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put the command in where it is left out."""
        if args and args[0].startswith("-") and args[0] != "--help":
            args = ["cluster", *args]
        return super().parse_args(ctx, args)


app = typer.Typer(help=GROUP_HELP, no_args_is_help=True, cls=_ClusterByDefault)


@app.callback(help=GROUP_HELP)
def _group() -> None:
    """See `GROUP_HELP`."""


@app.command()
def draw(
    *,
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder the set is put in; new or empty.")
    ],
    count: Annotated[int, typer.Option(metavar="N", help="Photos to draw.")] = 13,
    seed: Annotated[
        int,
        typer.Option(metavar="S", help="The same number gives the same set, with the same fonts."),
    ] = 1,
    family: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Family to draw; without it every 13 photos show another invented cluster.",
        ),
    ] = None,
    size: Annotated[
        str, typer.Option(metavar="WxH", help="Width and height of the photos in pixels.")
    ] = f"{SIZE_PX[0]}x{SIZE_PX[1]}",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Draw photos of clusters in many conditions, each with its exact truth.

    Every family's folder holds family.json, face.png, photos/ and truth.json; what truth.json says
    is described in docs/rehearsal.md.
    """
    size_px = _size(size)
    _within("--count", count, 1, MOST)
    _within("--seed", seed, 0, 2**31 - 1)
    refuse_used_folder(out)
    drawn_family = None if family is None else load_family(family)
    with progress_bar("drawing", count) as told:
        made = draw_set(
            out, count=count, seed=seed, family=drawn_family, size_px=size_px, told=told
        )
    if as_json:
        console.emit_json(_document(out, seed, size_px, made))
        return
    for each in made:
        line = (
            f"{each.folder}: {_counted(each.photos, 'photo')}, {_counted(each.needles, 'needle')}"
        )
        console.out.print(line, markup=False)


def _size(words: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{1,5})x(\d{1,5})", words)
    if found is None:
        raise UsageError(f"--size {words}: expected width x height in pixels, such as 1600x1067")
    wide, high = int(found[1]), int(found[2])
    for side in (wide, high):
        if not SMALLEST_PX <= side <= LARGEST_PX:
            raise UsageError(
                f"--size {words}: expected sides of {SMALLEST_PX} to {LARGEST_PX} pixels, found "
                f"{side}"
            )
    return wide, high


def _within(option: str, value: int, low: int, high: int) -> None:
    if not low <= value <= high:
        raise UsageError(f"{option} {value}: expected a whole number from {low} to {high}")


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _document(
    out: Path, seed: int, size_px: tuple[int, int], made: list[DrawnSet]
) -> dict[str, Any]:
    return {
        "out": str(out),
        "seed": seed,
        "size_px": list(size_px),
        "families": [
            {
                "folder": str(each.folder),
                "family": each.family,
                "photos": each.photos,
                "needles": each.needles,
            }
            for each in made
        ],
    }


app.command()(cluster)
app.command()(drive)
