"""What a search takes by the advice of the knowledge file, and by three plain ways of working.

Jobs are drawn forward from causes to answers: once from the file as it is, once from files whose
every figure was changed at random, because the world is not the file. Everybody hears the same
complaint and meets the same truth; a remedy that cures by chance cures for all of them. What is
said of dials and of their parts is held against what they have: whether 0.9 means 0.9.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np

from benchmarks.search_cases import CHANGE, DIALS, Job, changed, complained_of, drawn_job
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import (
    SOUND,
    Answer,
    Knowledge,
    Remedy,
    code_of,
    of_state,
    part_of,
)
from needlewright.findings.troubleshooting.next_test import Stage, next_options
from needlewright.findings.troubleshooting.past_opinions import (
    Opinion,
    TrackRecord,
    track_record,
)
from needlewright.findings.troubleshooting.planning import course_of
from needlewright.findings.troubleshooting.responsible import responsible

MOST_TESTS: Final = 25
NO_PART: Final = "none"
"""Of a fault that lies in no part that is told apart, such as a sender."""


class Search:
    """One search for what is to blame, its minutes counted."""

    def __init__(self, knowledge: Knowledge, job: Job) -> None:
        self.knowledge, self.job = knowledge, job
        self.left = set(job.to_blame)
        self.minutes, self.is_open, self.is_sent = 0.0, False, False

    def send(self) -> None:
        if not self.is_sent:
            self.minutes += self.knowledge.work.send_minutes
            self.is_sent = True

    def remedy(self, remedy: Remedy, dial: str | None) -> None:
        """Try one, unless what it is for works already."""
        if not self.shows(dial):
            return
        if remedy.inside and not self.is_open:
            self.send()
            self.minutes += self.knowledge.work.open_minutes
            self.is_open = True
        self.minutes += remedy.minutes + self.knowledge.work.check_minutes
        for code, of in tuple(self.left):
            if remedy.scope == "dial" and of != dial:
                continue
            if self.job.luck.get((remedy.id, code, of), False):
                self.left.discard((code, of))

    def shows(self, dial: str | None) -> bool:
        """Whether a dial, or anything, is still wrong."""
        return any(dial is None or of is None or of == dial for _, of in self.left)

    def ended(self) -> float:
        """All minutes, giving up included where something is left."""
        return self.minutes + (self.knowledge.work.give_up_minutes if self.left else 0.0)


def by_advice(search: Search, steps: int) -> None:
    """Do what is advised first, again and again."""
    belief = belief_of(search.knowledge, DIALS, search.job.complaint(search.knowledge))
    stage: Stage = "vehicle"
    for _ in range(MOST_TESTS):
        option = next_options(belief, stage, steps)[0]
        if option.kind == "send":
            search.send()
            stage = "bench"
            continue
        if option.kind != "test":
            break
        finding = search.knowledge.findings[str(option.id)]
        search.minutes += finding.cost_minutes
        belief = belief.told(
            Answer(finding.id, search.job.answers[finding.id, option.dial], option.dial)
        )
    for name in course_of(belief, is_sent=stage == "bench").names:
        _try(search, name)


def _try(search: Search, name: str) -> None:
    remedy, _, dial = name.partition(":")
    search.remedy(search.knowledge.remedies[remedy], dial or None)


def _all_tries(belief: Belief) -> list[tuple[str, float, float]]:
    """Every remedy for what is complained of: name, probability, minutes."""
    found_of = responsible(belief)
    causes = [(code, of, p) for code, of, p in found_of.causes(belief.states) if of is None]
    causes += [
        (code if part is None else f"{code}/{part}", of, p)
        for code, part, of, p in found_of.parts(belief.states)
    ]
    found = []
    for remedy in belief.knowledge.remedies.values():
        dials: Sequence[str | None] = (None,) if remedy.scope == "whole" else DIALS
        for dial in dials:
            helps = sum(
                p * of_state(remedy.cures, state)
                for state, of, p in causes
                if (remedy.scope == "whole" and of is None) or (of == dial and dial is not None)
            )
            if helps > 1e-3:
                name = remedy.id if dial is None else f"{remedy.id}:{dial}"
                found.append((name, helps, remedy.minutes))
    return found


def _by_order(key: Callable[[tuple[str, float, float]], float]) -> Callable[[Search], None]:
    def carry_out(search: Search) -> None:
        belief = belief_of(search.knowledge, DIALS, search.job.complaint(search.knowledge))
        for name, _, _ in sorted(_all_tries(belief), key=key):
            _try(search, name)

    return carry_out


def replace_everything(search: Search) -> None:
    """Send it, do everything inside that the complaint could need, then what is outside."""
    belief = belief_of(search.knowledge, DIALS, search.job.complaint(search.knowledge))
    inside = [
        name
        for name, _, _ in _all_tries(belief)
        if search.knowledge.remedies[name.partition(":")[0]].inside
    ]
    checks = search.knowledge.work.check_minutes * (len(inside) - 1)
    for name in inside:
        remedy, _, dial = name.partition(":")
        before = set(search.left)
        search.left |= {("anything", dial or None)}  # done whether it is needed or not
        search.remedy(search.knowledge.remedies[remedy], dial or None)
        search.left = {one for one in search.left if one in before}
    search.minutes -= max(checks, 0.0)  # one check after all of it
    for name, _, _ in sorted(_all_tries(belief), key=lambda one: -one[1]):
        if not search.knowledge.remedies[name.partition(":")[0]].inside:
            _try(search, name)


WAYS: Final[dict[str, Callable[[Search], None]]] = {
    "advice, two steps ahead": lambda search: by_advice(search, 2),
    "advice, one step ahead": lambda search: by_advice(search, 1),
    "advice without tests": lambda search: by_advice(search, 0),
    "cheapest first": _by_order(lambda one: one[2]),
    "most probable first": _by_order(lambda one: -one[1]),
    "replace everything": replace_everything,
}


def measured(jobs: int, seed: int, is_changed: bool) -> dict[str, list[float]]:
    """Minutes of every way over the same jobs."""
    knowledge = load_knowledge()
    minutes: dict[str, list[float]] = {way: [] for way in WAYS}
    for number in range(jobs):
        rng = np.random.default_rng([seed, number, int(is_changed)])
        world = changed(knowledge, rng) if is_changed else knowledge
        job = drawn_job(world, rng)
        for way, carry_out in WAYS.items():
            search = Search(knowledge, job)
            carry_out(search)
            minutes[way].append(search.ended())
        if sys.stderr.isatty():
            print(f"\r{number + 1} of {jobs}", end="", file=sys.stderr)
    return minutes


def calibration(jobs: int, seed: int, is_changed: bool) -> dict[str, TrackRecord]:
    """What is said of every dial after half of all questions and tests, beside what it has.

    A job is one that somebody complains of, whatever is behind it: choosing those with a cause
    would know more than what is told.
    """
    knowledge = load_knowledge()
    causes, parts = list[Opinion](), list[Opinion]()
    for number in range(jobs):
        rng = np.random.default_rng([seed, number, 2 + int(is_changed)])
        world = changed(knowledge, rng) if is_changed else knowledge
        job, told = complained_of(world, rng)
        told |= {key for key in job.answers if rng.random() < 0.5}
        answers = [
            Answer(name, yes, of) for (name, of), yes in job.answers.items() if (name, of) in told
        ]
        belief = belief_of(knowledge, DIALS, answers)
        for dial, state in job.of_dial.items():
            code, said = code_of(state), belief.dial(dial)
            causes.append(Opinion(() if code == SOUND else (code,), said, "", dial))
            located = belief.parts(dial)
            elsewhere = 1.0 - said[SOUND] - sum(located.values())
            had = () if code == SOUND else (part_of(state) or NO_PART,)
            shares = {SOUND: said[SOUND], NO_PART: max(elsewhere, 0.0), **located}
            parts.append(Opinion(had, shares, "", dial))
    return {
        name: record
        for name, opinions in (("cause of a dial", causes), ("part of a dial", parts))
        if (record := track_record(opinions)) is not None
    }


def _print_calibration(title: str, records: dict[str, TrackRecord]) -> None:
    for name, record in records.items():
        print(f"\n{title}: {name}; calibration error {record.expected_error:.4f}")
        print(f"{'said':>10s} {'held':>7s} {'95 %':>15s} {'statements':>11s}")
        for one in record.bins:
            interval = f"{one.share_low:.3f} to {one.share_high:.3f}"
            share = one.held / one.count
            print(f"{one.said:10.3f} {share:7.3f} {interval:>15s} {one.count:11d}")


def _print(title: str, minutes: dict[str, list[float]]) -> None:
    first = np.array(next(iter(minutes.values())))
    print(f"\n{title}\n{'way':28s} {'minutes':>8s} {'s.e.':>6s} {'to the first':>13s}")
    for way, values in minutes.items():
        taken = np.array(values)
        error = taken.std(ddof=1) / np.sqrt(len(taken))
        print(f"{way:28s} {taken.mean():8.1f} {error:6.1f} {taken.mean() / first.mean():13.2f}")


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only-calibration", action="store_true")
    parser.add_argument("--only-changed", action="store_true", help="the second half alone")
    asked = parser.parse_args()
    for title, is_changed in (
        ("the world is the file", False),
        (f"every figure changed by {CHANGE} in log odds", True),
    ):
        if asked.only_changed and not is_changed:
            continue
        if not asked.only_calibration:
            _print(title, measured(asked.jobs, asked.seed, is_changed))
        _print_calibration(title, calibration(4 * asked.jobs, asked.seed, is_changed))


if __name__ == "__main__":
    main()
