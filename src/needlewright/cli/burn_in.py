"""`needlewright burn-in`: a cluster left running for hours, planned, run, reported."""

import typer

from needlewright.cli.burn_in_plan import plan
from needlewright.cli.burn_in_report import report
from needlewright.cli.burn_in_run import run_burn_in

app = typer.Typer(
    help="A cluster left running for hours: what that is worth, the run, its report.",
    no_args_is_help=True,
    add_completion=False,
)
app.command()(plan)
app.command("run")(run_burn_in)
app.command()(report)
