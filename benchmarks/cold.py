"""Where the cold begins, printed: `python benchmarks/cold.py`.

Series drawn by the rehearsed physics and by a logistic rule; how often the stated interval holds
the truth, how often a sound series is called cold, and how long one dial takes. Then how cold a
movement still works, said from a test of rates at room temperature, against what the physics does
in the cold. Last, key-on tests of movements that creep home, and of others.
"""

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.cold_cases import OTHERS, Series, other, ruled, turned
from benchmarks.sweep_cases import dial_of
from needlewright.families.model import Dial
from needlewright.findings.cold.judged import ColdFinding, judge_cold
from needlewright.findings.cold.sweep_rate import RateTrial, cold_limit
from needlewright.findings.key_cycle import judge_key_cycle
from needlewright.readings.runs import RunRow
from needlewright.rehearsal.movement.faults import MovementFaults
from needlewright.rehearsal.movement.figures import DRIVER, STEPPER
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.shown import key_cycles, movement_of
from needlewright.rehearsal.movement.stepper import Stepper

SOURCES = {"turned by the physics": turned, "drawn by a rule": ruled}


Draw = Callable[[np.random.Generator, float | None], Series]
Row = dict[str, Any]
SOUND_FOR_ONE = 3
"""So many sound series and key-on tests for each faulty one: false alarms are to be rare."""


def judged(
    draw: Draw, rng: np.random.Generator, onset_c: float | None
) -> tuple[Series, ColdFinding, float]:
    """One series, what is said of it, and the seconds of processor that took."""
    series = draw(rng, onset_c)
    began = time.process_time()
    found = judge_cold(series.dial, series.runs)
    took_s = time.process_time() - began
    if found is None:
        raise SystemExit("a series without a move that can be judged")
    return series, found, took_s


def onset_rows(count: int, seed: int) -> list[Row]:
    """Coverage and false alarms."""
    rows = []
    for name, draw in SOURCES.items():
        rows.append(_onset_row(f"{name}, {BEGINS}", draw, count, seed, begins=True))
        rows.append(_onset_row(f"{name}, sound", draw, SOUND_FOR_ONE * count, seed))
    for kind in OTHERS:

        def off(rng: np.random.Generator, onset_c: float | None, kind: str = kind) -> Series:
            del onset_c
            return other(rng, kind)

        words = f"{kind}, warm and cold alike"
        rows.append(_onset_row(words, off, SOUND_FOR_ONE * count, seed))
    return rows


BEGINS = "begins between -17 and -3 degC"


def _onset_row(name: str, draw: Draw, drawn: int, seed: int, *, begins: bool = False) -> Row:
    rng = np.random.default_rng(seed)
    held, wide, where, ratios, took = [], [], [], [], []
    for _ in range(drawn):
        onset = float(rng.uniform(-17.0, -3.0)) if begins else None
        _, found, seconds = judged(draw, rng, onset)
        took.append(1000 * seconds)
        where.append(found.onset.where)
        ratios.append(found.ratio)
        if onset is None:
            continue
        low = -np.inf if found.onset.low_c is None else found.onset.low_c
        high = np.inf if found.onset.high_c is None else found.onset.high_c
        if found.onset.where not in ("regardless", "one_temperature"):
            held.append(low <= onset <= high)
        if found.onset.where == "found":
            wide.append((high - low) / 2)
    return {
        "series": name,
        "drawn": drawn,
        "found": where.count("found"),
        "beyond": where.count("beyond_cold") + where.count("beyond_warm"),
        "below": where.count("below"),
        "above": where.count("above"),
        "other": where.count("regardless") + where.count("one_temperature"),
        "held": round(float(np.mean(held)), 3) if held else None,
        "half_c": round(float(np.median(wide)), 1) if wide else None,
        "called_cold": sum(ratio > 1 for ratio in ratios),
        "surely_cold": sum(ratio >= 10 for ratio in ratios),
        "ms": round(float(np.mean(took)), 0),
    }


RATES_DEG_S = (400.0, 440.0, 480.0, 530.0, 600.0, 680.0, 780.0, 900.0, 1050.0)
LONG_DEG, LONG_TICKS = 300.0, 2500
ROOM_C, U_ROOM_C = 21.0, 1.0


def rate_row(count: int, seed: int) -> Row:
    """Rates at room temperature against where the physics stalls in the cold."""
    rng = np.random.default_rng(seed)
    inside, enough, wide, off = 0, 0, [], []
    for _ in range(count):
        truth = float(rng.uniform(-25.0, 8.0))
        faults = fault_of("cold_stall", truth)
        true_room = ROOM_C + float(rng.normal(0.0, U_ROOM_C))
        tried = []
        for rate in RATES_DEG_S:
            # so that the rate is reached within the scale
            brake = DRIVER.acceleration_deg_s2 * rate / DRIVER.rate_deg_s
            driver = replace(DRIVER, rate_deg_s=rate, acceleration_deg_s2=brake)
            stepper = Stepper(STEPPER, driver, faults, temperature_degc=true_room)
            stepper.follow(np.full(LONG_TICKS, LONG_DEG))
            tried.append(RateTrial(rate, abs(stepper.needle_deg - LONG_DEG) < 1.0))
            if not tried[-1].held:
                break
        grease = (STEPPER.grease_k * float(np.exp(rng.normal(0, 0.05))), 0.05 * STEPPER.grease_k)
        found = cold_limit(tried, DRIVER.rate_deg_s, (ROOM_C, U_ROOM_C), grease)
        if found.high_c is None:
            continue
        enough += 1
        low = -np.inf if found.low_c is None else found.low_c
        inside += low <= truth <= found.high_c
        off.append(found.high_c - truth)
        if found.low_c is not None:
            wide.append(found.high_c - found.low_c)
    return {
        "drawn": count,
        "enough": enough,
        "inside": round(inside / enough, 3),
        "two_ends": len(wide),
        "width_c": round(float(np.median(wide)), 1) if wide else None,
        "warm_end_off_c": round(float(np.median(off)), 1),
    }


KEY_ONS = (0, 1, 3, 5)


def key_cycle_rows(count: int, seed: int) -> list[Row]:
    """Who is said to creep home."""
    rows = []
    for kind in ("weak torque (physics)", "sound (physics)", "sits turned", "dead", "scatters"):
        rng = np.random.default_rng(seed)
        creeps, surely, tops, drawn = 0, 0, Counter(), 0
        wanted = count if kind.startswith("weak") else SOUND_FOR_ONE * count
        while drawn < wanted:
            dial = dial_of(sense=int(rng.choice([-1, 1])))
            angles = _rests(dial, kind, rng)
            if angles is None:
                continue
            drawn += 1
            u = float(rng.choice([0.05, 0.1, 0.3]))
            seen = angles + rng.normal(0.0, np.hypot(u, 0.1), len(KEY_ONS))
            rests = [
                RunRow("r", dial.id, "km/h", "rest", None, 23.0, float(a), u, key_cycle=n)
                for a, n in zip(seen, KEY_ONS, strict=True)
            ]
            found = judge_key_cycle(dial, rests)
            if found is None:
                raise SystemExit("a key-on test that is none")
            creeps += found.ratio > 1
            surely += found.ratio >= 10
            tops[found.faults[0][0]] += 1
        named = ", ".join(f"{fault} {n}" for fault, n in tops.most_common())
        rows.append(
            {"rests": kind, "drawn": drawn, "creeps": creeps, "surely": surely, "named": named}
        )
    return rows


def _rests(dial: Dial, kind: str, rng: np.random.Generator) -> np.ndarray | None:
    """Where a needle rests before and after the key-ons; None: another one is drawn."""
    sense, rest = dial.scale.sense, dial.rest_angle_deg
    starts = rest + sense * float(rng.uniform(4.0, 60.0))
    if "physics" in kind:
        torque = float(rng.uniform(0.08, 0.19)) if kind.startswith("weak") else 1.0
        faults = MovementFaults(torque_factor=torque)
        moved = key_cycles(movement_of(dial, faults, at_angle_deg=starts), KEY_ONS[-1])
        at = moved[list(KEY_ONS)]
        comes = abs(at[-1] - at[1]) > 1.0
        return at if comes or not kind.startswith("weak") else None
    if kind == "sits turned":
        return np.full(len(KEY_ONS), rest + float(rng.normal(0.0, 5.0)))
    if kind == "dead":
        return np.full(len(KEY_ONS), starts)
    return rest + rng.normal(0.0, float(rng.uniform(1.0, 6.0)), len(KEY_ONS))


def table_of(title: str, rows: list[Row]) -> Table:
    """Rows of one kind."""
    table = Table(title=title, title_justify="left")
    for head in rows[0]:
        table.add_column(head)
    for row in rows:
        table.add_row(*("" if value is None else str(value) for value in row.values()))
    return table


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=100, help="of each kind and source")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only-onset", action="store_true", help="leave rates and key-ons")
    parser.add_argument("--json", type=Path, help="figures for docs/make_cold.py")
    options = parser.parse_args()
    console = Console(width=140)
    onsets = onset_rows(options.series, options.seed)
    if options.only_onset:
        console.print(table_of("where failing begins", onsets))
        return
    rates = rate_row(options.series, options.seed)
    keys = key_cycle_rows(options.series, options.seed)
    console.print(table_of("where failing begins", onsets))
    console.print("held: the 95 % interval, or the one-sided limit, has the truth in it")
    console.print(table_of("rates at room temperature", [rates]))
    console.print(table_of("key-on tests", keys))
    if options.json:
        figures = {"seed": options.seed, "onset": onsets, "rates": rates, "key_ons": keys}
        options.json.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
