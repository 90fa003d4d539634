"""`needlewright sweep`: every needle through a video, what happened to it, and how it moved."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Final

import numpy as np
import typer
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.progress import progress_bar
from needlewright.cli.written import write_file
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.event import Event, EventFault
from needlewright.findings.summary import Summary, summarise
from needlewright.findings.sweep_events import find_events
from needlewright.papers.sweep_chart import ChartMark, SweepChart, sweep_charts_svg
from needlewright.readings.flags import REASONS
from needlewright.readings.sweep import follow_video
from needlewright.readings.track import DialTrack, Track

UNKNOWN_LENGTH: Final = 1000
FAULT_WORDS: Final[Mapping[EventFault, str]] = {
    "lost_steps": "lost steps",
    "dragging": "drags",
    "stalled": "stalled",
    "blocked": "blocked",
    "backlash": "backlash",
}

app = typer.Typer(add_completion=False)


@app.command()
def sweep(
    video: Annotated[Path, typer.Argument(metavar="VIDEO", help="A video of one cluster.")],
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    chart: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="SVG file for a chart of every needle over time."),
    ] = None,
) -> None:
    """Follow every needle through a video and name what went wrong.

    Times are those a player shows. Slow sweeps to full scale and back show most.
    """
    cluster = load_family(family)
    with progress_bar("following", UNKNOWN_LENGTH) as told:
        track, damaged = follow_video(cluster, video, told)
    events = events_of(cluster, track)
    summaries = {dial.id: summarise(track.dials[dial.id], dial) for dial in cluster.dials}
    if chart is not None:
        write_file(chart, sweep_charts_svg(charts_of(track, events)).encode())
    if as_json:
        console.emit_json(sweep_document(track, events, summaries))
    else:
        _show(track, events, summaries)
        if chart is not None:
            console.out.print(f"chart in {chart}", markup=False)
    if damaged is not None:
        console.say_error(damaged)
        raise typer.Exit(1)


def events_of(family: Family, track: Track) -> tuple[Event, ...]:
    """What happened to the needles of a track, in time order."""
    found = [e for dial in family.dials for e in find_events(track.dials[dial.id], dial)]
    return tuple(sorted(found, key=lambda event: event.t_s))


def sweep_document(
    track: Track, events: tuple[Event, ...], summaries: Mapping[str, Summary]
) -> dict[str, Any]:
    """The JSON document of `needlewright sweep --json`."""
    return {
        "frames": [
            {
                "t_s": _rounded(t_s),
                "dials": {name: _seen(dial, i) for name, dial in track.dials.items()},
            }
            for i, t_s in enumerate(track.t_s)
        ],
        "events": [
            {name: _rounded(value) for name, value in asdict(event).items()} for event in events
        ],
        "summary": {
            dial: {name: _rounded(value) for name, value in asdict(summary).items()}
            for dial, summary in summaries.items()
        },
    }


def charts_of(track: Track, events: tuple[Event, ...]) -> list[SweepChart]:
    """What the chart of every needle that was seen is drawn from."""
    return [
        SweepChart(
            name,
            dial.t_s,
            dial.angle_deg,
            dial.speeds_deg_s(),
            tuple(ChartMark(e.t_s, event_words(e)) for e in events if e.dial == name),
        )
        for name, dial in track.dials.items()
    ]


def event_words(event: Event) -> str:
    """An event in few words with its size."""
    sign = "+" if event.fault == "lost_steps" else ""
    where = "at " if event.fault in ("stalled", "blocked") else ""
    size = f"{event.size_deg:{sign}.1f}".replace("-", "−")
    return f"{FAULT_WORDS[event.fault]} {where}{size}°"


def _seen(dial: DialTrack, i: int) -> dict[str, float | None] | None:
    if not dial.seen[i]:
        return None
    return {
        "angle_deg": _rounded(float(dial.angle_deg[i])),
        "u_angle_deg": _rounded(float(dial.u_angle_deg[i])),
    }


def _rounded(value: Any) -> Any:
    return round(float(value), 6) if isinstance(value, float | np.floating) else value


def _show(track: Track, events: tuple[Event, ...], summaries: Mapping[str, Summary]) -> None:
    console.out.print(
        f"family {track.family}; {track.frames} frames in {track.t_s[-1]:.2f} s", markup=False
    )
    table = Table(box=None, padding=(0, 2, 0, 0))
    for number, heading in enumerate(
        ("dial", "read", "start, deg", "end, deg", "swept, deg", "peak, deg/s", "median u, deg", "")
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
            f"{np.median(dial.u_angle_deg[dial.seen]):.2f}" if dial.seen.any() else "",
            _lost_words(dial),
        )
    console.out.print(table)
    if not events:
        console.out.print("nothing went wrong that a video shows")
    for event in events:
        console.out.print(
            Text(
                f"{event.t_s:8.2f} s  {event.dial}: {event_words(event)} "
                f"(u {event.u_size_deg:.2f}, k = 1)"
            )
        )


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def _lost_words(dial: DialTrack) -> str:
    """Why a needle was most often not read, where it often was not."""
    lost = [reason for reason in dial.reasons if reason is not None]
    if len(lost) <= len(dial.reasons) // 20:
        return ""
    most = max(set(lost), key=lost.count)
    return f"{REASONS[most].short} in {lost.count(most)} frames"
