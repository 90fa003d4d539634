"""The entry point: one Typer application, one place where errors become sentences."""

import sys
from typing import Annotated, Any, Final

import typer
from typer.core import TyperGroup
from typer.exceptions import TyperException

from needlewright import __version__
from needlewright.cli import console, family
from needlewright.cli.before_after import before_after
from needlewright.cli.certify import certify
from needlewright.cli.demo import demo
from needlewright.cli.look import look
from needlewright.cli.needles import needles
from needlewright.cli.read import read
from needlewright.cli.report import report
from needlewright.cli.rules import rules
from needlewright.cli.run import run_photos
from needlewright.errors import NeedlewrightError

STOPPED: Final = "stopped"
STOPPED_CODE: Final = 130
"""As shells have it for a program ended by Ctrl-C: 128 and the signal's number."""


class _InOrderOfWork(TyperGroup):
    """Lists a group before plain commands: a family is described before anything is read."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Names in the order of the help."""
        names = super().list_commands(ctx)
        return sorted(names, key=lambda name: not isinstance(self.commands[name], TyperGroup))


app = typer.Typer(
    name="needlewright",
    cls=_InOrderOfWork,
    help="From photos of an instrument cluster's needles to readings, verdicts and proof.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=True,
)


@app.callback()
def _group() -> None:
    """From photos of an instrument cluster's needles to readings, verdicts and proof."""


def version(
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Print the version."""
    if as_json:
        console.emit_json({"version": __version__})
        return
    console.out.print(__version__)


app.add_typer(family.app, name="family")
app.command()(read)
app.command()(look)
app.command("run")(run_photos)
app.command()(needles)
app.command("before-after")(before_after)
app.command()(report)
app.command()(certify)
app.command()(rules)
app.command()(demo)
app.command()(version)


def run(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit code.

    Parameters
    ----------
    arguments
        Words after the program's name; None takes them from the process.

    Raises
    ------
    SystemExit
        Always: 0 done (refusals included), 1 an input could not be used, 2 wrong usage.
    """
    sys.exit(_exit_code(arguments))


def _exit_code(arguments: list[str] | None) -> int:
    sentence, code = "", 0
    try:
        outcome: Any = app(args=arguments, standalone_mode=False)
        code = outcome if isinstance(outcome, int) else 0
        sentence = STOPPED if code == STOPPED_CODE else ""  # Ctrl-C comes back as a code
    except NeedlewrightError as error:
        sentence, code = str(error), error.exit_code
    except typer.Exit as leave:
        code = leave.exit_code
    except TyperException as error:
        # the message is empty when the help has just been shown
        sentence, code = error.format_message(), error.exit_code
    except (KeyboardInterrupt, typer.Abort):
        sentence, code = STOPPED, STOPPED_CODE
    except OSError as error:
        sentence, code = f"{error.filename or 'file'}: {error.strerror or error}", 1
    except Exception as error:
        sentence, code = f"this should not have happened ({type(error).__name__}: {error})", 1
    if sentence:
        console.say_error(sentence)
    return code
