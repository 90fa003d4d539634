"""`needlewright sums`: the sums of the workbench, listed and worked out.

Each sum is a command of its own whose options are the inputs that it describes itself.
"""

from collections.abc import Callable
from inspect import Parameter, Signature
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.written import write_file
from needlewright.composing.sums import answer_document, drawing, list_document
from needlewright.errors import UsageError
from needlewright.plans.sums.bench_units import for_people
from needlewright.plans.sums.catalogue import SUMS
from needlewright.plans.sums.model import Amount, Answered, Choice, Input, Line, Pasted, Sum
from needlewright.plans.sums.recorded_text import text_of
from needlewright.plans.sums.typed import work_out
from needlewright.plans.sums.wording import default_words, figure_words, limit, range_words

SIGNS: Final = {"good": "good", "bad": "NOT GOOD", "none": "told"}

app = typer.Typer(
    help="The sums of the workbench; without a name, lists them.", invoke_without_command=True
)
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document.")]


@app.callback()
def _sums(ctx: typer.Context, as_json: AsJson = False) -> None:
    """The sums of the workbench; without a name, lists them."""
    if ctx.invoked_subcommand is None:
        list_sums(as_json)
    elif as_json:
        name = ctx.invoked_subcommand
        raise UsageError(f"--json stands before '{name}'; write: needlewright sums {name} --json")


def list_sums(as_json: AsJson = False) -> None:
    """List the sums of the workbench; `needlewright sums` alone does the same."""
    if as_json:
        console.emit_json(list_document())
        return
    table = Table(box=None, show_header=False, pad_edge=False)
    for one in SUMS:
        table.add_row(one.name, one.title)
    console.out.print(table)
    console.out.print("\nneedlewright sums NAME --help says what each asks for.")


def _command(which: Sum[Any]) -> Callable[..., None]:
    """The command of a sum, its options those inputs."""

    def work(**options: Any) -> None:
        typed = {
            one.name: _typed(one, options[_parameter(one)])
            for one in which.inputs
            if options[_parameter(one)] is not None
        }
        answered = work_out(which, typed)
        if options["out"] is not None:
            write_file(options["out"], drawing(answered).encode("utf-8"))
        if options["as_json"]:
            console.emit_json(answer_document(answered))
        else:
            _show(answered, options["out"])

    parameters = [
        Parameter(
            _parameter(one),
            Parameter.KEYWORD_ONLY,
            default=None,
            annotation=Annotated[
                Path | None if isinstance(one, Pasted) else str | None,
                typer.Option(f"--{one.name}", metavar=_metavar(one), help=_help(one)),
            ],
        )
        for one in which.inputs
    ]
    parameters += [
        Parameter(
            "out",
            Parameter.KEYWORD_ONLY,
            default=None,
            annotation=Annotated[
                Path | None, typer.Option(metavar="FILE", help="Write the drawing there, as SVG.")
            ],
        ),
        Parameter("as_json", Parameter.KEYWORD_ONLY, default=False, annotation=AsJson),
    ]
    work.__signature__ = Signature(parameters)  # type: ignore[attr-defined]
    work.__annotations__ = {one.name: one.annotation for one in parameters}
    work.__doc__ = f"{which.title}.\n\n{which.what_for}"
    return work


def _parameter(one: Input) -> str:
    return one.name.replace("-", "_")


def _metavar(one: Input) -> str:
    if isinstance(one, Amount):
        return "NUMBER"
    return {Pasted: "FILE", Choice: "WORD", Line: "TEXT"}[type(one)]


def _help(one: Input) -> str:
    hint = f" ({one.hint})" if one.hint else ""
    if isinstance(one, Amount):
        unit = f" {for_people(one.unit)}".rstrip()
        default = "" if one.default is None else f"; {default_words(one.default)} where not given"
        return f"{one.words}: {limit(one.least)} to {limit(one.most)}{unit}{default}{hint}."
    if isinstance(one, Choice):
        words = "; ".join(
            words if words == name else f"{name}: {words}" for name, words in one.choices
        )
        return f"{one.words}: {words}. {one.default} where not given{hint}."
    if isinstance(one, Line):
        return f"{one.words}{hint}; {one.example} where not given."
    return f"{one.words}{hint}; an example where not given."


def _typed(one: Input, option: Any) -> str:
    """What an option says; of a file, its text."""
    if not isinstance(one, Pasted):
        return str(option)
    return text_of(Path(option).read_bytes())


def _show(answered: Answered[Any], out: Path | None) -> None:
    which, told = answered.sum, answered.told
    console.out.print(f"[bold]{which.title}[/bold]\n")
    rows = [(one.words, figure_words(one), range_words(one)) for one in told.figures]
    first, second = (max(len(row[i]) for row in rows) for i in (0, 1))
    for words, value, range_ in rows:
        console.out.print(Text(f"{words:<{first}}  {value:>{second}}  {range_}".rstrip()))
    for judged in told.judged:
        console.out.print(f"\n{SIGNS[judged.result]}: {judged.words}", markup=False)
    for note in told.notes:
        console.out.print(f"\n{note}", markup=False)
    console.out.print("\nWhy:")
    for step in told.steps:
        console.out.print(Text(step.words))
        console.say_indented(step.formula)
        console.say_indented(step.put_in)
    console.out.print(f"\nGood for: {which.limits}", markup=False)
    console.out.print(f"Source: {which.source}.", markup=False)
    for caution in which.cautions:
        console.out.print(f"Caution: {caution}", markup=False)
    if out is not None:
        console.out.print(f"The drawing is {out}", markup=False)


app.command("list")(list_sums)
for _one in SUMS:
    app.command(_one.name)(_command(_one))
