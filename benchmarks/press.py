"""Whether a stated chance to pass comes true: `python benchmarks/press.py`, printed as a table.

New movements are drawn with a pull and a play of their own and run with any needle; the needle is
pressed by a drawn hand where the plan says, read once, and the cluster is finally checked. What
the check says is judged as a certificate judges it, by code that knows nothing of the plan. Stated
chances stand beside the share that passed, before pressing and after the needle was read.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import as_file, files
from itertools import pairwise
from math import hypot, sqrt
from pathlib import Path
from typing import Final

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from rich.console import Console
from rich.table import Table

from needlewright.errors import RunError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.plans.pressing.hand import HandSpread, tip_deg
from needlewright.plans.pressing.landed import landed
from needlewright.plans.pressing.press import Press, plan_press
from needlewright.proofs.verdicts import judge_dial, rule_of
from needlewright.readings.complete import complete_row
from needlewright.readings.runs import RunRow
from needlewright.readings.stops import mark_stops

SHARES: Final = (0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
HANDS_TIPS: Final = (0.1, 0.25, 0.5)
TOLERANCES: Final = (0.012, 0.02, 0.03, 0.05)
"""Of a house rule, as a share of the span: from what hardly passes to what always does."""
U_DEG: Final = 0.12
COMMON: Final = 0.5
"""Share of a reading's variance that a whole run has in common: the camera's place."""
PULL_DEG: Final = 0.25
BINS: Final = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
SEED: Final = 6300


@dataclass(frozen=True)
class Movement:
    """A drawn one: how far it stands off its programme at a share of the scale."""

    dial: Dial
    pull_deg: float
    turns: float
    rng: np.random.Generator

    def stands_deg(self, told: float) -> float:
        """As if its needle sat on the programme; the movement repeats no better than it does."""
        share = (told - self.dial.scale.values[0]) / self.dial.scale.span
        pull = self.pull_deg * np.sin(2 * np.pi * self.turns * share)
        stray = self.rng.normal(0.0, self.dial.movement.repeatability_deg)
        return float(self.dial.programme_angle_deg(told) + pull + stray)


@dataclass(frozen=True)
class Case:
    """One pressed needle: what was stated, and whether the check passed."""

    before: float
    after: float
    passed: bool
    advice: str


def run_of(movement: Movement, seat_deg: float, ecc_mm: float) -> tuple[RunRow, ...]:
    """A run up and down with a needle seated so, read with noise."""
    dial, rng = movement.dial, movement.rng
    common = rng.normal(0.0, U_DEG * sqrt(COMMON))

    def read(true_deg: float) -> float:
        return float(true_deg + common + rng.normal(0.0, U_DEG * sqrt(1 - COMMON)))

    rest = movement.dial.rest_angle_deg + (0.0 if dial.rest_pin else seat_deg)
    rest += rng.normal(0.0, dial.movement.repeatability_deg)
    rows = [RunRow("drawn", dial.id, dial.unit, "rest", None, None, read(rest), U_DEG)]
    up = [dial.scale.values[0] + share * dial.scale.span for share in SHARES]
    for told, way in [(v, "up") for v in up] + [(v, "down") for v in up[-2::-1]]:
        true = movement.stands_deg(told) + seat_deg
        if dial.rest_pin:
            sense = dial.scale.sense
            true = sense * max(sense * true, sense * dial.rest_angle_deg)
        rows.append(RunRow("drawn", dial.id, dial.unit, way, told, None, read(true), U_DEG))
    return mark_stops([complete_row(row, dial, ecc_mm) for row in rows], dial)


def pressed_at(press: Press, movement: Movement, hand: HandSpread) -> tuple[float, float]:
    """How the needle then sits, and the direction in which it was seen right after."""
    dial, at, rng = movement.dial, press.reference, movement.rng
    aim = rng.normal(0.0, hypot(hand.sd_tips * tip_deg(dial), 0.1 * at.above_mark_deg))
    stood = movement.stands_deg(at.value)
    lands = at.press_deg + aim
    return lands - stood, float(lands + rng.normal(0.0, U_DEG))


def cases_of(family: Family, dial: Dial, hand: HandSpread, rng, presses: int) -> list[Case]:
    """One new movement, pressed again and again."""
    movement = Movement(dial, rng.normal(0.0, PULL_DEG), rng.uniform(0.5, 1.5), rng)
    run = run_of(movement, rng.uniform(-30.0, 30.0), family.eccentricity_mm)
    try:
        press = plan_press(dial, run, rule_of(dial), family.eccentricity_mm, hand)
    except RunError:  # its needle hung over a stop all along
        return []
    found = []
    for _ in range(presses):
        seat_deg, seen_deg = pressed_at(press, movement, hand)
        after = landed(press, dial, seen_deg, U_DEG)
        check = run_of(movement, seat_deg, family.eccentricity_mm)
        verdict = judge_dial(dial, check)
        good = all(row.code in ("pass", "conditional_pass", "not_judged") for row in verdict.rows)
        found.append(Case(press.pass_probability, after.pass_probability, good, after.advice))
    return found


def drawn(movements: int, presses: int) -> list[Case]:
    """Of every dial, hand and tolerance in turn."""
    with as_file(files("needlewright") / "demo_data" / "family") as folder:
        family = load_family(folder)
    rng, found = np.random.default_rng(SEED), []
    for number in range(movements):
        dial = family.dials[number % len(family.dials)]
        of_span = TOLERANCES[number // len(family.dials) % len(TOLERANCES)]
        tips = HANDS_TIPS[number % len(HANDS_TIPS)]
        ruled = replace(dial, rule={"house": {"of_span": of_span}})
        found += cases_of(family, ruled, HandSpread(tips, 0.0, 0.0, 100), rng, presses)
    return found


def calibration(name: str, stated: Sequence[float], passed: Sequence[bool]) -> Table:
    """Stated chances beside the share that passed, and how far apart they are on the whole."""
    table = Table(title=name)
    for heading in ("stated", "needles", "mean stated", "passed"):
        table.add_column(heading, justify="right")
    p, y = np.asarray(stated), np.asarray(passed, float)
    apart = 0.0
    for low, high in pairwise(BINS):
        here = (p >= low) & ((p < high) | (high == 1.0))
        if not here.any():
            continue
        apart += here.sum() * abs(p[here].mean() - y[here].mean())
        table.add_row(
            f"{low:.2f} to {high:.2f}", str(here.sum()), f"{p[here].mean():.3f}",
            f"{y[here].mean():.3f}",
        )  # fmt: skip
    table.add_row("all", str(len(p)), f"{p.mean():.3f}", f"{y.mean():.3f}")
    table.caption = (
        f"mean distance {apart / len(p):.3f}, Brier score {float(np.mean((p - y) ** 2)):.3f}"
    )
    return table


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--movements", type=int, default=384)
    parser.add_argument("--presses", type=int, default=12)
    asked = parser.parse_args()
    found = drawn(asked.movements, asked.presses)
    passed = [one.passed for one in found]
    said = Console()
    said.print(calibration("before pressing", [one.before for one in found], passed))
    said.print(calibration("once the needle was read", [one.after for one in found], passed))
    again = [one for one in found if one.advice != "stays"]
    stay = [one for one in found if one.advice == "stays"]
    said.print(
        f"to be pressed again: {len(again)} of {len(found)}, "
        f"{sum(one.passed for one in again) / max(len(again), 1):.3f} of them would pass; of those "
        f"that stay {sum(one.passed for one in stay) / max(len(stay), 1):.3f}"
    )


if __name__ == "__main__":
    main()
