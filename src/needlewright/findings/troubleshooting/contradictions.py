"""Answers and evidence that hardly go together, and answers that no cause explains."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.model import Answer, Finding
from needlewright.findings.troubleshooting.soft import slot_of
from needlewright.findings.troubleshooting.tables import Array, yes_of

UNLIKELY: Final = 0.1
"""An answer less likely than this after everything else is looked at."""
AGAINST: Final = 5.0
"""How much likelier it must have been without everything else: rare is no contradiction."""
UNEXPLAINED: Final = 0.8
"""Probability that nothing the file knows made an answer yes, from which that is said."""
DISAGREES: Final = 3.0
"""Ratio from which evidence contradicts an answer, or other evidence."""

Kind = Literal["against the rest", "unexplained", "against evidence", "evidence differs"]


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Something that does not go together.

    Parameters
    ----------
    kind
        What does not.
    answer
        The answer it is about; None: two analyses.
    other
        The answer or the evidence that speaks against it most; None: nothing by itself.
    probability
        Of the answer after everything else; where it is unexplained, that nothing made it. Of two
        analyses, None.
    words
        One sentence: what, how much, what to do.
    """

    kind: Kind
    answer: Answer | None
    other: Answer | Evidence | None
    probability: float | None
    words: str


def contradictions(belief: Belief) -> tuple[Contradiction, ...]:
    """What does not go together in what was said.

    Parameters
    ----------
    belief
        With all answers and evidence.

    Returns
    -------
    tuple of Contradiction
        In the order of the answers, evidence after them. What is only rare is none.

    Notes
    -----
    An answer is held against the rest when the rest makes it less likely by `AGAINST`: the measure
    of conflict in Bayesian networks, probability alone over probability after the others (Jensen:
    `log P(a) P(rest) / P(a, rest)` above 0; from memory).
    """
    return (
        *_against_rest(belief),
        *_unexplained(belief),
        *_against_evidence(belief),
        *_evidence_differs(belief),
    )


def expected(belief: Belief, answer: Answer) -> float:
    """How likely an answer was to be given, after everything but it and evidence on the same.

    Parameters
    ----------
    belief
        With the answer among its answers.
    answer
        The one.

    Returns
    -------
    float
        Harmonic mean of its likelihood over what is believed: taking the answer back divides by
        its likelihood.
    """
    yes = yes_of(_finding(belief, answer), belief.whole, belief.states)
    likelihood = yes if answer.yes else 1.0 - yes
    return 1.0 / _mean(belief, answer.dial, 1.0 / likelihood)


def _mean(belief: Belief, dial: str | None, values: Array) -> float:
    joint = belief.combinations()
    joint = joint / joint.sum()
    if dial is None:
        return float(joint @ values)
    own = belief.of_dial[dial]
    return float((joint / own.sum(axis=1)) @ (own * values).sum(axis=1))


def _against_rest(belief: Belief) -> Iterator[Contradiction]:
    nothing = belief_of(belief.knowledge, belief.dials)
    for answer in belief.answers:
        now = expected(belief, answer)
        if now >= UNLIKELY:
            continue
        alone = _chance(nothing, answer)
        if now * AGAINST > alone:
            continue
        other = _most_against(nothing, belief, answer)
        why = "" if other is None else f", above all beside {_said(other)}"
        yield Contradiction(
            "against the rest",
            answer,
            other,
            now,
            f"{_said(answer)} hardly goes with the other answers{why}: it was to be expected in "
            f"{_percent(now)} of such cases; ask both again",
        )


def _chance(belief: Belief, answer: Answer) -> float:
    yes = belief.probability(answer.finding, answer.dial)
    return yes if answer.yes else 1.0 - yes


def _most_against(nothing: Belief, belief: Belief, answer: Answer) -> Answer | None:
    """The one answer that by itself makes it least likely."""
    near = [
        other
        for other in belief.answers
        if other != answer and (other.dial is None or other.dial == answer.dial)
    ]
    chances = [(_chance(nothing.told(other), answer), place) for place, other in enumerate(near)]
    if not chances or min(chances)[0] >= _chance(nothing, answer):
        return None
    return near[min(chances)[1]]


def _unexplained(belief: Belief) -> Iterator[Contradiction]:
    """Complaints of a dial that nothing made, or everything that was said, where nothing made it.

    A single yes that nothing made is met in most jobs: people see what is not there.
    """
    yes = [one for one in belief.answers if one.yes]
    shares = {answer: _by_nothing(belief, answer) for answer in yes}
    has_any = any(share < UNEXPLAINED for share in shares.values())
    for answer, share in shares.items():
        if share < UNEXPLAINED or (has_any and not _finding(belief, answer).opens):
            continue
        yield Contradiction(
            "unexplained",
            answer,
            None,
            share,
            f"no cause in the knowledge file explains {_said(answer)} beside the other answers "
            f"({_percent(share)}); ask again, or look for what is not in the file",
        )


def _by_nothing(belief: Belief, answer: Answer) -> float:
    """Probability that nothing the file knows made a yes."""
    finding = _finding(belief, answer)
    yes = yes_of(finding, belief.whole, belief.states)
    by_nothing = finding.otherwise * (1.0 - yes) / (1.0 - finding.otherwise) / yes
    return _mean(belief, answer.dial, by_nothing)


def _finding(belief: Belief, answer: Answer) -> Finding:
    return belief.knowledge.findings[answer.finding]


def _against_evidence(belief: Belief) -> Iterator[Contradiction]:
    for answer in belief.answers:
        pieces = [one for one in belief.evidence if slot_of(one) == (answer.finding, answer.dial)]
        if not pieces:
            continue
        ratio = belief.ratio(answer.finding, answer.dial)
        if (ratio if answer.yes else 1.0 / ratio) > 1.0 / DISAGREES:
            continue
        piece = (min if answer.yes else max)(pieces, key=lambda one: one.ratio)
        yield Contradiction(
            "against evidence",
            answer,
            piece,
            expected(belief, answer),
            f"{_said(answer)} is not what {piece.seen_in} shows ({piece.words}); the answer "
            "counts, so take it back if it was a guess",
        )


def _evidence_differs(belief: Belief) -> Iterator[Contradiction]:
    slots = dict.fromkeys(slot_of(one) for one in belief.evidence)
    for slot in slots:
        pieces = [one for one in belief.evidence if slot_of(one) == slot]
        most = max(pieces, key=lambda one: one.ratio)
        least = min(pieces, key=lambda one: one.ratio)
        if most.ratio >= DISAGREES and least.ratio <= 1 / DISAGREES:
            yield Contradiction(
                "evidence differs",
                None,
                least,
                None,
                f"{slot[1] or 'whole'}: {most.seen_in} and {least.seen_in} differ on "
                f"'{slot[0]}' ({most.words}; {least.words}); look at both, and do one again",
            )


def _said(answer: Answer) -> str:
    return f"'{answer.dial or 'whole'}: {answer.finding} {'yes' if answer.yes else 'no'}'"


def _percent(share: float) -> str:
    return "less than 0.1 %" if share < 0.001 else f"{100 * share:.2g} %"
