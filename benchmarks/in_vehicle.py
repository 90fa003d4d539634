"""Told and shown, over drives nobody drove: `python benchmarks/in_vehicle.py`.

Half of the dials are sound, the others wrong in one of six ways. Printed are the verdicts, whether
a probability comes true as often as it says, how large a ratio of likelihoods the errors bear out,
and the time of a dial.
"""

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import log10
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.driven import FAULTS, LEAST_DEG, drive
from benchmarks.tables import as_document
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.in_vehicle import MOST, judge_in_vehicle

ROOT = Path(__file__).parents[1]
FAMILY = ROOT / "tests" / "data" / "families" / "fam-job"
SEED = 5400
VERDICTS = ("shows_what_it_is_told", "undecided", "does_not", "not_comparable")


@dataclass(frozen=True)
class Judged:
    """One dial: what it had, and what was said."""

    fault: str
    photos: int
    verdict: str
    ratio: float | None
    off_u: float | None
    """Size said less true size in stated uncertainties; offsets only."""
    cpu_ms: float

    @property
    def sound(self) -> float:
        """Probability said, for even odds beforehand."""
        return 0.5 if self.ratio is None else 1 / (1 + self.ratio)


def judged(family: Family, count: int, seed: int) -> list[Judged]:
    """Judge as many dials, half of them sound."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        dial = family.dials[number % len(family.dials)]
        fault = "sound" if rng.uniform() < 0.5 else str(rng.choice(FAULTS))
        drawn = drive(dial, fault, rng)
        began = time.process_time()
        one = judge_in_vehicle(dial, drawn.looks, family.eccentricity_mm)
        cpu_ms = 1e3 * (time.process_time() - began)
        used = [off for off, row in zip(drawn.off_deg, one.rows, strict=True) if row.comparable]
        if fault != "sound" and used and max(map(abs, used)) < LEAST_DEG:
            continue  # it showed in no photo that could be compared: nobody can know
        off_u = None
        if fault == "offset" and one.size_deg is not None and one.u_size_deg:
            off_u = (one.size_deg - float(np.mean(used))) / one.u_size_deg
        found.append(Judged(fault, len(used), one.verdict, one.ratio, off_u, cpu_ms))
    return found


def verdicts(named: Sequence[Judged]) -> Table:
    """Who was found to be what."""
    table = Table(title="verdicts", title_justify="left")
    table.add_column("had")
    for heading in (*VERDICTS, "wrong side"):
        table.add_column(heading.replace("_", " "), justify="right")
    for fault in ("sound", *FAULTS):
        mine = [one for one in named if one.fault == fault]
        said = Counter(one.verdict for one in mine)
        wrong = said["does_not"] if fault == "sound" else said["shows_what_it_is_told"]
        decided = max(said["does_not"] + said["shows_what_it_is_told"], 1)
        table.add_row(fault, *(str(said[v]) for v in VERDICTS), f"{wrong / decided:.3f}")
    return table


def reliability(named: Sequence[Judged]) -> Table:
    """Is a probability true as often?"""
    table = Table(title="is what is called probable true as often?", title_justify="left")
    for heading in ("said", "dials", "said on average", "sound"):
        table.add_column(heading, justify="right")
    known = [one for one in named if one.ratio is not None]
    for low in range(10):
        some = [one for one in known if min(int(one.sound * 10), 9) == low]
        if some:
            said, true = (
                float(np.mean(figures))
                for figures in ([o.sound for o in some], [o.fault == "sound" for o in some])
            )
            table.add_row(
                f"{low / 10:.1f} to {low / 10 + 0.1:.1f}",
                str(len(some)),
                f"{said:.3f}",
                f"{true:.3f}",
            )
    return table


def surest(named: Sequence[Judged]) -> Table:
    """How often the surest are wrong; the largest ratio that is borne out is its inverse."""
    table = Table(title="the surest", title_justify="left")
    for heading in ("ratio", "dials", "wrong", "borne out at 95 %"):
        table.add_column(heading, justify="right")
    known = [one for one in named if one.ratio is not None]
    for edge in (10.0, 50.0, MOST * 0.99):
        for yes in (True, False):
            some = [o for o in known if (o.ratio >= edge if yes else o.ratio <= 1 / edge)]
            wrong = sum((o.fault == "sound") is yes for o in some)
            # rule of three for none, else the Poisson bound by its normal approximation
            most = (3.0 if wrong == 0 else wrong + 1.645 * wrong**0.5 + 1) / max(len(some), 1)
            table.add_row(
                f"{'>=' if yes else '<='} {edge if yes else 1 / edge:.3g}",
                str(len(some)),
                str(wrong),
                f"{1 / most:.0f}",
            )
    return table


def figures(named: Sequence[Judged]) -> Table:
    """Calibration, sizes, time."""
    table = Table(title="over all", title_justify="left")
    table.add_column("")
    table.add_column("", justify="right")
    known = [one for one in named if one.ratio is not None]
    said = np.array([one.sound for one in known])
    true = np.array([one.fault == "sound" for one in known], dtype=float)
    bins = np.minimum((said * 10).astype(int), 9)
    error = sum(abs(said[bins == b].sum() - true[bins == b].sum()) for b in range(10)) / len(known)
    table.add_row("dials", str(len(named)))
    table.add_row("calibration error", f"{error:.3f}")
    off = np.abs([one.off_u for one in known if one.off_u is not None])
    table.add_row("size of an offset within U, k = 2", f"{np.mean(off <= 2):.3f}")
    table.add_row("a dial, ms of processor: mean", f"{np.mean([o.cpu_ms for o in named]):.2f}")
    surprise = [-log10(s if t else 1 - s) for s, t in zip(said, true, strict=True)]
    table.add_row("surprise, mean of -lg probability of the truth", f"{np.mean(surprise):.3f}")
    return table


def main() -> int:
    """Judge and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=4000, help="dials")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--json", type=Path, help="file for the tables")
    arguments = parser.parse_args()
    named = judged(load_family(FAMILY), arguments.count, arguments.seed)
    tables = [figures(named), verdicts(named), reliability(named), surest(named)]
    for table in tables:
        Console(width=140).print(table)
    if arguments.json:
        document = {"tables": [as_document(table) for table in tables]}
        arguments.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
