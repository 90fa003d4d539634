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
from needlewright.readings.runs import Approach, RunRow
from needlewright.readings.stops import mark_stops

SHARES: Final = (0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
HANDS_TIPS: Final = (0.1, 0.25, 0.5)
TOLERANCES: Final = (0.012, 0.02, 0.03, 0.05)
"""Of a house rule, as a share of the span: from what hardly passes to what always does."""
U_DEG: Final = 0.12
COMMON: Final = 0.5
"""Share of a reading's variance that a whole run has in common: the camera's place."""
PULL_DEG: Final = 0.25
PLAY_DEG: Final = 0.15
BINS: Final = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
SEED: Final = 7400
HEADINGS: Final = ("stated", "needles", "mean stated", "passed")
PAGE: Final = Path(__file__).parents[1] / "docs" / "needle-set.md"
BEGIN: Final = "<!-- press: begin -->"
END: Final = "<!-- press: end -->"


@dataclass(frozen=True)
class Movement:
    """A drawn one: how far it stands off its programme at a share of the scale."""

    dial: Dial
    pull_deg: float
    turns: float
    begins: float
    """Where in its wave the pull is at the first mark, so that rest and zero have one as well."""
    play_deg: float
    rng: np.random.Generator

    def off_deg(self, told: float) -> float:
        """The pull at a value."""
        share = (told - self.dial.scale.values[0]) / self.dial.scale.span
        return float(self.pull_deg * np.sin(2 * np.pi * (self.turns * share + self.begins)))

    def stands_deg(self, told: float, approach: Approach) -> float:
        """As if its needle sat on the programme; the movement repeats no better than it does."""
        behind = -1 if approach == "up" else 1
        play = self.dial.scale.sense * behind * self.play_deg / 2
        stray = self.rng.normal(0.0, self.dial.movement.repeatability_deg)
        return self.dial.programme_angle_deg(told) + self.off_deg(told) + play + float(stray)

    def rests_deg(self, seat_deg: float) -> float:
        """On its pin, or where it comes to when it is homed."""
        stray = float(self.rng.normal(0.0, self.dial.movement.repeatability_deg))
        if self.dial.rest_pin:
            return self.dial.rest_angle_deg + stray
        return self.dial.rest_angle_deg + self.off_deg(self.dial.scale.values[0]) + seat_deg + stray


def drawn_movement(dial: Dial, rng: np.random.Generator) -> Movement:
    """A movement as it comes out of a bag."""
    return Movement(
        dial,
        pull_deg=rng.normal(0.0, PULL_DEG),
        turns=rng.uniform(0.5, 1.5),
        begins=rng.uniform(0.0, 1.0),
        play_deg=abs(rng.normal(0.0, PLAY_DEG)),
        rng=rng,
    )


@dataclass(frozen=True)
class Case:
    """One pressed needle: what was stated, and whether the check passed."""

    before: float
    after: float
    passed: bool
    advice: str


def run_of(
    movement: Movement, seat_deg: float, ecc_mm: float, in_common: float = COMMON
) -> tuple[RunRow, ...]:
    """A run up and down with a needle seated so, read with noise."""
    dial, rng = movement.dial, movement.rng
    common = rng.normal(0.0, U_DEG * sqrt(in_common))

    def read(true_deg: float) -> float:
        return float(true_deg + common + rng.normal(0.0, U_DEG * sqrt(1 - in_common)))

    rest = read(movement.rests_deg(seat_deg))
    rows = [RunRow("drawn", dial.id, dial.unit, "rest", None, None, rest, U_DEG)]
    up = [dial.scale.values[0] + share * dial.scale.span for share in SHARES]
    ways: list[tuple[float, Approach]] = [(v, "up") for v in up]
    for told, way in ways + [(v, "down") for v in up[-2::-1]]:
        true = movement.stands_deg(told, way) + seat_deg
        if dial.rest_pin:
            sense = dial.scale.sense
            true = sense * max(sense * true, sense * dial.rest_angle_deg)
        rows.append(RunRow("drawn", dial.id, dial.unit, way, told, None, read(true), U_DEG))
    return mark_stops([complete_row(row, dial, ecc_mm) for row in rows], dial)


def pressed_at(press: Press, movement: Movement, hand: HandSpread) -> tuple[float, float]:
    """How the needle then sits, and the direction in which it was seen right after."""
    dial, at, rng = movement.dial, press.reference, movement.rng
    aim = rng.normal(0.0, hypot(hand.sd_tips * tip_deg(dial), 0.1 * at.above_mark_deg))
    stood = movement.stands_deg(at.value, at.approach)
    lands = at.press_deg + aim
    return lands - stood, float(lands + rng.normal(0.0, U_DEG))


def cases_of(
    family: Family, movement: Movement, hand: HandSpread, presses: int, in_common: float
) -> list[Case]:
    """One new movement, pressed again and again."""
    dial, rng = movement.dial, movement.rng
    run = run_of(movement, rng.uniform(-30.0, 30.0), family.eccentricity_mm, in_common)
    try:
        press = plan_press(dial, run, rule_of(dial), family.eccentricity_mm, hand)
    except RunError:  # its needle hung over a stop all along
        return []
    found = []
    for _ in range(presses):
        seat_deg, seen_deg = pressed_at(press, movement, hand)
        after = landed(press, dial, seen_deg, U_DEG)
        check = run_of(movement, seat_deg, family.eccentricity_mm, in_common)
        verdict = judge_dial(dial, check)
        good = all(row.code in ("pass", "conditional_pass", "not_judged") for row in verdict.rows)
        found.append(Case(press.pass_probability, after.pass_probability, good, after.advice))
    return found


def drawn(movements: int, presses: int, seed: int = SEED, in_common: float = COMMON) -> list[Case]:
    """Of every dial, hand and tolerance in turn."""
    with as_file(files("needlewright") / "demo_data" / "family") as folder:
        family = load_family(folder)
    rng, found = np.random.default_rng(seed), []
    for number in range(movements):
        dial = family.dials[number % len(family.dials)]
        of_span = TOLERANCES[number // len(family.dials) % len(TOLERANCES)]
        tips = HANDS_TIPS[number % len(HANDS_TIPS)]
        ruled = replace(dial, rule={"house": {"of_span": of_span}})
        hand = HandSpread(tips, 0.0, 0.0, 100)
        found += cases_of(family, drawn_movement(ruled, rng), hand, presses, in_common)
    return found


@dataclass(frozen=True)
class Calibration:
    """Stated chances beside the share that passed, by how much was stated."""

    name: str
    rows: tuple[tuple[str, int, float, float], ...]
    distance: float
    """Mean of how far both are apart, each bin by its needles."""
    brier: float


def calibration(name: str, stated: Sequence[float], passed: Sequence[bool]) -> Calibration:
    """How far what was stated and what came of it are apart."""
    p, y = np.asarray(stated), np.asarray(passed, float)
    rows, apart = [], 0.0
    for low, high in pairwise(BINS):
        here = (p >= low) & ((p < high) | (high == 1.0))
        if here.any():
            mean, share = float(p[here].mean()), float(y[here].mean())
            apart += int(here.sum()) * abs(mean - share)
            rows.append((f"{low:.2f} to {high:.2f}", int(here.sum()), mean, share))
    rows.append(("all", len(p), float(p.mean()), float(y.mean())))
    return Calibration(name, tuple(rows), apart / len(p), float(np.mean((p - y) ** 2)))


def as_table(one: Calibration) -> Table:
    """For a terminal."""
    table = Table(title=one.name)
    for heading in HEADINGS:
        table.add_column(heading, justify="right")
    for stated, count, mean, share in one.rows:
        table.add_row(stated, str(count), f"{mean:.3f}", f"{share:.3f}")
    table.caption = f"mean distance {one.distance:.3f}, Brier score {one.brier:.3f}"
    return table


def as_markdown(one: Calibration) -> str:
    """For the page of docs."""
    lines = [
        f"{one.name.capitalize()}:",
        "",
        f"| {' | '.join(HEADINGS)} |",
        "| --- | --: | --: | --: |",
    ]
    lines += [f"| {row[0]} | {row[1]} | {row[2]:.3f} | {row[3]:.3f} |" for row in one.rows]
    said = f"mean distance {one.distance:.3f}, Brier score {one.brier:.3f}"
    return "\n".join([*lines, "", f"{said[0].upper()}{said[1:]}."])


def write_into(page: Path, text: str) -> None:
    """Put a text between the marks of the page."""
    before, _, rest = page.read_text("utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    page.write_text(f"{before}{BEGIN}\n\n{text}\n\n{END}{after}", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--movements", type=int, default=768)
    parser.add_argument("--presses", type=int, default=2)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument(
        "--in-common", type=float, default=COMMON, help="share of a reading's variance"
    )
    parser.add_argument("--write", action="store_true", help="into docs/needle-set.md as well")
    asked = parser.parse_args()
    found = drawn(asked.movements, asked.presses, asked.seed, asked.in_common)
    passed = [one.passed for one in found]
    both = (
        calibration("before pressing", [one.before for one in found], passed),
        calibration("once the needle was read", [one.after for one in found], passed),
    )
    again = [one.passed for one in found if one.advice != "stays"]
    stay = [one.passed for one in found if one.advice == "stays"]
    ended = (
        f"To be pressed again: {len(again)} of {len(found)}; of them "
        f"{100 * sum(again) / max(len(again), 1):.0f} % would pass as they are, of those that stay "
        f"{100 * sum(stay) / max(len(stay), 1):.0f} %."
    )
    said = Console()
    for one in both:
        said.print(as_table(one))
    said.print(ended)
    if asked.write:
        write_into(PAGE, "\n\n".join([*map(as_markdown, both), ended]))


if __name__ == "__main__":
    main()
