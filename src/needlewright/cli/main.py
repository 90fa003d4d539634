"""The entry point: one Typer application, one place where errors become sentences."""

import sys
from importlib import import_module
from typing import Annotated, Any, Final

import typer
from pydantic import ValidationError
from typer.core import TyperGroup
from typer.exceptions import TyperException
from typer.main import get_command

from needlewright import __version__
from needlewright.cli import console
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


LATE: Final = {
    "family": "needlewright.cli.family",
    "sweep": "needlewright.cli.sweep",
    "repeatability": "needlewright.cli.repeatability",
    "explain": "needlewright.cli.explain",
    "light": "needlewright.cli.light",
    "board": "needlewright.cli.board",
    "intake": "needlewright.cli.intake",
    "troubleshoot": "needlewright.cli.troubleshoot",
    "in-vehicle": "needlewright.cli.in_vehicle",
    "plan": "needlewright.cli.plan",
    "guides": "needlewright.cli.guides",
    "signal": "needlewright.cli.signal",
    "bench": "needlewright.cli.bench",
    "temperature-series": "needlewright.cli.temperature_series",
    "burn-in": "needlewright.cli.burn_in",
    "shop": "needlewright.cli.shop",
    "jobs": "needlewright.cli.jobs",
    "stock": "needlewright.cli.stock",
    "needle-set": "needlewright.cli.needle_set",
    "sums": "needlewright.cli.sums",
    "serve": "needlewright.cli.serve",
    "backup": "needlewright.cli.backup",
    "restore": "needlewright.cli.restore",
    "rehearse": "needlewright.cli.rehearse",
}
"""Commands on families, signals, the shop's records and the rehearsal, by module: what they import
is slow to load, so they are loaded when they are called, or when the help lists them. Each module
has its own `app`."""


class _InOrderOfWork(TyperGroup):
    """Lists a group before plain commands: a family is described before anything is read."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Names in the order of the help."""
        names = [name for name in (*super().list_commands(ctx), *LATE) if name != "version"]
        names = [*dict.fromkeys(names), "version"]
        return sorted(names, key=lambda name: not isinstance(self._loaded(name), TyperGroup))

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of that name, loaded now if it was not."""
        return self._loaded(cmd_name)

    def _loaded(self, name: str) -> Any:
        if name in LATE and name not in self.commands:
            command = get_command(import_module(LATE[name]).app)
            command.name = name
            self.commands[name] = command
        return self.commands.get(name)


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
        sentence, code = _usage_words(error), error.exit_code
    except (KeyboardInterrupt, typer.Abort):
        sentence, code = STOPPED, STOPPED_CODE
    except OSError as error:
        sentence, code = f"{error.filename or 'file'}: {error.strerror or error}", 1
    except Exception as error:
        sentence, code = f"this should not have happened ({type(error).__name__}: {error})", 1
    if sentence:
        console.say_error(sentence)
    return code


def _usage_words(error: TyperException) -> str:
    """What the parser says, in one line and with what was typed; empty after the help was shown."""
    words = " ".join(error.format_message().replace("Value error, ", "").split())
    wrong = error.__cause__
    if isinstance(wrong, ValidationError):
        given = repr(wrong.errors()[0]["input"])
        words += "" if given in words else f", found {given}"
    return words
