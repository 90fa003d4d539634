"""`needlewright needle-set`: a needle onto a new movement, its angle and its height."""

import typer

from needlewright.cli.needle_height import height
from needlewright.cli.needle_press import press
from needlewright.cli.needle_run import run

app = typer.Typer(
    help="A needle onto a new movement: where to press it, and how far down.",
    no_args_is_help=True,
    add_completion=False,
)
app.command("run")(run)
app.command()(press)
app.command()(height)


@app.callback()
def _group() -> None:
    """A needle onto a new movement: where to press it, and how far down."""
