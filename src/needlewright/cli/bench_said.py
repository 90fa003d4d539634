"""What a run at the bench gave, for people and as JSON."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

import numpy as np
from rich.text import Text

from needlewright.bench.keeping import outcome_path
from needlewright.bench.outcome import LampPhoto, Outcome, Sweep
from needlewright.bench.run import Ended
from needlewright.cli import console
from needlewright.cli.run import run_document, show_run
from needlewright.cli.written import write_file
from needlewright.composing.bench_devices import REHEARSED, unit_words
from needlewright.composing.bench_sweep import read_document
from needlewright.composing.sweeps import charts_of_document, event_doubt, event_words
from needlewright.families.model import Family
from needlewright.findings.event import Event
from needlewright.papers.sweep_chart import sweep_charts_svg
from needlewright.readings.join import JoinedRun
from needlewright.rehearsal.cluster.rehearsal import Unit

BARS: Final = "▁▂▃▄▅▆▇█"
COLUMNS: Final = 56


def bench_document(ended: Ended, out: Path, unit: Unit | None) -> dict[str, Any]:
    """The JSON document of `needlewright bench --json`, but for which run it was."""
    return {
        "state": ended.state,
        "words": ended.words,
        "steps_done": ended.done,
        "steps": ended.of,
        "rehearsed": None if unit is None else _unit_document(unit),
        "outcome": asdict(ended.outcome),
        **run_document(JoinedRun(ended.run, ()), out),
    }


def show_bench(family: Family, ended: Ended, out: Path, unit: Unit | None) -> None:
    """A run for people: its table, then the sweep, the lamps and the currents."""
    if ended.run.rows:
        if unit is not None:
            console.out.print(f"{unit_words(unit)}; {REHEARSED}", markup=False)
        show_run(family, JoinedRun(ended.run, ()))
    outcome = ended.outcome
    if outcome.sweep is not None:
        _show_sweep(outcome.sweep, out.parent)
    for photo in outcome.lamps:
        console.out.print(_lamp_words(photo), markup=False)
    for line in _current_words(outcome):
        console.out.print(line, markup=False)
    if ended.run.rows:
        console.out.print(f"\nwritten to {out}", markup=False)
    if not outcome.is_empty:
        console.out.print(f"sweep, lamps and currents in {outcome_path(out)}", markup=False)


def _show_sweep(sweep: Sweep, folder: Path) -> None:
    console.out.print(
        f"\nsweep: {', '.join(sweep.dials)}; {sweep.frames} frames in {sweep.seconds:.1f} s, "
        f"{folder / sweep.video}",
        markup=False,
    )
    if sweep.at_once:
        told = ", ".join(sweep.at_once)
        console.out.print(f"told their ends only, not step by step: {told}", markup=False)
    document = read_document(folder, sweep)
    if document is not None:
        for dial in sweep.dials:
            console.out.print(f"{dial:>10}  {_bars(document, dial)}", markup=False)
        chart = (folder / sweep.video).with_suffix(".svg")
        write_file(chart, sweep_charts_svg(charts_of_document(document)).encode())
        console.out.print(f"chart in {chart}", markup=False)
    found = sweep.found
    if found is None:
        return
    if found.problem is not None:
        console.out.print(f"look: {found.problem}", markup=False)
    elif not found.events:
        console.out.print("nothing went wrong that a sweep shows")
    else:
        console.out.print("± is U, k = 2 (about 95 %)")
    for one in found.events:
        event = Event(**asdict(one))
        words = event_words(event)
        console.out.print(Text(f"{event.t_s:8.2f} s  {event.dial}: {words} ({event_doubt(event)})"))


def _bars(document: Mapping[str, Any], dial: str) -> str:
    """A needle's angle over time in one line of bars; a blank where it was not seen."""
    frames = document["frames"]
    seen = [
        np.nan if frame["dials"][dial] is None else frame["dials"][dial]["angle_deg"]
        for frame in frames
    ]
    angle = np.array(seen, np.float64)
    if not np.isfinite(angle).any():
        return ""
    low, high = float(np.nanmin(angle)), float(np.nanmax(angle))
    t_s = np.array([frame["t_s"] for frame in frames])
    column = np.minimum((t_s / max(t_s[-1], 1e-9) * COLUMNS).astype(int), COLUMNS - 1)
    bars = []
    for place in range(COLUMNS):
        here = angle[column == place]
        here = here[np.isfinite(here)]
        share = (float(here.mean()) - low) / max(high - low, 1.0) if len(here) else np.nan
        bars.append(" " if np.isnan(share) else BARS[min(int(share * len(BARS)), len(BARS) - 1)])
    return f"{''.join(bars)}  {low:.0f}° to {high:.0f}°".replace("-", "−")


def _lamp_words(photo: LampPhoto) -> str:
    drawn = "" if photo.amperes is None else f", {photo.amperes:.3f} A"
    lit = ", ".join(photo.lit) or "nothing"
    not_lit = f"; nobody could switch on {', '.join(photo.not_lit)}" if photo.not_lit else ""
    return f"lamps {photo.group}: {lit} switched on{drawn}{not_lit}; {photo.photo}"


def _current_words(outcome: Outcome) -> list[str]:
    lines = []
    if outcome.rest_current:
        drawn = [f"{one.amperes:.3f} A" for one in outcome.rest_current]
        volts = outcome.rest_current[-1].volts
        at = "" if volts is None else f" at {volts:.2f} V"
        lines.append(f"current at rest{at}, after each key-on: {', '.join(drawn)}")
    sweep = outcome.sweep
    if sweep is not None and sweep.mean_a is not None and sweep.peak_a is not None:
        lines.append(f"current in the sweep: {sweep.mean_a:.3f} A mean, {sweep.peak_a:.3f} A peak")
    return lines


def _unit_document(unit: Unit) -> dict[str, Any]:
    return {
        "faults": [
            {"dial": f.dial, "fault": f.code, "size": f.size, "begins": f.begins}
            for f in unit.injected
        ],
        "temperature_c": unit.temperature_degc,
        "seed": unit.seed,
    }
