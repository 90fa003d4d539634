"""`needlewright temperature-series`: the same run at several temperatures, cold bag or chamber."""

import typer

from needlewright.cli.temperature_onset import onset
from needlewright.cli.temperature_plan import plan
from needlewright.cli.temperature_run import run_series
from needlewright.cli.temperature_typed import thermometer

app = typer.Typer(
    help="The same bench run at several temperatures: what fails in the cold, and below which.",
    no_args_is_help=True,
    add_completion=False,
)
app.command()(plan)
app.command("run")(run_series)
app.command()(thermometer)
app.command()(onset)
