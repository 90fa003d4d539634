"""`needlewright restore`: out of a backup into a new folder."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli.backup import summary_out
from needlewright.cli.shop_options import AsJson
from needlewright.records.restore import restore as put_back

app = typer.Typer()


@app.command("restore")
def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="As needlewright backup wrote it.")],
    *,
    into: Annotated[
        Path, typer.Option(metavar="DIR", help="A new or empty folder; it is the shop then.")
    ],
    as_json: AsJson = False,
) -> None:
    """Put a backup into a new folder; nothing is ever written over."""
    summary_out(put_back(file, into), as_json)
