"""The whole loop: faults put into a simulated cluster, and found in the table of its run.

Every run goes by a real virtual bus, the movements of the rehearsal, the drawn camera and the real
reader. Prints injected against measured for each fault a run can show, what its sweep says, and how
long a full as-found run of four dials takes with the clock let loose, with and without sweep and
lamps. `python benchmarks/loop.py [--time-only]`.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from math import hypot, sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np

import needlewright
from benchmarks.loop_cold import timed_series
from needlewright.bench.keeping import begin
from needlewright.bench.run import BenchRun, Ended
from needlewright.bench.steps import KEY_ONS, plan_run, with_checks
from needlewright.composing.bench_devices import opened
from needlewright.composing.bench_sweep import looked_through
from needlewright.composing.sweeps import event_words
from needlewright.families.folder import load_family
from needlewright.families.model import Dial
from needlewright.findings.event import Event
from needlewright.readings.runs import Run, RunRow
from needlewright.rehearsal.cluster.faults import Injected, parse_fault
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit
from needlewright.rehearsal.warming import WarmingRehearsal

FAMILY = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")
ASKED_S = 30.0
COVERAGE = 2.0
Measured = tuple[float, float]
"""A size and its standard uncertainty."""


def take_run(
    *faults: str,
    points: int,
    key_ons: tuple[int, ...] = (),
    degc: float = 23.0,
    seed: int = 7,
    sweep: bool = False,
    lamps: bool = False,
) -> tuple[Ended, float, float]:
    """How a run ended, how long it took, and how much of that this process computed."""
    cluster = Unit(tuple(parse_fault(text, FAMILY) for text in faults), degc, seed)
    shares = np.linspace(0.08, 0.96, points)
    values = {d.id: _values(d, shares) for d in FAMILY.dials}
    rehearsal = Rehearsal(FAMILY, cluster)
    with tempfile.TemporaryDirectory() as folder:
        plan = with_checks(plan_run(values, key_ons), rehearsal.family, sweep=sweep, lamps=lamps)
        kept = begin(Path(folder) / "run.csv", rehearsal.family, plan)
        began_s, cpu_s = time.perf_counter(), time.process_time()
        with opened(rehearsal) as devices:
            run = BenchRun(
                kept, devices, temperature_c=degc, look_through=looked_through(rehearsal.family)
            )
            ended = run.go()
        took = time.perf_counter() - began_s, time.process_time() - cpu_s
    if ended.state != "finished":
        raise SystemExit(f"{faults}: {ended.state}: {ended.words}")
    return ended, *took


def read_rows(run: Run, dial: Dial) -> list[tuple[RunRow, float, float]]:
    """Rows that were read and stand on no stop: error in degrees, and its uncertainty."""
    found = []
    for row in run.of_dial(dial.id):
        if row.angle_deg is None or row.commanded is None or row.on_stop:
            continue
        error = row.angle_deg - dial.programme_angle_deg(row.commanded)
        u_deg = hypot(row.u_angle_deg or 0.0, dial.movement.repeatability_deg)
        found.append((row, error, u_deg))
    return found


def mean_error(run: Run, dial: Dial) -> Measured:
    """Mean error; what the reader cannot know of its picture is common to all rows."""
    rows = read_rows(run, dial)
    own = dial.movement.repeatability_deg / sqrt(len(rows))
    common = float(np.mean([row.u_angle_deg or 0.0 for row, _, _ in rows]))
    return float(np.mean([error for _, error, _ in rows])), hypot(own, common)


def half_gap(run: Run, dial: Dial) -> Measured:
    """Mean of falling less rising over the values told both ways, positive clockwise."""
    ways: dict[float, dict[str, float]] = {}
    for row, error, _ in read_rows(run, dial):
        ways.setdefault(row.commanded or 0.0, {})[row.approach] = error
    gaps = [each["down"] - each["up"] for each in ways.values() if len(each) == 2]
    spread = max(dial.movement.repeatability_deg * sqrt(2.0), float(np.std(gaps)))
    return dial.scale.sense * float(np.mean(gaps)), spread / sqrt(len(gaps))


def ratio(run: Run, dial: Dial) -> Measured:
    """Shown over programmed, by the mean of the rows."""
    slope = abs(dial.scale.slope_at(dial.scale.middle_deg))
    found = [
        ((row.indicated or 0.0) / dial.programme.shown_at(row.commanded or 0.0), u * slope)
        for row, _, u in read_rows(run, dial)
    ]
    shown = [dial.programme.shown_at(r.commanded or 0.0) for r, _, _ in read_rows(run, dial)]
    u_each = [u / value for (_, u), value in zip(found, shown, strict=True)]
    return float(np.mean([r for r, _ in found])), float(np.mean(u_each)) / sqrt(2.0)


def lost_cycles(run: Run, dial: Dial) -> Measured:
    """The largest jump between neighbouring rows on the way up, in cycles."""
    up = [error for row, error, _ in read_rows(run, dial) if row.approach == "up"]
    jump = max(np.diff(up), key=abs)
    u_deg = dial.movement.repeatability_deg * sqrt(2.0)
    return float(jump) / dial.movement.cycle_deg, u_deg / dial.movement.cycle_deg


def where_it_stands(run: Run, dial: Dial) -> Measured:
    """The one angle it never leaves."""
    angles = [row.angle_deg or 0.0 for row, _, _ in read_rows(run, dial)]
    common = float(np.mean([row.u_angle_deg or 0.0 for row, _, _ in read_rows(run, dial)]))
    return float(np.mean(angles)), hypot(common, float(np.std(angles)))


def where_it_ends(run: Run, dial: Dial) -> Measured:
    """What blocks it: a motor that is held slips back, so its needle stands up to a cycle short."""
    sense, cycle = dial.scale.sense, dial.movement.cycle_deg
    highest = max(sense * (row.angle_deg or 0.0) for row, _, _ in read_rows(run, dial))
    return sense * (highest + cycle / 2), cycle / sqrt(12.0)


def largest_error(run: Run, dial: Dial) -> Measured:
    """Largest absolute error."""
    _, error, u = max(read_rows(run, dial), key=lambda each: abs(each[1]))
    return abs(error), u


def largest_lag(run: Run, dial: Dial) -> Measured:
    """Largest error against the way the needle came."""
    lags = [
        (-dial.scale.sense * error * (1 if row.approach == "up" else -1), u)
        for row, error, u in read_rows(run, dial)
    ]
    return max(lags)


def scatter(run: Run, dial: Dial) -> Measured:
    """Standard deviation of the errors; its own is that of so few."""
    errors = [error for _, error, _ in read_rows(run, dial)]
    sd = float(np.std(errors, ddof=1))
    return sd, sd / sqrt(2.0 * (len(errors) - 1))


@dataclass(frozen=True, slots=True)
class Case:
    """One fault and what of the table shows it."""

    fault: str
    measured_by: Callable[[Run, Dial], Measured]
    degc: float = 23.0


CASES = (
    Case("engine:sound", largest_error),
    Case("engine:needle_offset=3.5", mean_error),
    Case("temp:needle_offset=-2", mean_error),
    Case("speed:scale_factor=0.94", ratio),
    Case("engine:scale_factor=1.05", ratio),
    Case("speed:lost_steps=-2@60", lost_cycles),
    Case("engine:lost_steps=-3@3", lost_cycles),
    Case("engine:backlash=1.6", half_gap),
    Case("temp:backlash=0.9", half_gap),
    Case("speed:dragging=0.5", largest_lag),
    Case("engine:stalled=20", where_it_stands),
    Case("speed:blocked=40", where_it_ends),
    Case("engine:wrong_face=4", largest_error),
    Case("speed:erratic=2", scatter),
)


COLD = ("engine:cold_stall=-8", "speed:cold_stall=-12")
"""Found by a temperature series, not by one run; one step over most of the scale asks most."""


def show_cold(text: str, seed: int = 7) -> bool:
    """Take a series with a cold stall and print the bracket it leaves; whether it is within U."""
    fault = parse_fault(text, FAMILY)
    dial = FAMILY.dial(fault.dial)
    assert dial is not None
    family = replace(FAMILY, dials=(dial,))
    unit = Unit((fault,), seed=seed)
    plan = plan_run({dial.id: _values(dial, (0.08, 0.96))}, ())
    size, u, took_s = timed_series(dial, plan, unit, WarmingRehearsal(family, unit))
    return _print(fault, (size, u), took_s)


def _values(dial: Dial, shares: Iterable[float]) -> tuple[float, ...]:
    return tuple(round(float(dial.scale.values[0] + s * dial.scale.span), 4) for s in shares)


def show(case: Case, points: int) -> bool:
    """Take a run with one fault and print what it says of it; whether it is within U."""
    fault = parse_fault(case.fault, FAMILY)
    dial = FAMILY.dial(fault.dial)
    assert dial is not None
    ended, took_s, _ = take_run(case.fault, points=points, degc=case.degc, sweep=True)
    return _print(fault, case.measured_by(ended.run, dial), took_s, said_by_sweep(ended))


def said_by_sweep(ended: Ended) -> str:
    """What went wrong in the sweep, in words."""
    found = None if ended.outcome.sweep is None else ended.outcome.sweep.found
    if found is None or found.problem is not None:
        return "not followed"
    events = [f"{e.dial} {event_words(Event(**asdict(e)))}" for e in found.events]
    return ", ".join(events) or "nothing"


def _print(fault: Injected, measured: Measured, took_s: float, swept: str = "") -> bool:
    size, u = measured
    injected = 0.0 if fault.size is None else fault.size
    within = abs(size - injected) <= COVERAGE * u or (
        fault.code == "sound" and size <= COVERAGE * u * 1.5
    )
    print(
        f"{fault.text:28} {injected:9.3f} {size:9.3f} +- {COVERAGE * u:6.3f}  "
        f"{'within' if within else 'OUTSIDE':8} {took_s:5.1f} s  {swept}".rstrip(),
        flush=True,
    )
    return within


def main() -> None:
    """Print the table and the time of a full run."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--time-only", action="store_true")
    asked.add_argument("--points", type=int, default=5, help="up; one less down")
    asked.add_argument("--only", default="", help="faults with this in their text")
    options = asked.parse_args()
    cv2.setNumThreads(1)
    take_run(points=1)  # compiles and loads what a bench has ready after its first run
    cases = [case for case in CASES if options.only in case.fault]
    if not options.time_only:
        print("fault                         injected  measured +-      U             run  sweep")
        cold = [text for text in COLD if options.only in text]
        outside = sum(not show(case, options.points) for case in cases)
        outside += sum(not show_cold(text) for text in cold)
        print(
            f"{outside} of {len(cases) + len(cold)} outside U (k = 2: one in twenty is no surprise)"
        )
    for checks in (False, True):
        ended, took_s, cpu_s = take_run(points=9, key_ons=KEY_ONS, sweep=checks, lamps=checks)
        rows = ended.run.rows
        steps = len({row.step for row in rows})
        also = f", sweep and {len(ended.outcome.lamps)} groups of lamps" if checks else ""
        print(
            f"full as-found run: {len(FAMILY.dials)} dials, 9 points up and 8 down, rest over "
            f"{KEY_ONS[-1]} key-ons, {steps} looks, {len(rows)} rows{also}: {took_s:.1f} s, of "
            f"which {cpu_s:.1f} s were computed; asked: {ASKED_S:g} s; "
            f"{'met' if took_s <= ASKED_S else 'MISSED'}",
            flush=True,
        )


if __name__ == "__main__":
    sys.exit(main())
