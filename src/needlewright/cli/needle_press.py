"""`needlewright needle-set press`: where to drive a new movement, and where to press its needle."""

from math import isfinite
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.shop_options import shop_at
from needlewright.cli.typed_numbers import number_typed
from needlewright.composing.job_press import JobPress, job_press, set_lines
from needlewright.composing.needle_press import (
    CAUTIONS,
    DialPress,
    press_document,
    press_lines,
    presses_of,
)
from needlewright.composing.pressed_needles import shop_pressed
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.findings.wording import share_words
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
        Path | None,
        typer.Argument(
            metavar="RUN.csv",
            help="The movements' own run with any needle pushed on, first at rest after homing.",
        ),
    ] = None,
    *,
    family: Annotated[
        Path | None, typer.Option(metavar="DIR", help="The family's folder, with a file.")
    ] = None,
    job: Annotated[
        str | None,
        typer.Option(metavar="TAG", help="A job's run of its new movements, in place of a file."),
    ] = None,
    run_name: Annotated[
        str | None,
        typer.Option("--run", metavar="NAME", help="Which run, where file or job hold several."),
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
            metavar="DIR", help="A shop's folder: the job's, and its own needles tell the hand."
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
    if job is not None:
        if run_csv is not None or family is not None or hand is not None:
            raise UsageError(
                "--job: goes without a file, --family and --hand; run, family and hand are the "
                "job's"
            )
        with shop_at(shop) as opened:
            found = job_press(opened, job, name=run_name, only=dial, at=_values(at or []))
        _show_job(found, as_json=as_json)
        return
    if run_csv is None or family is None:
        raise UsageError("give a run's file with its --family, or --job")
    cluster = load_family(family)
    run = complete_run(read_run(run_csv, run_name), cluster)
    pressed = () if hand is None else read_pressed(hand, cluster)
    if shop is not None:
        with shop_at(shop) as opened:
            pressed += shop_pressed(opened)
    spread = hand_spread(pressed)
    planned = presses_of(cluster, run, spread, only=dial, at=_values(at or []))
    say_rehearsed(run, as_json=as_json)
    if as_json:
        console.emit_json(press_document(planned, spread))
        return
    console.out.print(Text(f"run {run.name}, family {cluster.name}\n"))
    for one in planned:
        _say_dial(one, ())
    _say_cautions()


def _show_job(found: JobPress, *, as_json: bool) -> None:
    say_rehearsed(found.run, as_json=as_json)
    if as_json:
        came_to = {one.dial.id: one.landed for one in found.dials if one.landed is not None}
        of = {"job": found.job.tag, "run": found.sheet.name}
        planned = [one.planned for one in found.dials]
        console.emit_json(press_document(planned, found.hand, came_to, of))
        return
    head = f"job {found.job.tag}, run {found.sheet.name}, family {found.family.name}"
    if found.chance is not None:
        head += f"; expected pass of {found.whose}: {share_words(found.chance)}"
    console.out.print(Text(f"{head}\n"))
    for one in found.dials:
        _say_dial(one.planned, set_lines(one))
    _say_cautions()


def _say_dial(one: DialPress, more: tuple[str, ...]) -> None:
    headline, style = HEADLINES[None if one.press is None else one.press.verdict]
    console.out.print(Text(f"{one.dial.id}: {headline}", style=style))
    for line in (*press_lines(one), *more):
        console.say_indented(line)
    console.out.print()


def _say_cautions() -> None:
    for caution in CAUTIONS:
        console.out.print(Text(caution))


def _values(typed: list[str]) -> dict[str, float]:
    found = {}
    for one in typed:
        name, _, number = one.partition("=")
        try:
            found[name] = number_typed(number, f"--at {one}")
        except ValueError as error:
            raise UsageError(f"--at {one}: a dial and a value are expected, speed=80") from error
        if not isfinite(found[name]):
            raise UsageError(f"--at {one}: the value must be a finite number")
    return found
