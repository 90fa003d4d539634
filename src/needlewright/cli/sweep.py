"""`needlewright sweep`: every needle through a video, what happened to it, and how it moved."""

from pathlib import Path
from typing import Annotated, Final

import numpy as np
import typer
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.progress import progress_bar
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.sweeps import (
    Followed,
    charts_of,
    event_doubt,
    event_words,
    follow_sweep,
)
from needlewright.composing.told_sweeps import told_words
from needlewright.families.folder import load_family
from needlewright.papers.sweep_chart import sweep_charts_svg
from needlewright.readings.flags import REASONS
from needlewright.readings.told_sweep import read_told_sweep
from needlewright.readings.track import DialTrack
from needlewright.rules.decision import COVERAGE_K

UNKNOWN_LENGTH: Final = 1000
NOTHING: Final = {
    False: "nothing went wrong that shows without what the dials were told",
    True: "nothing went wrong that shows beside what the dials were told",
}

app = typer.Typer(add_completion=False)


@app.command()
def sweep(
    video: Annotated[Path, typer.Argument(metavar="VIDEO", help="A video of one cluster.")],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    chart: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="SVG file for a chart of every needle over time."),
    ] = None,
    told: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="CSV of what the dials were told: t_s,dial,commanded,unit. With it more is found.",
        ),
    ] = None,
    knocked: Annotated[
        bool,
        typer.Option(
            "--knocked",
            help="The cluster was knocked and flexed lightly while it was filmed: needles that "
            "fail in one instant are then the answer to that test.",
        ),
    ] = False,
) -> None:
    """Follow every needle through a video and name what went wrong.

    Times are those a player shows. Slow sweeps to full scale and back show most.
    """
    if chart is not None:
        refuse_missing_folder(chart)
    cluster = load_family(family)
    told_sweep = None if told is None else read_told_sweep(told, cluster)
    with progress_bar("following", UNKNOWN_LENGTH) as on_progress:
        followed = follow_sweep(cluster, video, on_progress, told_sweep)
    if chart is not None:
        charts = charts_of(followed.track, followed.events)
        write_file(chart, sweep_charts_svg(charts).encode())
    if as_json:
        console.emit_json(followed.document(knocked=knocked))
    else:
        _show(followed)
        if knocked:
            console.out.print(f"knocked: {followed.together().words}", markup=False)
        if chart is not None:
            console.out.print(f"chart in {chart}", markup=False)
    if followed.damaged is not None:
        console.say_error(followed.damaged)
        raise typer.Exit(1)


def _show(followed: Followed) -> None:
    track, summaries = followed.track, followed.summaries
    console.out.print(
        f"family {track.family}; {_frames(track.frames)} in {track.t_s[-1]:.2f} s",
        markup=False,
    )
    if followed.placed is not None:
        console.out.print(told_words(followed.placed), markup=False)
    console.out.print("± is U, k = 2 (about 95 %): of a reading its median over the video")
    table = Table(box=None, padding=(0, 2, 0, 0))
    for number, heading in enumerate(
        ("dial", "read", "start, deg", "end, deg", "swept, deg", "peak, deg/s", "±, deg", "")
    ):
        table.add_column(heading, justify="left" if number in (0, 7) else "right")
    for name, dial in track.dials.items():
        summary = summaries[name]
        table.add_row(
            name,
            f"{100 * dial.share_seen:.0f} %",
            *map(
                _number,
                (summary.start_deg, summary.end_deg, summary.swept_deg, summary.peak_deg_s),
            ),
            f"{COVERAGE_K * np.median(dial.u_angle_deg[dial.seen]):.2f}" if dial.seen.any() else "",
            _lost_words(dial),
        )
    console.out.print(table)
    if not followed.events:
        console.out.print(NOTHING[followed.placed is not None])
    for event in followed.events:
        console.out.print(
            Text(f"{event.t_s:8.2f} s  {event.dial}: {event_words(event)} ({event_doubt(event)})")
        )
    for finding in followed.findings:
        if finding.cause is not None:
            console.out.print(Text(finding.words, style="bold"))


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def _lost_words(dial: DialTrack) -> str:
    """Why a needle was most often not read, where it often was not."""
    lost = [reason for reason in dial.reasons if reason is not None]
    if len(lost) <= len(dial.reasons) // 20:
        return ""
    most = max(set(lost), key=lost.count)
    return f"{REASONS[most].short} in {_frames(lost.count(most))}"


def _frames(count: int) -> str:
    return f"{count} frame" + ("" if count == 1 else "s")
