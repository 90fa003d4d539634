"""What of a job's evidence does not go together."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Final

from needlewright.composing.evidence_piece import Piece
from needlewright.composing.gauge_names import GaugeNames, with_gauge
from needlewright.composing.job_evidence import JobEvidence
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.contradictions import contradictions
from needlewright.findings.troubleshooting.model import Answer
from needlewright.findings.wording import share_words

DISAGREES: Final = 3.0
"""Ratio of likelihoods from which two looks at the same finding contradict one another, or one
contradicts a person's answer."""


def contradictions_of(belief: Belief, evidence: JobEvidence, names: GaugeNames) -> tuple[str, ...]:
    """What does not go together.

    Parameters
    ----------
    belief
        Of everything that was seen and answered.
    evidence
        Of the job.
    names
        Of the dials.

    Returns
    -------
    tuple of str
        Sentences that name both sides and what to do.
    """
    return (
        *_looks_that_differ(evidence, names),
        *_answers_against_looks(belief, evidence, names),
        *_hardly_explained(belief, names),
    )


def _looks_that_differ(evidence: JobEvidence, names: GaugeNames) -> Iterator[str]:
    by_finding = defaultdict[tuple[str, str | None], list[tuple[Evidence, Piece]]](list)
    for piece in evidence.pieces:
        if isinstance(piece.says, Evidence):
            by_finding[piece.says.finding, piece.says.dial].append((piece.says, piece))
    for found in by_finding.values():
        most = max(found, key=lambda one: one[0].ratio)
        least = min(found, key=lambda one: one[0].ratio)
        if most[0].ratio >= DISAGREES and least[0].ratio <= 1 / DISAGREES:
            yield (
                f"{_of(most[0].dial, names)}: {most[1].seen_in} and {least[1].seen_in} speak "
                f"against each other: “{most[1].words}” and “{least[1].words}” Look at both, and "
                "do one again."
            )


def _answers_against_looks(
    belief: Belief, evidence: JobEvidence, names: GaugeNames
) -> Iterator[str]:
    for answer, view in evidence.answers:
        ratio = belief.ratio(answer.finding, answer.dial)
        if (ratio >= DISAGREES and not answer.yes) or (ratio <= 1 / DISAGREES and answer.yes):
            yield (
                f"{_of(answer.dial, names)}: {view.by} answered "
                f"“{_words(belief, answer, names)}” with {'yes' if answer.yes else 'no'}, and "
                "what was measured says otherwise. The answer counts; take it away if it was a "
                "guess."
            )


def _hardly_explained(belief: Belief, names: GaugeNames) -> Iterator[str]:
    for one in contradictions(belief):
        if one.answer is None or one.probability is None:
            continue
        said = _answered(belief, one.answer, names)
        if one.kind == "against the rest":
            beside = ""
            if isinstance(one.other, Answer):
                beside = f", above all beside {_answered(belief, one.other, names)}"
            yield (
                f"{_of(one.answer.dial, names)}: {said} hardly goes with everything else{beside}; "
                f"it was to be expected in {share_words(one.probability)} of such cases. Ask again."
            )
        elif one.kind == "unexplained":
            yield (
                f"{_of(one.answer.dial, names)}: nothing in the knowledge file explains {said} "
                "beside everything else. Ask again, or look for what is not in the file."
            )


def _answered(belief: Belief, answer: Answer, names: GaugeNames) -> str:
    return f"“{_words(belief, answer, names)}” {'yes' if answer.yes else 'no'}"


def _words(belief: Belief, answer: Answer, names: GaugeNames) -> str:
    words = belief.knowledge.findings[answer.finding].words
    return with_gauge(words, answer.dial, names)


def _of(dial: str | None, names: GaugeNames) -> str:
    return "The whole" if dial is None else names[dial].capitalize()
