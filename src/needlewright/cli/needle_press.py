"""`needlewright needle-set press`: where to drive a new movement, and where to press its needle."""

from math import isfinite
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.shop_options import shop_at
from needlewright.composing.needle_press import CAUTIONS, press_document, press_lines, presses_of
from needlewright.composing.pressed_needles import shop_pressed
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.plans.pressing.hand import hand_spread
from needlewright.plans.pressing.hand_csv import read_pressed
from needlewright.readings.complete import complete_run
from needlewright.readings.run_csv import read_run

HEADLINES: Final = {
    "press": ("PRESS", "bold green"),
    "no_place": ("NO PLACE", "bold red"),
    None: ("NOTHING TO SAY", "bold yellow"),
}
"""Words and their colour, which is never the only sign."""


def press(
    run_csv: Annotated[
        Path,
        typer.Argument(
            metavar="RUN.csv",
            help="The movements' own run with any needle pushed on, first at rest after homing.",
        ),
    ],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    run_name: Annotated[
        str | None,
        typer.Option("--run", metavar="NAME", help="Which run, where the file holds several."),
    ] = None,
    hand: Annotated[
        Path | None,
        typer.Option(
            metavar="HAND.csv",
            help="Needles this shop has pressed: dial, intended_deg, achieved_deg.",
        ),
    ] = None,
    shop: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="A shop's folder: the needles set under its live picture count too."
        ),
    ] = None,
    dial: Annotated[
        str | None, typer.Option(metavar="DIAL", help="This dial only; unless stated, all.")
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(
            metavar="DIAL=VALUE", help="Press this dial's needle at that value; may be repeated."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Tell where to drive each new movement, and at which angle to press its needle on."""
    cluster = load_family(family)
    run = complete_run(read_run(run_csv, run_name), cluster)
    pressed = () if hand is None else read_pressed(hand, cluster)
    if shop is not None:
        with shop_at(shop) as opened:
            pressed += shop_pressed(opened)
    spread = hand_spread(pressed)
    found = presses_of(cluster, run, spread, only=dial, at=_values(at or []))
    say_rehearsed(run, as_json=as_json)
    if as_json:
        console.emit_json(press_document(found, spread))
        return
    console.out.print(Text(f"run {run.name}, family {cluster.name}\n"))
    for one in found:
        headline, style = HEADLINES[None if one.press is None else one.press.verdict]
        console.out.print(Text(f"{one.dial.id}: {headline}", style=style))
        for line in press_lines(one):
            console.say_indented(line)
        console.out.print()
    for caution in CAUTIONS:
        console.out.print(Text(caution))


def _values(typed: list[str]) -> dict[str, float]:
    found = {}
    for one in typed:
        name, _, number = one.partition("=")
        try:
            found[name] = float(number)
        except ValueError as error:
            raise UsageError(f"--at {one}: a dial and a value are expected, speed=80") from error
        if not isfinite(found[name]):
            raise UsageError(f"--at {one}: the value must be a finite number")
    return found
