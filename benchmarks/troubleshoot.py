"""What a search takes by the advice of the knowledge file, and by three plain ways of working.

Jobs are drawn forward from causes to answers: once from the file as it is, once from files whose
every figure was changed at random, because the world is not the file. Everybody hears the same
complaint and meets the same truth; a remedy that cures by chance cures for all of them.
"""

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer, Knowledge, Remedy, of_state
from needlewright.findings.troubleshooting.next_test import Stage, next_options
from needlewright.findings.troubleshooting.planning import course_of
from needlewright.findings.troubleshooting.responsible import responsible

DIALS: Final = ("speed", "engine", "fuel", "temperature")
CHANGE: Final = 0.7
"""Standard deviation of a figure of the world against the file's, in log odds."""
MOST_TESTS: Final = 25


@dataclass(frozen=True, slots=True)
class Job:
    """What is wrong with one cluster, in which part, what would be answered, what would help."""

    of_dial: dict[str, str]
    of_whole: frozenset[str]
    answers: dict[tuple[str, str | None], bool]
    to_blame: frozenset[tuple[str, str | None]]
    """Causes that made a complaint."""
    luck: dict[tuple[str, str, str | None], bool]
    """Whether a remedy cures a cause of a dial in its part, or of the whole."""

    def complaint(self, knowledge: Knowledge) -> list[Answer]:
        """What the owner says without being asked: gauges that read wrong, and all of the whole."""
        return [
            Answer(finding, yes, dial)
            for (finding, dial), yes in self.answers.items()
            if knowledge.findings[finding].place == "asked"
            and (dial is None or knowledge.findings[finding].opens)
        ]


def drawn_job(world: Knowledge, rng: np.random.Generator) -> Job:
    """One job with a complaint that has a cause."""
    while True:
        job = _any_job(world, rng)
        if job.to_blame:
            return job


def _any_job(world: Knowledge, rng: np.random.Generator) -> Job:
    whole: set[str] = set()
    for cause in world.of_scope("whole"):
        absent = 1 - cause.prior
        for other in whole:
            absent *= 1 - world.causes[other].brings.get(cause.code, 0.0)
        if rng.random() > absent:
            whole.add(cause.code)
    of_dial = {dial: _state(world, whole, rng) for dial in DIALS}
    answers: dict[tuple[str, str | None], bool] = {}
    to_blame: set[tuple[str, str | None]] = set()
    for finding in world.findings.values():
        dials: Sequence[str | None] = DIALS if finding.scope == "dial" else (None,)
        for dial in dials:
            present = {(code, None) for code in whole}
            if dial is not None:
                present.add((of_dial[dial], dial))
            made = {
                one
                for one in sorted(present, key=str)
                if rng.random() < of_state(finding.shown_by, one[0])
            }
            answers[finding.id, dial] = bool(made) or rng.random() < finding.otherwise
            if finding.place == "asked" and (dial is None or finding.opens):
                to_blame |= made
    luck = {}
    for remedy in world.remedies.values():
        for cause in world.of_scope(remedy.scope):
            for state in cause.states:
                for dial in DIALS if remedy.scope == "dial" else (None,):
                    luck[remedy.id, state, dial] = rng.random() < of_state(remedy.cures, state)
    return Job(of_dial, frozenset(whole), answers, frozenset(to_blame), luck)


def _state(world: Knowledge, whole: set[str], rng: np.random.Generator) -> str:
    causes = world.of_scope("dial")
    states, weights = ["sound"], [1 - sum(cause.prior for cause in causes)]
    for cause in causes:
        absent = 1 - cause.prior
        for other in whole:
            absent *= 1 - world.causes[other].brings.get(cause.code, 0.0)
        weight = (1 - absent) / absent * (1 - cause.prior)
        states += cause.states
        weights += [weight * share for share in cause.parts.values()] or [weight]
    return states[int(rng.choice(len(states), p=np.array(weights) / sum(weights)))]


def changed(knowledge: Knowledge, rng: np.random.Generator) -> Knowledge:
    """A world that is not the file: every probability moved in log odds."""

    def moved(p: float, spread: float = CHANGE) -> float:
        odds = p / (1 - p) * float(np.exp(rng.normal(0, spread)))
        return odds / (1 + odds)

    def shared(parts: Mapping[str, float]) -> dict[str, float]:
        weights = {
            part: share * float(np.exp(rng.normal(0, CHANGE))) for part, share in parts.items()
        }
        return {part: weight / sum(weights.values()) for part, weight in weights.items()}

    causes = {
        code: replace(one, prior=moved(one.prior), parts=shared(one.parts))
        for code, one in knowledge.causes.items()
    }
    findings = {
        name: replace(
            one,
            shown_by={code: moved(p) for code, p in one.shown_by.items()},
            otherwise=moved(one.otherwise),
        )
        for name, one in knowledge.findings.items()
    }
    return replace(knowledge, causes=causes, findings=findings)


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
    asked = parser.parse_args()
    _print("the world is the file", measured(asked.jobs, asked.seed, False))
    _print(f"every figure changed by {CHANGE} in log odds", measured(asked.jobs, asked.seed, True))


if __name__ == "__main__":
    main()
