"""`needlewright backup`: the whole shop in one checked file."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli.shop_options import AsJson, ShopFolder, emit_view, say, shop_at
from needlewright.records.backup import backup as write_backup
from needlewright.records.views import BackupSummary

app = typer.Typer()


@app.command("backup")
def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file, as shop-2026-03.zip.")],
    *,
    leave_out_damaged: Annotated[
        bool,
        typer.Option("--leave-out-damaged", help="Back up the rest, and name what is damaged."),
    ] = False,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write the whole shop into one file, every hash verified."""
    with shop_at(shop) as opened:
        summary_out(write_backup(opened, file, leave_out_damaged=leave_out_damaged), as_json)


def summary_out(summary: BackupSummary, as_json: bool) -> None:
    """What a backup holds, for programs or for people."""
    if as_json:
        emit_view(summary)
        return
    mb = summary.size / 1e6
    say(f"{summary.jobs} jobs, {summary.originals} originals, {mb:.1f} MB, all verified")
    for name in summary.left_out:
        say(f"left out, as it is damaged or gone: {name}")
