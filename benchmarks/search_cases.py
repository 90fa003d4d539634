"""Jobs with faults drawn forward from causes to answers, by a knowledge file or one near it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from needlewright.findings.troubleshooting.model import Answer, Knowledge, of_state

DIALS: Final = ("speed", "engine", "fuel", "temperature")
CHANGE: Final = 0.7
"""Standard deviation of a figure of the world against the file's, in log odds."""


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


def complained_of(
    world: Knowledge, rng: np.random.Generator
) -> tuple[Job, set[tuple[str, str | None]]]:
    """A job with a complaint, and what the owner says without being asked."""
    while True:
        job = _any_job(world, rng)
        said = job.complaint(world)
        if any(one.yes for one in said):
            return job, {(one.finding, one.dial) for one in said}
