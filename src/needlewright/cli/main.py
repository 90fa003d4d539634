"""The entry point: one Typer application, one place where errors become sentences."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from typing import Annotated, Any, Final

import typer
from pydantic import ValidationError
from typer.core import TyperCommand, TyperGroup
from typer.exceptions import TyperException
from typer.main import get_command

from needlewright import __version__
from needlewright.cli import console
from needlewright.cli.command_table import COMMANDS
from needlewright.cli.typed_numbers import take_decimal_commas
from needlewright.errors import NeedlewrightError

STOPPED: Final = "stopped"
STOPPED_CODE: Final = 130
"""As shells have it for a program ended by Ctrl-C: 128 and the signal's number."""


_OF_FILES: Final[dict[type[OSError], str]] = {
    IsADirectoryError: "is a folder; name a file in it",
    NotADirectoryError: "lies below a file and not below a folder; name another place",
    FileNotFoundError: "there is no such file or folder; correct the name",
    FileExistsError: "is there already; name another",
    PermissionError: "is not allowed to whoever runs this; check its rights",
}


class _InOrderOfWork(TyperGroup):
    """Lists a group before plain commands: a family is described before anything is read.

    A command is loaded when it is called; the list of them is made without.
    """

    _is_listing = False

    def list_commands(self, ctx: Any) -> list[str]:
        """Names in the order of the help."""
        del ctx
        return [*sorted(COMMANDS, key=lambda name: not COMMANDS[name].is_group), *self.commands]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of that name; while commands are listed, what stands for it in the list."""
        del ctx
        listed = COMMANDS.get(cmd_name)
        if listed is None:
            return self.commands.get(cmd_name)
        if self._is_listing:
            return TyperCommand(cmd_name, help=listed.summary)
        return _loaded(cmd_name)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """The help, for which no command is loaded."""
        with self._listing():
            super().format_help(ctx, formatter)

    def shell_complete(self, ctx: Any, incomplete: str) -> Any:
        """What a shell may complete, likewise."""
        with self._listing():
            return super().shell_complete(ctx, incomplete)

    @contextmanager
    def _listing(self) -> Iterator[None]:
        self._is_listing = True
        try:
            yield
        finally:
            self._is_listing = False


@cache
def _loaded(name: str) -> Any:
    """A command of the table, with everything it needs."""
    listed = COMMANDS[name]
    module = import_module(f"needlewright.cli.{listed.module}")
    if listed.function:
        alone = typer.Typer(add_completion=False)
        alone.command()(getattr(module, listed.function))
        command = get_command(alone)
    else:
        command = get_command(module.app)
    take_decimal_commas(command)
    command.name = name
    return command


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
        sentence, code = f"{error.filename or 'file'}: {_system_words(error)}", 1
    except Exception as error:
        sentence, code = f"this should not have happened ({type(error).__name__}: {error})", 1
    if sentence:
        console.say_error(sentence)
    return code


def _system_words(error: OSError) -> str:
    """What the system says of a file, in our own words where there are some."""
    for kind, words in _OF_FILES.items():
        if isinstance(error, kind):
            return words
    return error.strerror or str(error)


def _usage_words(error: TyperException) -> str:
    """What the parser says, in one line and with what was typed; empty after the help was shown."""
    words = " ".join(error.format_message().replace("Value error, ", "").split())
    wrong = error.__cause__
    if isinstance(wrong, ValidationError):
        given = repr(wrong.errors()[0]["input"])
        words += "" if given in words else f", found {given}"
    return words
