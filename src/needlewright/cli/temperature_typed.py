"""`needlewright temperature-series thermometer`: readings that were noted on paper, typed later."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.bench.series import KeptSeries, open_series
from needlewright.bench.series_run import READ_U_DEGC, keep_corrected
from needlewright.bench.series_state import TypedReading
from needlewright.cli import console
from needlewright.cli.temperature_conditions import AsJson
from needlewright.errors import RunError, UsageError


def thermometer(
    *,
    read: Annotated[
        list[str],
        typer.Option(
            metavar="AT@MIN=DEGC",
            help="Like -20@3.5=-17.2: in the run at -20, 3.5 minutes after the cluster was taken "
            "out, or its chamber showed the temperature.",
        ),
    ],
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder of the series.")],
    as_json: AsJson = False,
) -> None:
    """Correct the temperatures of a series by what a thermometer beside the movements showed.

    Every step's temperature is worked out anew, with what is left of its uncertainty, and put into
    the runs that are finished.
    """
    kept = open_series(out)
    stays = list(kept.state.stays)
    for text in read:
        number, reading = _reading(text, kept)
        stay = stays[number]
        stays[number] = stay.model_copy(update={"readings": (*stay.readings, reading)})
        stays[number].warming  # noqa: B018  refuses a slip before anything is kept
    kept.keep(kept.state.model_copy(update={"stays": tuple(stays)}))
    changed = keep_corrected(kept)
    if as_json:
        console.emit_json(
            {
                "folder": str(out),
                "changed": list(changed),
                "temperatures": [
                    {
                        "at_c": at.at_c,
                        "steps": [
                            {"step": step, **each.model_dump()}
                            for step, each in sorted(at.steps.items())
                        ],
                    }
                    for at in kept.state.temperatures
                ],
            }
        )
        return
    runs = ", ".join(changed) or "no finished run"
    console.out.print(f"{out}: corrected in {runs}", markup=False)


def _reading(text: str, kept: KeptSeries) -> tuple[int, TypedReading]:
    """`AT@MIN=DEGC`: which stay it is of, and what was read."""
    at_text, mark, rest = text.partition("@")
    minutes_text, equals, degc_text = rest.partition("=")
    try:
        at, minutes, degc = float(at_text), float(minutes_text), float(degc_text)
    except ValueError:
        mark = ""
        at = minutes = degc = 0.0
    if not (mark and equals) or minutes < 0.0:
        raise UsageError(
            f"--read {text}: expected a temperature of the series, minutes and what was read, like "
            "-20@3.5=-17.2"
        )
    for one in kept.state.temperatures:
        if one.at_c == at and one.steps:
            number = max(step.stay for step in one.steps.values())
            return number, TypedReading(seconds=60.0 * minutes, degc=degc, u_degc=READ_U_DEGC)
    begun = ", ".join(f"{one.at_c:g}" for one in kept.state.temperatures if one.steps) or "none yet"
    raise RunError(f"--read {text}: the series has taken no step at {at:g} degC; it has at {begun}")
