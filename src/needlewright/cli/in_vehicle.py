"""`needlewright in-vehicle`: whether a cluster shows what it is told."""

from math import isfinite
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.progress import progress_bar
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.bench_devices import REHEARSED
from needlewright.composing.in_vehicle import (
    CheckInVehicle,
    check_in_vehicle,
    in_vehicle_charts,
    in_vehicle_document,
    moments_of,
)
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.findings.in_vehicle import SHARED, DialInVehicle
from needlewright.findings.wording import share_words
from needlewright.papers.in_vehicle_chart import in_vehicle_charts_svg
from needlewright.papers.wording import sentence_for_people
from needlewright.readings.batch import PictureProblem, read_photos
from needlewright.readings.moment_in_log import CLOCK_DOUBT_S
from needlewright.rules.decision import COVERAGE_K
from needlewright.signals.port_log.reading import read_port_log

CAUTION: Final = (
    "Photos in a moving vehicle are taken by a passenger, never by the driver; with the wheels off "
    "the ground or on rollers only by people who may work there. Keep away from airbags and their "
    "wires; local rules go first."
)
EXPANDED: Final = (
    "± of a shown value: reading it from the photo. ± of a needle too low or too high: that, the "
    "shaft off its centre, the movement, and what the port said."
)
VERDICTS: Final = {
    "shows_what_it_is_told": "SHOWS WHAT IT IS TOLD",
    "does_not": "DOES NOT SHOW WHAT IT IS TOLD",
    "undecided": "UNDECIDED",
    "not_comparable": "NOT COMPARABLE",
}
STYLES: Final = {"shows_what_it_is_told": "green", "does_not": "red"}

app = typer.Typer(add_completion=False)


@app.command(epilog=CAUTION)
def in_vehicle(
    photos: Annotated[
        list[str], typer.Argument(metavar="PHOTO...", help="Photos of the dashboard.")
    ],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    log: Annotated[
        Path,
        typer.Option(
            metavar="FILE",
            help="Log of the diagnostic port: .asc, .blf, .csv, .db, .trc or candump's .log, each "
            "also as .gz; or a .csv headed time,pid,value,unit or time,answer.",
        ),
    ],
    at: Annotated[
        str | None,
        typer.Option(
            metavar="TIME",
            help="When the first photo was taken: seconds from the log's beginning, or a day and "
            "time. As the camera says otherwise.",
        ),
    ] = None,
    clock_offset: Annotated[
        float,
        typer.Option(metavar="S", help="Seconds the camera's clock is ahead of the log's."),
    ] = 0.0,
    clock_doubt: Annotated[
        float,
        typer.Option(metavar="S", help="Seconds the moment may be off by, either way."),
    ] = CLOCK_DOUBT_S,
    steady: Annotated[
        float | None,
        typer.Option(
            metavar="S",
            help="Nothing changed over the last S seconds of the log: photos need no time.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.svg", help="Chart: what the port said, and what the needle showed."
        ),
    ] = None,
    max_speed: Annotated[
        float | None,
        typer.Option(metavar="V", help="Maximum design speed in the speedometer's unit."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Say whether a cluster shows what it is told: dashboard photos against the diagnostic port.

    Says for every dial whether it shows what it is told (then test the sender), or not (then it is
    the cluster), or why the two cannot be compared. Several photos of one log count together.
    """
    _refuse_contradiction(at, clock_offset, clock_doubt, steady)
    if out is not None:
        refuse_missing_folder(out)
    cluster, said = load_family(family), read_port_log(log)
    moments = moments_of(
        said,
        photos,
        at=at,
        clock_offset_s=clock_offset,
        clock_doubt_s=clock_doubt,
        steady_s=steady,
    )
    with progress_bar("reading", len(photos)) as on_progress:
        outcomes = read_photos(cluster, photos, on_progress)
    check = check_in_vehicle(cluster, said, moments, outcomes, steady_s=steady, max_speed=max_speed)
    drawn = in_vehicle_charts(cluster, check) if out is not None else ()
    if out is not None and drawn:
        write_file(out, in_vehicle_charts_svg(drawn).encode())
    if as_json:
        console.emit_json(in_vehicle_document(cluster, check))
    else:
        _show(check)
        if out is not None:
            chart = f"chart in {out}" if drawn else "no chart: no dial has an answer in the log"
            console.out.print(chart, markup=False)
    problems = [one for one in outcomes if isinstance(one, PictureProblem)]
    for problem in problems:
        console.say_error(problem.reason)
    if problems:
        raise typer.Exit(1)


def _refuse_contradiction(
    at: str | None, clock_offset: float, clock_doubt: float, steady: float | None
) -> None:
    if not isfinite(clock_offset):
        raise UsageError(f"--clock-offset {clock_offset}: expected seconds")
    if not isfinite(clock_doubt) or clock_doubt < 0:
        raise UsageError(f"--clock-doubt {clock_doubt}: expected seconds, 0 or more")
    if steady is not None and (not isfinite(steady) or steady <= 0):
        raise UsageError(f"--steady {steady}: expected seconds above 0")
    if at is not None and clock_offset:
        raise UsageError("--at says the moment itself; leave --clock-offset out")
    if steady is not None and (at is not None or clock_offset):
        raise UsageError("--steady needs no moment; leave --at and --clock-offset out")


def _show(check: CheckInVehicle) -> None:
    log = check.log
    console.out.print(
        Text(f"{log.path}, {log.range_words}; ± is U, k = 2 (about 95 %)", style="bold")
    )
    console.out.print(Text(f"{EXPANDED}\n", style="dim"))
    for moment in check.moments:
        if moment.at_s is None:
            when = f"the last {check.steady_s} s of the log, taken for steady"
        else:
            when = f"{log.moment_words(moment.at_s)}, give or take {moment.doubt_s:g} s"
        remark = f" ({moment.remark})" if moment.remark else ""
        console.out.print(f"{moment.photo}: {when}{remark}", markup=False)
    if check.rehearsed:
        console.out.print(f"rehearsed: {REHEARSED}", markup=False)
    for remark in log.remarks:
        console.out.print(remark, markup=False)
    console.out.print()
    for dial in check.dials:
        _show_dial(dial)
    console.out.print(Text(SHARED, style="dim"))
    console.out.print(Text(CAUTION, style="dim"))


def _show_dial(dial: DialInVehicle) -> None:
    heading = f"{dial.dial}: {VERDICTS[dial.verdict]}"
    if dial.probability is not None and dial.verdict == "shows_what_it_is_told":
        heading += f", {share_words(dial.probability)}"
    elif dial.probability is not None and dial.verdict == "does_not":
        heading += f", {share_words(1.0 - dial.probability)}"
    console.out.print(Text(heading, style=STYLES.get(dial.verdict, "yellow")))
    console.say_indented(sentence_for_people(dial.words))
    for row in dial.rows:
        if not row.comparable and dial.ratio is not None:
            console.say_indented(sentence_for_people(f"{row.photo} left out: {row.why_not}"))
        elif row.error_deg is not None and row.u_error_deg is not None:
            console.say_indented(
                sentence_for_people(
                    f"{row.photo}: needle {_off(row.error_deg, COVERAGE_K * row.u_error_deg)}; a "
                    f"sound one at most {row.low_deg:.1f} too low and {row.high_deg:.1f} too high"
                )
            )
    console.out.print()


def _off(error_deg: float, expanded: float) -> str:
    """How far a needle stands from where it belongs."""
    if abs(error_deg) < 0.05:
        return f"where it belongs, ± {expanded:.1f} degrees"
    way = "low" if error_deg < 0 else "high"
    return f"{abs(error_deg):.1f} ± {expanded:.1f} degrees too {way}"
