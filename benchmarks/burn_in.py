"""What a burn-in sees of slow and small changes: `python benchmarks/burn_in.py`.

`--json docs/measured/burn_in.json` keeps the figures for docs/make_burn_in.py.

First, by numbers: the smallest drift of a check point that is told nine times of ten, in standard
deviations of its looks, by ranks as a burn-in judges it and by the line's own t, which is the best
there is where the scatter is normal and no look is bad. Then, drawn: how much the looks of a
rehearsed cluster scatter. Then, drawn: faults of growing size in one sweep each, how often they are
named, and by how much such a needle stands off at a check point that it came to from below. Last,
with `--pace` alone: the work a rehearsed burn-in is, in parts.
"""

import argparse
import sys
import time
from dataclasses import replace
from importlib.resources import as_file, files
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np
from scipy.stats import t as student

from benchmarks.drawn_faults import FIRST_SEED, ONE_WAY_S, TICK_S, Needle, told_of, written
from benchmarks.tables import show_rows
from needlewright.bench.burn_in.attended import Listeners, Progress
from needlewright.bench.burn_in.journal import begin
from needlewright.bench.burn_in.plan import BurnInPlan, points_of
from needlewright.bench.burn_in.run import BurnInRun
from needlewright.composing.bench_sweep import looked_through
from needlewright.composing.burn_in_bench import blur_s, rehearsal_work, rehearsed_burn_in
from needlewright.composing.burn_in_report import looks_by_point
from needlewright.composing.sweeps import events_of
from needlewright.composing.told_sweeps import place_told
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.findings.drift import ALPHA, drift_of, fewest_looks, trend_p
from needlewright.findings.event import Event
from needlewright.readings.sweep import follow_video
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.invent import generate_family
from needlewright.rehearsal.movement.faults import SOUND
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.shown import movement_of
from needlewright.rehearsal.movement.sweeps import sweep_targets

POINTS = 12
"""Check points of a unit of four dials."""
TOLD_OF_TEN = 0.9
CASES = (
    ("dragging", 0.2),
    ("dragging", 0.4),
    ("dragging", 0.55),
    ("backlash", 0.4),
    ("backlash", 0.8),
    ("backlash", 1.6),
    ("lost_steps", 2.0),
    ("lost_steps", 4.0),
)
"""Degrees; a slip of so many is one cycle of the movement, or two."""


def by_line(values: np.ndarray) -> float:
    """Two-sided probability of the slope of a line through values in time."""
    n = len(values)
    x = np.arange(n) - (n - 1) / 2
    rate = float(x @ values / (x @ x))
    left = values - values.mean() - rate * x
    u_rate = np.sqrt(float(left @ left) / (n - 2) / float(x @ x))
    return float(2 * student.sf(abs(rate) / u_rate, n - 2))


def smallest(looks: int, judge, trials: int, rng: np.random.Generator) -> float:
    """The drift from the first look to the last, in standard deviations, told often enough."""
    noise = rng.normal(size=(trials, looks))
    way = np.linspace(0.0, 1.0, looks)
    low, high = 0.0, 64.0
    for _ in range(14):
        middle = (low + high) / 2
        told = np.mean([judge(row + middle * way) <= ALPHA / POINTS for row in noise])
        low, high = (low, middle) if told >= TOLD_OF_TEN else (middle, high)
    return high


def falsely_told(rows: np.ndarray) -> float:
    """Share of sound check points that are said to drift; alike scores are judged once."""
    above = np.triu(np.ones((rows.shape[1], rows.shape[1])), 1)
    judged: dict[int, bool] = {}
    told = 0
    for row in rows:
        score = abs(int((np.sign(row[None, :] - row[:, None]) * above).sum()))
        if score not in judged:
            judged[score] = trend_p(row) <= ALPHA / POINTS
        told += judged[score]
    return told / len(rows)


def drift_rows(trials: int) -> list[dict[str, Any]]:
    """By numbers."""
    rng = np.random.default_rng(7)
    rows = []
    for looks in (fewest_looks(POINTS), 8, 12, 25, 49):
        ranks, line = (smallest(looks, one, trials, rng) for one in (trend_p, by_line))
        false = falsely_told(rng.normal(size=(100 * trials, looks)))
        rows.append(
            {
                "looks": looks,
                "ranks": f"{ranks:.1f}",
                "line": f"{line:.1f}",
                "false": f"{1 - (1 - false) ** POINTS:.1%}",
            }
        )
    return rows


def scatter_rows(family_folder: Path, minutes: float) -> list[dict[str, Any]]:
    """Drawn: a sound rehearsed cluster, visited as often as can be."""
    family = with_signals(load_family(family_folder))
    dials = tuple(one.id for one in family.dials)
    plan = BurnInPlan(
        hours=minutes / 60,
        dwell_s=1.0,
        sweeps_each=0,
        check_every_h=1e-6,
        points=points_of(family, dials),
        lamps=False,
    )
    rows = []
    with TemporaryDirectory() as away:
        journal = begin(Path(away) / "unit", family.name, "rehearsed", "A 1", plan)
        with rehearsed_burn_in(family, Unit(), plan, lambda: journal.counts.hours) as devices:
            print(BurnInRun(journal, family, devices, 2.0).go().words)
        by_point = looks_by_point(journal)
    for dial in dials:
        mine = [looks for (one, _), looks in by_point.items() if one == dial]
        drifts = [drift_of(looks, len(by_point)) for looks in mine]
        worst = max(one.scatter_deg or 0.0 for one in drifts)
        rows.append({"dial": dial, "looks": drifts[0].looks, "scatter": f"{worst:.3f}"})
    return rows


PACE_PLAN = {"hours": 0.1, "dwell_s": 280.0, "sweeps_each": 1, "check_every_h": 1.0}
"""A turn of the plan nobody has changed and a part of another, between two visits."""
IN_A_DAY = {"check points": 26, "sweep": 288, "dwell": 288}


def work_of(family: Family, folder: Path) -> dict[str, list[tuple[float, float]]]:
    """Rehearsed and CPU seconds of all that a burn-in does in turn."""
    dials = tuple(one.id for one in family.dials)
    plan = BurnInPlan(**PACE_PLAN, points=points_of(family, dials))
    marks: list[tuple[str, float, float]] = []

    def progress(now: Progress) -> None:
        if not marks or now.words != marks[-1][0]:
            marks.append((now.words, now.counts.powered_s, time.process_time()))

    journal = begin(folder, family.name, "rehearsed", "A 1", plan)
    with rehearsed_burn_in(family, Unit(), plan, lambda: journal.counts.hours) as devices:
        listeners, followed = Listeners(progress=progress), looked_through(family)
        run = BurnInRun(journal, family, devices, 2.0, listeners=listeners, look_through=followed)
        done = run.go()
    print(done.words)
    marks.append(("", done.counts.powered_s, time.process_time()))
    found: dict[str, list[tuple[float, float]]] = {}
    for (words, at_s, cpu_s), (_, then_s, until_s) in pairwise(marks):
        found.setdefault(words, []).append((then_s - at_s, until_s - cpu_s))
    return found


def pace_rows() -> list[dict[str, Any]]:
    """Drawn: the work of each part, and of a day of the plan nobody has changed."""
    with as_file(files("needlewright") / "demo_data" / "family") as folder:
        family = with_signals(load_family(folder))
    with TemporaryDirectory() as away:
        work = work_of(family, Path(away) / "unit")
    # the whole dwell, for the last one is cut short by the end
    parts = {part: max(each) for part, each in work.items()}
    rows: list[dict[str, Any]] = [
        {"what": part, "rehearsed_s": f"{passed_s:.0f}", "cpu_s": f"{spent_s:.2f}"}
        for part, (passed_s, spent_s) in parts.items()
    ]
    day_s = sum(IN_A_DAY[part] * spent_s for part, (_, spent_s) in parts.items())
    points = points_of(family, tuple(one.id for one in family.dials))
    day = BurnInPlan(**PACE_PLAN | {"hours": 24.0}, points=points)
    told_s = rehearsal_work(day, len(family.dials)).whole_s
    rows += [
        {"what": what, "rehearsed_s": "86400", "cpu_s": f"{cpu_s:.0f}"}
        for what, cpu_s in (("a day, of its parts", day_s), ("as told beforehand", told_s))
    ]
    blur = {"what": "a blur", "rehearsed_s": "", "cpu_s": f"{blur_s():.5f}"}
    pace = {"what": "rehearsed seconds a CPU second", "rehearsed_s": f"{86_400 / day_s:.0f}"}
    return [*rows, blur, pace | {"cpu_s": "1"}]


def needle_of(dial: Dial, fault: str, size: float, rng: np.random.Generator) -> Needle:
    """A needle whose movement has so much of a fault."""
    sense, stop = dial.scale.sense, dial.stop_angle_deg
    top_deg = sense * (dial.scale.angles_deg[-1] - stop)
    slips = fault == "lost_steps"
    inside = SOUND if slips else fault_of(fault, size, "stepper")
    movement = movement_of(dial, inside)
    movement.key_on()
    run = movement.running.follow(sweep_targets("smooth", top_deg, ONE_WAY_S, TICK_S, rng))
    shown = run.needle_deg.copy()
    if slips:
        shown[int(np.argmax(shown > 0.6 * top_deg)) :] -= size
        shown = np.maximum(shown, 0.0)
    return Needle(dial, fault, stop + sense * run.driver_deg, stop + sense * shown)


def stands_off(dial: Dial, fault: str, size: float) -> float:
    """How far such a needle stands from where a sound one does, come to from below, degrees."""
    stood = []
    for inside in (SOUND, fault_of(fault, size, "stepper")):
        movement = movement_of(dial, inside)
        movement.key_on()
        up = np.minimum(np.arange(0.0, 6.0, TICK_S) * 30.0, 60.0)
        stood.append(float(movement.running.follow(up).needle_deg[-1]))
    return stood[1] - stood[0]


def followed(
    folder: Path, fault: str, size: float, seed: int
) -> tuple[list[Dial], list[Needle], tuple[Event, ...]]:
    """One drawn sweep of a face whose needles all have the fault, and what was found in it."""
    family = generate_family(seed, folder / "face")
    dials = [replace(one, movement=replace(one.movement, kind="stepper")) for one in family.dials]
    rng = np.random.default_rng(seed)
    moved = [needle_of(one, fault, size, rng) for one in dials]
    track, _ = follow_video(family, written(folder / "sweep.mp4", family, moved, seed))
    placed = place_told(told_of(moved, track), track)
    return dials, moved, events_of(replace(family, dials=tuple(dials)), track, placed.commands)


def sweep_rows(faces: int) -> list[dict[str, Any]]:
    """Drawn: one sweep each, of every needle of some invented faces."""
    rows = []
    for fault, size in CASES:
        named = needles = 0
        off = "after it" if fault == "lost_steps" else ""
        for seed in range(FIRST_SEED, FIRST_SEED + faces):
            with TemporaryDirectory() as away:
                dials, moved, events = followed(Path(away), fault, size, seed)
            off = off or f"{stands_off(dials[0], fault, size):+.2f}"
            for one in moved:
                needles += 1
                named += fault in {e.fault for e in events if e.dial == one.dial.id}
        rows.append({"fault": fault, "size": size, "needles": needles, "named": named, "off": off})
    return rows


def main() -> None:
    """Print all tables."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--family", type=Path, help="whose looks scatter; else they are not drawn")
    options.add_argument("--minutes", type=float, default=2.0)
    options.add_argument("--faces", type=int, default=2)
    options.add_argument("--trials", type=int, default=400)
    options.add_argument("--pace", action="store_true", help="the work a rehearsal is, alone")
    options.add_argument("--json", type=Path, help="where the figures are kept")
    asked = options.parse_args()
    cv2.setNumThreads(1)
    figures = (
        {"pace": pace_rows()}
        if asked.pace
        else {
            "drift": drift_rows(asked.trials),
            "scatter": [] if asked.family is None else scatter_rows(asked.family, asked.minutes),
            "sweeps": sweep_rows(asked.faces),
        }
    )
    show_rows(figures, 100, asked.json)


if __name__ == "__main__":
    main()
