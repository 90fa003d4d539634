"""Where the cold begins, printed: `python benchmarks/cold.py`.

Series drawn by the rehearsed physics and by a logistic rule; how often the stated interval holds
the truth, how often a sound series is called cold, and how long one dial takes. Then how cold a
movement still works, said from a test of rates at room temperature, against what the physics does
in the cold. Last, key-on tests of movements that creep home, and of others.
"""

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.cold_cases import Series, ruled, turned
from needlewright.findings.cold.judged import ColdFinding, judge_cold

SOURCES = {"turned by the physics": turned, "drawn by a rule": ruled}


Draw = Callable[[np.random.Generator, float | None], Series]
HEADS = ("series", "drawn", "found", "held", "U, degC", "below", "other", "cold_wrong", "ms")


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


def onset_table(count: int, seed: int) -> Table:
    """Coverage and false alarms."""
    table = Table(title="where failing begins", title_justify="left")
    for head in HEADS:
        table.add_column(head, justify="left" if head == "series" else "right")
    for name, draw in SOURCES.items():
        for kind in ("onset inside", "sound"):
            rng = np.random.default_rng(seed)
            held, wide, where, ratios, took = 0, [], [], [], []
            for _ in range(count):
                onset = float(rng.uniform(-17.0, -3.0)) if kind != "sound" else None
                _, found, seconds = judged(draw, rng, onset)
                took.append(1000 * seconds)
                where.append(found.onset.where)
                ratios.append(found.ratio)
                if onset is None:
                    continue
                low = -np.inf if found.onset.low_c is None else found.onset.low_c
                high = np.inf if found.onset.high_c is None else found.onset.high_c
                if found.onset.where in ("found", "below", "above"):
                    held += low <= onset <= high
                if found.onset.where == "found":
                    wide.append((high - low) / 2)
            n_found = where.count("found")
            table.add_row(
                f"{name}, {kind}",
                str(count),
                str(n_found),
                "" if kind == "sound" else f"{held / count:.3f}",
                f"{np.median(wide):.1f}" if wide else "",
                str(where.count("below")),
                str(count - n_found - where.count("below")),
                f"{np.mean(np.array(ratios) > 1):.3f}",
                f"{np.mean(took):.0f}",
            )
    return table


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=300, help="of each kind and source")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    console = Console(width=140)
    console.print(onset_table(options.series, options.seed))
    console.print("held: the 95 % interval, or the one-sided limit, has the truth in it")


if __name__ == "__main__":
    main()
