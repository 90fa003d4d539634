"""What to do next on a job, with the reason for each step and what it takes."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from needlewright.composing.finding_model import Question, Step
from needlewright.composing.gauge_names import GaugeNames, with_gauge
from needlewright.composing.job_evidence import JobEvidence
from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import SOUND, Answer
from needlewright.findings.troubleshooting.next_test import Option, Stage, next_options
from needlewright.findings.wording import share_words

STOPS: Final[Mapping[str, str]] = {
    "send": "What the bench can tell is worth the way there.",
    "run_as_found": "What is believed rests on answers alone: there is no run as found.",
    "open": "No test that is left would spare more minutes than it takes.",
    "outside": "What is probable lies outside the cluster.",
    "sound": "Nothing is probable enough to be looked for.",
}
MOST_TRIED: Final = 4
"""Remedies of a course that are named."""


def steps_of(
    belief: Belief,
    evidence: JobEvidence,
    at: Stage,
    names: GaugeNames,
    *,
    looks_ahead: int,
) -> tuple[Step, ...]:
    """Everything that can be done next.

    Parameters
    ----------
    belief
        What is believed.
    evidence
        With what was asked and is not known, which is not asked again.
    at
        Where the cluster is.
    names
        Of the dials.
    looks_ahead
        How many tests.

    Returns
    -------
    tuple of Step
        Best first: tests that are worth their minutes, and ways to stop.
    """
    # a calibrated look at the cluster itself comes before a part is fitted on words alone
    is_seen = any(piece.at is not None and piece.at.side == "found" for piece in evidence.pieces)
    options = next_options(belief, at, looks_ahead, is_measured=is_seen)
    stop = min(one.expected_minutes for one in options if one.kind != "test")
    steps = _Steps(belief, at, names, stop)
    return tuple(
        steps.step(one)
        for one in options
        if one.kind != "test" or (one.id, one.dial) not in evidence.not_known
    )


def questions_of(belief: Belief, evidence: JobEvidence, names: GaugeNames) -> tuple[Question, ...]:
    """Every question and test there is, with its answer.

    Parameters
    ----------
    belief
        With the knowledge file and the dials.
    evidence
        With the answers that count.
    names
        Of the dials.

    Returns
    -------
    tuple of Question
        In the file's order, those of a dial once for each dial.
    """
    known = {(answer.finding, answer.dial): answer.yes for answer, _ in evidence.answers}
    found = []
    for finding in belief.knowledge.findings.values():
        dials: list[str | None] = [None] if finding.scope == "whole" else [*belief.dials]
        found += [
            Question(
                finding.id,
                dial,
                finding.place,
                with_gauge(finding.words, dial, names),
                finding.minutes,
                known.get((finding.id, dial)),
                (finding.id, dial) in evidence.not_known,
            )
            for dial in dials
        ]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Steps:
    """Options in words."""

    belief: Belief
    at: Stage
    names: GaugeNames
    stop_minutes: float
    """Of the best way to stop."""

    def step(self, option: Option) -> Step:
        """One of them."""
        knowledge, is_test = self.belief.knowledge, option.kind == "test"
        return Step(
            kind=option.kind,
            finding=option.id if is_test else None,
            dial=option.dial,
            words=self._words(option),
            reason=self._moves(option) if is_test else STOPS[option.kind],
            minutes=knowledge.findings[str(option.id)].minutes if is_test else None,
            expected_minutes=option.expected_minutes,
            spares_minutes=max(self.stop_minutes - option.expected_minutes, 0.0)
            if is_test
            else None,
            yes=option.yes,
            then=tuple(self._remedy(name) for name in option.then[:MOST_TRIED]),
        )

    def _words(self, option: Option) -> str:
        if option.kind == "test":
            words = self.belief.knowledge.findings[str(option.id)].words
            return with_gauge(words, option.dial, self.names)
        if option.kind == "run_as_found":
            way = "Take" if self.at == "bench" else "Bring it to the bench, take"
            first = self._remedy(option.then[0])
            return f"{way} the run as found; if it bears this out: {first}"
        if option.kind == "open":
            return f"Stop testing, open it: {self._remedy(option.then[0])}"
        if option.kind == "outside":
            what = "Do not open it" if self.at == "bench" else "Do not send it"
            return f"{what}: {self._remedy(option.then[0])}"
        return option.words[:1].upper() + option.words[1:]

    def _moves(self, option: Option) -> str:
        """Which cause the answer moves most, and where to."""
        yes = _chances(self.belief.told(Answer(str(option.id), True, option.dial)))
        no = _chances(self.belief.told(Answer(str(option.id), False, option.dial)))
        # a dial's being sound is the mirror of its causes, and says less
        moved = max(
            (one for one in yes if one[1] != SOUND), key=lambda one: abs(yes[one] - no[one])
        )
        dial, code = moved
        cause = self.belief.knowledge.causes[code].words
        name = cause if dial is None else f"{cause} ({self.names[dial]})"
        return f"Yes makes “{name}” {share_words(yes[moved])}, no {share_words(no[moved])}."

    def _remedy(self, name: str) -> str:
        remedy, _, dial = name.partition(":")
        words = self.belief.knowledge.remedies[remedy].words
        return with_gauge(words, dial or None, self.names)


def _chances(belief: Belief) -> dict[tuple[str | None, str], float]:
    found: dict[tuple[str | None, str], float] = {
        (dial, code): p for dial in belief.dials for code, p in belief.dial(dial).items()
    }
    return found | {(None, code): p for code, p in belief.of_whole().items()}
