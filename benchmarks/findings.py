"""Faults named from runs nobody fitted anything to: `python benchmarks/findings.py`.

Two sources that know nothing of how faults are found: invented dials drawn by rules of their own
(`fault_runs`), and needles turned by the rehearsed movements (`moved_faults`). A third of the
dials are sound, the other faults come equally often. Printed are who was taken for whom, whether
what is called 90 % comes true in 90 of 100, and the time of a dial.
"""

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.fault_runs import SINGLE, Drawn, draw
from benchmarks.moved_faults import move
from benchmarks.tables import as_document
from needlewright.findings.signatures.explain import explain_dial

SOUND_SHARE = 1 / 3
SEEDS = {"drawn": 5500, "moved": 5900}
SHORT = (
    "sound",
    "offset",
    "scale",
    "lost",
    "play",
    "drag",
    "stalled",
    "blocked",
    "face",
    "erratic",
)


@dataclass(frozen=True)
class Named:
    """One dial: what it had, and what was said."""

    source: str
    fault: str
    identifiable: bool
    said: str
    probability: float
    size_error_u: float | None
    """Size said less true size in stated uncertainties, where the fault was named rightly."""
    cpu_ms: float


def runs(source: str, count: int, seed: int) -> Iterator[Drawn]:
    """Dials of one source, a third of them sound."""
    rng = np.random.default_rng(seed)
    make = {"drawn": draw, "moved": move}[source]
    for _ in range(count):
        sound = rng.random() < SOUND_SHARE
        yield make(rng, "sound" if sound else str(rng.choice(SINGLE[1:])))


def name(drawn: Drawn) -> Named:
    """Explain one dial."""
    start = time.process_time()
    found = explain_dial(drawn.dial, drawn.rows)
    cpu_ms = 1e3 * (time.process_time() - start)
    assert found is not None
    top = found.faults[0]
    off = None
    if top.fault == drawn.fault and drawn.size is not None and top.size is not None:
        off = (top.size - drawn.size) / max(top.u_size or 0.0, 1e-9)
    return Named(
        drawn.source, drawn.fault, drawn.identifiable, top.fault, top.probability, off, cpu_ms
    )


def calibration_error(named: Sequence[Named], weights: Sequence[float] | None = None) -> float:
    """Expected calibration error of the top answer, ten equal bins of its probability."""
    said = np.array([one.probability for one in named])
    right = np.array([one.said == one.fault for one in named], dtype=float)
    weight = np.ones(len(named)) if weights is None else np.array(weights)
    bins = np.minimum((said * 10).astype(int), 9)
    parts = [abs((weight * (said - right))[bins == b].sum()) for b in range(10)]
    return float(sum(parts) / weight.sum())


def as_if_equally_often(named: Sequence[Named]) -> list[float]:
    """Weights that make every fault, sound among them, as frequent as any other."""
    often = Counter(one.fault for one in named)
    return [1.0 / often[one.fault] for one in named]


def right_share(named: Sequence[Named]) -> float:
    """Share of identifiable faults whose top answer is right."""
    faulty = [one for one in named if one.identifiable and one.fault != "sound"]
    return sum(one.said == one.fault for one in faulty) / max(len(faulty), 1)


def sound_called_faulty(named: Sequence[Named]) -> float:
    """Share of sound dials that were called faulty."""
    sound = [one for one in named if one.fault == "sound"]
    return sum(one.said != "sound" for one in sound) / max(len(sound), 1)


def mean_ms(named: Sequence[Named]) -> float:
    """Processor time of a dial on average."""
    return float(np.mean([one.cpu_ms for one in named] or [0.0]))


def gate(named: Sequence[Named]) -> Table:
    """What is asked and what was reached, by source and together."""
    table = Table(title="the gate", title_justify="left")
    for heading in ("", "drawn", "moved", "together", "asked", ""):
        table.add_column(heading, justify="left" if heading == "" else "right")
    sources = [[o for o in named if o.source == s] for s in SEEDS] + [list(named)]
    figures = {
        "identifiable faults named rightly": (right_share, ">= 0.95"),
        "sound called faulty": (sound_called_faulty, "<= 0.02"),
        "expected calibration error": (calibration_error, "<= 0.05"),
        "a dial, ms of processor: mean": (mean_ms, "<= 20"),
    }
    for words, (figure, asked) in figures.items():
        values = [figure(some) for some in sources]
        side, limit = asked.split()
        met = values[-1] >= float(limit) if side == ">=" else values[-1] <= float(limit)
        table.add_row(words, *(f"{v:.3g}" for v in values), asked, "met" if met else "MISSED")
    times = [np.array([o.cpu_ms for o in some] or [0.0]) for some in sources]
    table.add_row(
        "a dial, ms of processor: 95 %", *(f"{np.percentile(t, 95):.3g}" for t in times), "", ""
    )
    equal = [calibration_error(s, as_if_equally_often(s)) for s in sources]
    table.add_row(
        "calibration error, were all faults as frequent", *(f"{v:.3g}" for v in equal), "", ""
    )
    table.add_row("dials", *(str(len(s)) for s in sources), "", "")
    return table


def confusion(named: Sequence[Named], title: str) -> Table:
    """Who was taken for whom."""
    table = Table(title=title, title_justify="left")
    table.add_column("had")
    for heading in (*SHORT, "right"):
        table.add_column(heading, justify="right")
    for code in SINGLE:
        mine = [one for one in named if one.fault == code]
        said = Counter(one.said for one in mine)
        share = f"{said[code] / len(mine):.3f}" if mine else ""
        table.add_row(code, *(str(said[other] or "") for other in SINGLE), share)
    return table


def reliability(named: Sequence[Named]) -> Table:
    """What the top answers said, and how often they were right."""
    table = Table(title="is what is called probable true as often?", title_justify="left")
    for heading in ("said", "dials", "said on average", "right"):
        table.add_column(heading, justify="right")
    for low in range(10):
        some = [one for one in named if min(int(one.probability * 10), 9) == low]
        if some:
            right = np.mean([one.said == one.fault for one in some])
            said = np.mean([one.probability for one in some])
            table.add_row(
                f"{low / 10:.1f} to {low / 10 + 0.1:.1f}",
                str(len(some)),
                f"{said:.3f}",
                f"{right:.3f}",
            )
    return table


def sizes(named: Sequence[Named]) -> Table:
    """How often twice the stated uncertainty holds the true size."""
    table = Table(title="sizes of faults named rightly", title_justify="left")
    for heading in ("fault", "dials", "within U, k = 2"):
        table.add_column(heading, justify="left" if heading == "fault" else "right")
    for code in SINGLE[1:]:
        off = [o.size_error_u for o in named if o.fault == code and o.size_error_u is not None]
        if off:
            table.add_row(code, str(len(off)), f"{np.mean(np.abs(off) <= 2):.2f}")
    return table


def main() -> int:
    """Run both sources and print; leaves with 1 where a figure is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000, help="dials of each source")
    parser.add_argument("--json", type=Path, help="file for the tables")
    arguments = parser.parse_args()
    named = [
        name(drawn)
        for source, seed in SEEDS.items()
        for drawn in runs(source, arguments.count, seed)
    ]
    plain = [one for one in named if one.identifiable]
    tables = [
        gate(named),
        confusion(plain, "where the fault can be told from the rows"),
        confusion(named, "everything"),
        reliability(named),
        sizes(named),
    ]
    for table in tables:
        Console(width=140).print(table)
    if arguments.json:
        document: dict[str, Any] = {"tables": [as_document(table) for table in tables]}
        arguments.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    return int("MISSED" in list(tables[0].columns[-1].cells))


if __name__ == "__main__":
    sys.exit(main())
