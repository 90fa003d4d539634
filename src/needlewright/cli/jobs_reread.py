"""`needlewright jobs reread`: the photos of a run by another version of its family."""

from typing import Annotated, Any

import typer
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.jobs_runs import RunName, run_named
from needlewright.cli.progress import progress_bar
from needlewright.cli.shop_options import AsJson, ShopFolder, Tag, plain, say, shop_at
from needlewright.composing.rereading import Rereading, RereadNeedle
from needlewright.composing.rereading import reread as read_once_more
from needlewright.records.runs import run_sheet


def reread(
    tag: Tag,
    run: RunName,
    *,
    family_version: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            min=1,
            help="Version of the family to read by; by default the one new jobs are worked by.",
        ),
    ] = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Read a run's photos once more by another version of its family; nothing stored changes."""
    with shop_at(shop) as opened:
        run_id = run_named(opened, tag, run)
        with progress_bar("reading", len(run_sheet(opened, run_id).photos)) as told:
            found = read_once_more(opened, run_id, family_version, told)
    if as_json:
        console.emit_json(_document(found))
        return
    say(
        f"job {found.job}, run {found.run}, family {found.family}: read by version {found.number}, "
        f"and again by version {found.again_number}"
    )
    console.out.print(_table(found))
    say("Nothing that is stored was changed.")


def add_to(app: typer.Typer) -> None:
    """Put the command into the group."""
    app.command("reread")(reread)


def _document(found: Rereading) -> dict[str, Any]:
    document: dict[str, Any] = plain(found)
    for needle, of in zip(document["needles"], found.needles, strict=True):
        needle["turn_deg"] = of.turn_deg
    return document


def _table(found: Rereading) -> Table:
    table = Table(header_style="bold")
    for head in ("step", "dial", f"version {found.number}, deg", f"version {found.again_number}"):
        table.add_column(head, justify="left" if head == "dial" else "right")
    table.add_column("differs, deg", justify="right")
    for one in found.needles:
        table.add_row(*map(Text, (str(one.step), one.dial, _stored(one), _again(one), _turn(one))))
    return table


def _stored(one: RereadNeedle) -> str:
    return _angle(one.angle_deg, one.u_angle_deg) or "refused"


def _again(one: RereadNeedle) -> str:
    return _angle(one.again_angle_deg, one.again_u_angle_deg) or f"refused: {one.again_reason}"


def _angle(angle_deg: float | None, u_deg: float | None) -> str:
    if angle_deg is None:
        return ""
    return f"{angle_deg:.2f}" + ("" if u_deg is None else f" ± {2 * u_deg:.2f}")


def _turn(one: RereadNeedle) -> str:
    return "" if one.turn_deg is None else f"{one.turn_deg:+.2f}"
