"""What a burn-in names of faults that were there from its beginning: `burn_in_start.py`.

`--json docs/measured/burn_in_start.json` keeps the figures for docs/make_burn_in.py.

First, drawn by numbers: burn-ins of a cluster of four dials, three check points each, whose needles
stand where the physics of a movement puts them, come to from below and from above, read with a
scatter. How often a sound one is said to differ, and one with a drag in one dial is named, by its
reversal and by its first look alone. Then, with `--drawn`: whole rehearsed burn-ins, drawn, looked
at by the camera and judged by their report.
"""

import argparse
import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmarks.drawn_faults import FIRST_SEED, TICK_S
from benchmarks.tables import show_rows
from needlewright.bench.burn_in.journal import begin
from needlewright.bench.burn_in.plan import BurnInPlan, points_of
from needlewright.bench.burn_in.run import BurnInRun
from needlewright.composing.burn_in_bench import rehearsed_burn_in
from needlewright.composing.burn_in_first import AIR_CORE_DEG, differing_points, points_off
from needlewright.composing.burn_in_known import A_YEAR
from needlewright.composing.burn_in_report import report_document
from needlewright.composing.burn_in_statements import Beforehand, laws_of
from needlewright.families.model import Dial, Family
from needlewright.plans.burn_in.from_the_start import reversals, stands_off
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.rehearsal.cluster.faults import Injected
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.invent import generate_family
from needlewright.rehearsal.movement.faults import SOUND
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.shown import movement_of

STOOD_S = 6.0
"""So long a needle is given at each check point."""
DIALS, POINTS = 4, 3
U_READ_DEG = 0.045
"""Standard uncertainty of one reading, of all that a later look shares (drawn looks: 0.013 to
0.047)."""
VISITS = (2, 3, 6, 25)
SCATTERS_DEG = (0.005, 0.05)
"""Of a reading from visit to visit: as drawn, and a bench ten times as restless."""
LIMIT = "every point at the limit"
CASES = (
    ("stepper", "sound", 0.0),
    ("stepper", LIMIT, 0.0),
    ("stepper", "dragging", 0.2),
    ("stepper", "dragging", 0.3),
    ("stepper", "dragging", 0.4),
    ("stepper", "dragging", 0.6),
    ("air_core", "sound", 0.0),
    ("air_core", "dragging", 0.4),
    ("air_core", "dragging", 0.55),
    ("air_core", "dragging", 0.6),
    ("air_core", "dragging", 0.8),
)
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stood:
    """Where a needle stood at its check points, less where it was told to, degrees."""

    up: FloatArray
    down: FloatArray
    """From above; the highest check point is not among them."""


def stood_of(dial: Dial, kind: str, fault: str, size: float) -> Stood:
    """By the physics of its movement, told three marks up and two down, in steps."""
    dial = replace(dial, movement=replace(dial.movement, kind=kind))
    sense, stop = dial.scale.sense, dial.stop_angle_deg
    inside = SOUND if fault == "sound" else fault_of(fault, size, kind)
    movement = movement_of(dial, inside)
    movement.key_on()
    marks = points_of_dial(dial)
    above = np.array([sense * (dial.programme_angle_deg(mark) - stop) for mark in marks])
    path = np.concatenate([above, above[-2::-1]])
    ticks = int(STOOD_S / TICK_S)
    shown = movement.running.follow(np.repeat(path, ticks)).needle_deg[ticks - 1 :: ticks]
    return Stood(shown[:POINTS] - above, shown[POINTS:][::-1] - above[:-1])


def points_of_dial(dial: Dial) -> tuple[float, ...]:
    """The check points of one dial where nobody states any."""
    marks = dial.scale.values
    wanted = [marks[0] + share * (marks[-1] - marks[0]) for share in (0.2, 0.5, 0.8)]
    return tuple(min(marks, key=lambda mark, at=at: abs(mark - at)) for at in wanted)


@dataclass(frozen=True, slots=True)
class Bench:
    """What a movement is allowed, and how well it is looked at."""

    allowed_deg: float
    repeats_deg: float
    visits: int
    scatter_deg: float


def drawn_by_numbers(
    faulty: Stood, sound: Stood, bench: Bench, rng: np.random.Generator
) -> tuple[bool, bool, bool]:
    """One unit: whether the first dial's reversal, any other's, and its first look are told."""
    shared, told = DIALS * (POINTS - 1), []
    for stood in (faulty, *[sound] * (DIALS - 1)):
        truth = stood.down - stood.up[:-1]
        noise = rng.normal(0.0, bench.scatter_deg * np.sqrt(2.0), (bench.visits, POINTS - 1))
        rows = {float(n): list(truth[n] + noise[:, n]) for n in range(POINTS - 1)}
        judged = reversals(rows, bench.allowed_deg, shared).values()
        told.append("differs" in {one.code for one in judged})
    errors = rng.normal(0.0, np.hypot(U_READ_DEG, bench.repeats_deg), POINTS)
    off = any(
        stands_off(
            seen,
            0.0,
            (U_READ_DEG, bench.repeats_deg, bench.allowed_deg / 2 / np.sqrt(3.0)),
            DIALS * POINTS,
        ).is_off
        for seen in faulty.up + errors
    )
    return told[0], any(told[1:]), off


def number_rows(trials: int) -> list[dict[str, Any]]:
    """By numbers: for each case, how often it is told."""
    rng = np.random.default_rng(17)
    with TemporaryDirectory() as away:
        dial = generate_family(FIRST_SEED, Path(away) / "face").dials[0]
    repeats = dial.movement.repeatability_deg
    sound = {kind: stood_of(dial, kind, "sound", 0.0) for kind in ("stepper", "air_core")}
    rows = []
    for kind, fault, size in CASES:
        allowed = AIR_CORE_DEG if kind == "air_core" else repeats
        others = sound[kind]
        if fault == LIMIT:
            others = stood = Stood(np.zeros(POINTS), np.full(POINTS - 1, allowed))
        else:
            stood = stood_of(dial, kind, fault, size)
        row: dict[str, Any] = {
            "kind": kind.replace("_", " "),
            "fault": fault if not size else f"{fault} {size:g}",
            "reversal": f"{float(np.max(stood.down - stood.up[:-1])):.2f}",
        }
        off = 0
        for scatter in SCATTERS_DEG:
            found = []
            for visits in VISITS:
                bench = Bench(allowed, repeats, visits, scatter)
                seen = [drawn_by_numbers(stood, others, bench, rng) for _ in range(trials)]
                hit = [a or (b and not size) for a, b, _ in seen]
                found.append(f"{np.mean(hit):.0%}")
                off += sum(c for _, _, c in seen)
            row[f"{scatter:g}"] = " / ".join(found)
        row["first look"] = f"{off / (trials * len(VISITS) * len(SCATTERS_DEG)):.0%}"
        rows.append(row)
    return rows


def camera_rows(minutes: float) -> list[dict[str, Any]]:
    """Drawn: whole rehearsed burn-ins of one invented family, a drag in its first dial."""
    rows = []
    for size in (0.0, 0.2, 0.3, 0.4, 0.6):
        with TemporaryDirectory() as away:
            family = with_signals(generate_family(3, Path(away) / "face"))
            report = rehearsed(Path(away), family, size, minutes)
        first = family.dials[0].id
        mine = [one for one in report["from_start"] if one["dial"] == first]
        both = [one["reversal"] for one in mine if one["reversal"] is not None]
        rows.append(
            {
                "drag": f"{size:g}",
                "visits": max((one["visits"] for one in both), default=0),
                "reversals": " / ".join(f"{one['reversal_deg']:+.3f}" for one in both),
                "first": " / ".join(f"{one['from_told']['off_deg']:+.2f}" for one in mine),
                "differs": sum(
                    one["dial"] == first for one in differing_points(report["from_start"])
                ),
                "off": sum(one["dial"] == first for one in points_off(report["from_start"])),
                "others": sum(
                    one["dial"] != first
                    for one in (
                        *differing_points(report["from_start"]),
                        *points_off(report["from_start"]),
                    )
                ),
            }
        )
    return rows


def rehearsed(folder: Path, family: Family, drag_deg: float, minutes: float) -> dict[str, Any]:
    """The report of a burn-in that does nothing but visit its check points."""
    dials = tuple(one.id for one in family.dials)
    plan = BurnInPlan(
        hours=minutes / 60,
        dwell_s=1.0,
        sweeps_each=0,
        check_every_h=1e-6,
        points=points_of(family, dials),
        lamps=False,
    )
    unit = Unit((Injected(dials[0], "dragging", drag_deg),) if drag_deg else ())
    journal = begin(folder / "unit", family.name, "rehearsed", "A 1", plan)
    with rehearsed_burn_in(family, unit, plan, lambda: journal.counts.hours) as devices:
        print(drag_deg, BurnInRun(journal, family, devices, 2.0).go().words, flush=True)
    return report_document(journal, family, Beforehand(laws_of({}, None), A_YEAR))


def camera_before(kept: Path | None) -> list[dict[str, Any]]:
    """What was drawn before, where nothing is drawn now."""
    if kept is None or not kept.is_file():
        return []
    rows: list[dict[str, Any]] = json.loads(kept.read_text(encoding="utf-8"))["camera"]
    return rows


def main() -> None:
    """Print both tables."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--trials", type=int, default=2000)
    options.add_argument("--drawn", type=float, default=0.0, help="minutes of each; 0: as before")
    options.add_argument("--json", type=Path, help="where the figures are kept")
    asked = options.parse_args()
    cv2.setNumThreads(1)
    figures = {
        "numbers": number_rows(asked.trials),
        "camera": camera_rows(asked.drawn) if asked.drawn else camera_before(asked.json),
    }
    show_rows(figures, 120, asked.json)


if __name__ == "__main__":
    main()
