"""Events in sweeps, found and false, per kind and noise: `python benchmarks/events.py`.

Half an hour of sound sweeps for each noise, then sweeps with one kind of fault each, watched at 25,
30 and 60 frames a second, evenly and unevenly, with frames missing, the needle hidden at times, and
with the slow errors of a shaking hand. Found means: the right fault within 0.15 s, and for slips
within 0.3 degrees; the others within 0.3 degrees or twice their stated uncertainty. Last, over all
noises, in how many sweeps of each kind each fault was named, whenever and however large.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.sweep_cases import CASES, Case, sound
from needlewright.findings.event import EVENT_FAULTS, Event
from needlewright.findings.sweep_events import find_events
from needlewright.rehearsal.movement.watched import Watching

NOISES = ((0.03, 0.0), (0.03, 0.08), (0.08, 0.0), (0.08, 0.1), (0.15, 0.0), (0.15, 0.15))
"""Of each frame, and of a hand, degrees."""
NOTHING = "nothing"
WITHIN_S = 0.15
WITHIN_DEG = 0.3
ALSO = {
    "blocked, stepper (physics)": ("lost_steps",),
    "lost steps, cold (physics)": ("blocked",),
}
"""What is true as well: a rotor driven on against a block loses cycles; one out of step stands."""


@dataclass
class Score:
    """Counts over many sweeps."""

    happened: int = 0
    found: int = 0
    false: int = 0
    watched_s: float = 0.0
    sweeps: int = 0
    named: Counter[str] = field(default_factory=Counter)
    """Sweeps in which each fault was named, and in which nothing was."""

    def add(self, case: Case, events: tuple[Event, ...], kind: str = "sound") -> None:
        """Count one sweep."""
        self.watched_s += float(case.track.t_s[-1])
        self.sweeps += 1
        self.named.update({event.fault for event in events} or {NOTHING})
        left = list(events)
        for truth in case.happened:
            self.happened += 1
            close = [
                event
                for event in left
                if event.fault == truth.fault
                and (truth.t_s < 0 or abs(event.t_s - truth.t_s) <= WITHIN_S)
                and abs(event.size_deg - truth.size_deg) <= _within(event)
            ]
            if close:
                self.found += 1
                left = [e for e in left if not _same(e, close[0], truth.t_s)]
        if case.happened:
            left = [e for e in left if e.fault not in ALSO.get(kind, ())]
        self.false += len(left)


def _within(event: Event) -> float:
    """How far a size may be off: slips a fixed angle, others their own statement (k = 2)."""
    return WITHIN_DEG if event.fault == "lost_steps" else max(WITHIN_DEG, 2 * event.u_size_deg)


def _same(event: Event, taken: Event, t_s: float) -> bool:
    return event is taken or (t_s < 0 and event.fault == taken.fault)


def watching(noise: tuple[float, float], rng: np.random.Generator) -> Watching:
    """One way of watching."""
    return Watching(
        frames_hz=float(rng.choice([25.0, 30.0, 60.0])),
        uneven=float(rng.choice([0.0, 0.2])),
        skipped=float(rng.choice([0.0, 0.02])),
        noise_deg=noise[0],
        shake_deg=noise[1],
        hidden_hz=float(rng.choice([0.0, 0.1])),
        hidden_s=0.15,
    )


def scored(kind: str, noise: tuple[float, float], count: int, commanded: bool, seed: int) -> Score:
    """Sweeps of one kind, scored."""
    rng = np.random.default_rng(seed)
    score = Score()
    for _ in range(count):
        case = CASES[kind](watching(noise, rng), rng)
        command = case.command if commanded else None
        score.add(case, find_events(case.track, case.dial, command), kind)
    return score


def sound_score(noise: tuple[float, float], minutes: float, commanded: bool, seed: int) -> Score:
    """False alarms in sound sweeps."""
    rng = np.random.default_rng(seed)
    score = Score()
    while score.watched_s < 60.0 * minutes:
        case = sound(watching(noise, rng), rng)
        command = case.command if commanded else None
        score.add(case, find_events(case.track, case.dial, command))
    return score


def confusion_table(title: str, named: Mapping[str, Iterable[Score]]) -> Table:
    """In how many sweeps of each kind each fault was named."""
    table = Table(title=title, title_justify="left")
    table.add_column("in truth")
    for column in ("sweeps", *EVENT_FAULTS, NOTHING):
        table.add_column(column, justify="right")
    for kind, scores in named.items():
        some = list(scores)
        together = sum((score.named for score in some), Counter())
        cells = [str(together[fault] or "") for fault in (*EVENT_FAULTS, NOTHING)]
        table.add_row(kind, str(sum(score.sweeps for score in some)), *cells)
    return table


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=30.0, help="of sound sweeps, each noise")
    parser.add_argument("--sweeps", type=int, default=40, help="of each kind, each noise")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    console, rows = Console(width=120), []
    for commanded in (False, True):
        title = "command known" if commanded else "command not known"
        table = Table(title=title, title_justify="left")
        table.add_column("sweeps")
        for noise in NOISES:
            table.add_column(f"{noise[0]:g}+{noise[1]:g} deg", justify="right")
        cells, every = [], {"sound": []}
        for noise in NOISES:
            score = sound_score(noise, options.minutes, commanded, options.seed)
            every["sound"].append(score)
            cells.append(f"{score.false} in {score.watched_s / 60:.0f} min")
            rows.append(("sound", commanded, noise, 0, 0, score.false, score.watched_s))
        table.add_row("sound: false", *cells)
        for kind in CASES:
            cells, every[kind] = [], []
            for noise in NOISES:
                score = scored(kind, noise, options.sweeps, commanded, options.seed)
                every[kind].append(score)
                cells.append(f"{score.found}/{score.happened} +{score.false}")
                rows.append(
                    (kind, commanded, noise, score.happened, score.found, score.false,
                     score.watched_s)
                )  # fmt: skip
            table.add_row(kind, *cells)
        console.print(table)
        console.print(confusion_table(f"named, {title}", every))
    console.print("found/happened +false; noise of a frame + of a hand")
    if options.json:
        options.json.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
