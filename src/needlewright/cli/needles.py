"""`needlewright needles`: which needle to leave, which to turn, and which is not to blame."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.read import rounded
from needlewright.composing.needle_turn import needle_set_of, turn_words
from needlewright.errors import RunError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.plans.needle_set import NeedleSet
from needlewright.readings.complete import complete_run
from needlewright.readings.run_csv import read_run
from needlewright.units import unit_for_people

HEADLINES: Final = {
    "leave": ("LEAVE IT", "bold green"),
    "turn": ("TURN", "bold yellow"),
    "not_the_seat": ("NOT THE SEAT", "bold red"),
    None: ("NOTHING TO SAY", "bold yellow"),
}
"""Words and their colour, which is never the only sign."""


def needles(
    run_csv: Annotated[Path, typer.Argument(metavar="RUN.csv", help="A run, measured or typed.")],
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    run_name: Annotated[
        str | None,
        typer.Option("--run", metavar="NAME", help="Which run, where the file holds several."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Tell for every needle of a run whether to leave it, to turn it, or to look elsewhere."""
    cluster = load_family(family)
    run = complete_run(read_run(run_csv, run_name), cluster)
    found = [(dial, one) for dial in cluster.dials if (one := needle_set_of(cluster, run, dial))]
    if not found:
        raise RunError(f"{run_csv}: run '{run.name}' has no row of any dial")
    say_rehearsed(run, as_json=as_json)
    if as_json:
        console.emit_json(needles_document([one for _, one in found]))
        return
    show_needles(cluster, run.name, found)


def show_needles(family: Family, run: str, found: Sequence[tuple[Dial, NeedleSet]]) -> None:
    """The instruction for each dial, for people."""
    console.out.print(Text(f"run {run}, family {family.name}; ± is U, k = 2 (about 95 %)\n"))
    for dial, one in found:
        headline, style = HEADLINES[one.verdict]
        console.out.print(Text(f"{one.dial}: {headline}", style=style))
        for line in (_turn_words(dial, one), _margin_words(one), one.reason):
            if line:
                console.say_indented(line)
        console.out.print()


def needles_document(found: list[NeedleSet]) -> dict[str, Any]:
    """The JSON document of `needlewright needles --json`."""
    return {"dials": {one.dial: _dial_document(one) for one in found}}


def _dial_document(one: NeedleSet) -> dict[str, Any]:
    worst = one.worst_point
    return {
        "verdict": one.verdict,
        "turn_deg": rounded(one.turn_deg),
        "u_turn_deg": rounded(one.u_turn_deg),
        "margin_before": rounded(one.margin_before),
        "margin_after": rounded(one.margin_after),
        "margin_unit": one.margin_unit,
        "worst_point": None
        if worst is None
        else {"commanded": worst.commanded, "approach": worst.approach},
        "reason": one.reason,
    }


def _turn_words(dial: Dial, one: NeedleSet) -> str:
    """The turn in the three measures a hand understands; only where there is one to make."""
    turn = turn_words(dial, one)
    if turn is None:
        return ""
    return (
        f"{turn.degrees}° {turn.side} = {turn.tip_widths} tip widths"
        f" = about {turn.graduations} graduations of {turn.graduation}"
    )


def _margin_words(one: NeedleSet) -> str:
    if one.margin_before is None or one.worst_point is None:
        return ""
    unit = unit_for_people(one.margin_unit)
    point = f"{one.worst_point.commanded:g} {unit} {one.worst_point.approach}"
    side = "inside" if one.margin_before >= 0 else "outside"
    now = f"{abs(one.margin_before):.2g} {unit} {side} the rule at {point}"
    if one.verdict != "turn" or one.margin_after is None:
        return now
    then = "inside" if one.margin_after >= 0 else "outside"
    return f"{now}; after the turn {abs(one.margin_after):.2g} {then}"
