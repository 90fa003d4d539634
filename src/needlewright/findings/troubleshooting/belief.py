"""What is believed of every cause after the answers so far: exact, nothing is sampled.

A dial has one cause or none; any causes of the whole may be there together. Given which of those
are there, the dials have nothing to do with one another, so every combination of them is looked at
with every state of each dial. Answers are of causes that act each for itself (noisy or).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from needlewright.errors import KnowledgeError
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.model import Answer, Finding, Knowledge, Weighed
from needlewright.findings.troubleshooting.posterior import Posterior
from needlewright.findings.troubleshooting.soft import (
    Slot,
    likelihood_by_state,
    likelihood_of,
    ratios_of,
    slot_of,
)
from needlewright.findings.troubleshooting.tables import (
    Array,
    combinations_of,
    dial_prior,
    whole_prior,
    yes_of,
)


@dataclass(frozen=True, slots=True)
class Belief(Posterior):
    """Probabilities of all causes, given what was answered and what analyses saw.

    What is believed depends on what was said, never on its order: `belief_of` makes the same from
    `answers`, `evidence` and `said`.

    Parameters
    ----------
    knowledge, dials, whole, states, there, weights, of_dial
        As of every posterior.
    answers
        So far.
    innocent
        Of dials that were weighed as a whole: by state, how likely what was seen is without the
        cause against with it, 1 at most.
    evidence
        All that analyses saw, what an answer stands in for too.
    said
        Dials weighed as a whole.
    spoken
        Ratio of likelihoods of every finding that evidence speaks of, by state where it is of a
        dial: all of its evidence together.
    """

    answers: tuple[Answer, ...] = ()
    innocent: Mapping[str, Array] = field(default_factory=dict)
    evidence: tuple[Evidence, ...] = ()
    said: tuple[Weighed, ...] = ()
    spoken: Mapping[Slot, Array] = field(default_factory=dict)

    def told(self, answer: Answer) -> "Belief":
        """What is believed after one more answer.

        Parameters
        ----------
        answer
            Of a finding that was not answered before. Where analyses spoke of the same finding, a
            person's answer stands in for them, but that a yes lies in the part they point at; taken
            back, they count again (`without`).

        Returns
        -------
        Belief
            This one is left as it was.

        Raises
        ------
        KnowledgeError
            If there is no such finding or dial, or it was answered already.
        """
        finding = self._finding(answer)
        for before in self.answers:
            if (before.finding, before.dial) == (answer.finding, answer.dial):
                raise KnowledgeError(_twice(answer, before))
        for said in self.said:
            if (said.instead_of, said.dial) == (answer.finding, answer.dial):
                raise KnowledgeError(_weighed_already(said, "leave the answer out"))
        yes = self._yes(finding)
        likelihood = yes if answer.yes else 1.0 - yes
        slot = (answer.finding, answer.dial)
        if slot in self.spoken:
            ratios = self.spoken[slot]
            known = likelihood * _given(answer, ratios)
            likelihood = known / likelihood_of(yes, ratios)
        after = self._scaled_by(answer.dial, likelihood)
        return replace(after, answers=(*self.answers, answer))

    def seen(self, piece: Evidence) -> "Belief":
        """What is believed after an analysis saw something.

        Parameters
        ----------
        piece
            Speaks for or against a finding. Where a person answered that finding it is kept, and
            counts only for the part it points at, after a yes.

        Returns
        -------
        Belief
            This one is left as it was.

        Raises
        ------
        KnowledgeError
            If there is no such finding or dial, or the dial was weighed as a whole by what answers
            that finding.
        """
        try:
            finding = self._finding(Answer(piece.finding, True, piece.dial))
        except KnowledgeError as error:
            raise KnowledgeError(f"evidence of {piece.seen_in}: {error}") from error
        for said in self.said:
            if (said.instead_of, said.dial) == slot_of(piece):
                raise KnowledgeError(
                    _weighed_already(said, f"leave the evidence of {piece.seen_in} out")
                )
        slot, pieces = slot_of(piece), (*self.evidence, piece)
        about = [one for one in pieces if slot_of(one) == slot]
        ratios = ratios_of(about, self.knowledge, finding)
        spoken = {**self.spoken, slot: ratios}
        after = replace(self, evidence=pieces, spoken=spoken)
        before = self.spoken.get(slot, np.ones_like(ratios))
        answer = self._answered(slot)
        if answer is None:
            yes = self._yes(finding)
            change = likelihood_of(yes, ratios) / likelihood_of(yes, before)
        else:
            change = _given(answer, ratios) / _given(answer, before)
        return after._scaled_by(piece.dial, change)

    def without(self, taken_back: Answer | Evidence | Weighed) -> "Belief":
        """What is believed with one thing taken back.

        Parameters
        ----------
        taken_back
            An answer, a piece of evidence or a weighed dial that was taken in.

        Returns
        -------
        Belief
            As if it had never been said.

        Raises
        ------
        KnowledgeError
            If it was not.
        """
        answers, evidence, said = list(self.answers), list(self.evidence), list(self.said)
        try:
            if isinstance(taken_back, Answer):
                answers.remove(taken_back)
            elif isinstance(taken_back, Evidence):
                evidence.remove(taken_back)
            else:
                said.remove(taken_back)
        except ValueError as error:
            raise KnowledgeError(
                f"{taken_back} was not said, so it cannot be taken back; take back what is there"
            ) from error
        return belief_of(self.knowledge, self.dials, answers, evidence, said)

    def ratio(self, finding: str, dial: str | None = None) -> float:
        """What the evidence on one finding says together, answered or not; 1 without any."""
        ratios = self.spoken.get((finding, dial))
        return 1.0 if ratios is None else float(ratios.max())

    def counting(self) -> dict[Slot, float]:
        """Findings that evidence speaks of and no person answered, with the ratio of all of it."""
        answered = {(one.finding, one.dial) for one in self.answers}
        return {slot: self.ratio(*slot) for slot in self.spoken if slot not in answered}

    def stood_in_for(self) -> tuple[Evidence, ...]:
        """Evidence whose finding a person answered; only the part it points at still counts."""
        return tuple(one for one in self.evidence if self._answered(slot_of(one)) is not None)

    def weighed(self, said: Weighed) -> "Belief":
        """What is believed after an analysis of one dial.

        Parameters
        ----------
        said
            Its likelihoods.

        Returns
        -------
        Belief
            This one is left as it was.

        Raises
        ------
        KnowledgeError
            If there is no such dial, one analysis of it was taken in already, the finding it
            stands for was answered or has evidence, or a likelihood is negative or all are zero.
        """
        self._require_dial(said.dial)
        if said.dial in self.innocent:
            raise KnowledgeError(
                f"{said.said_by}: a run of dial '{said.dial}' was weighed already, and two of one "
                "dial do not speak for themselves; take the one that counts"
            )
        if self._answered((str(said.instead_of), said.dial)) is not None:
            raise KnowledgeError(
                f"{said.said_by}: '{said.instead_of}' of dial '{said.dial}' is answered already; "
                "leave the answer out, the run says more"
            )
        for piece in self.evidence:
            if slot_of(piece) == (said.instead_of, said.dial):
                raise KnowledgeError(
                    _weighed_already(said, f"leave the evidence of {piece.seen_in} out")
                )
        likelihood = likelihood_by_state(said, self.states)
        with np.errstate(divide="ignore", invalid="ignore"):
            against = np.where(likelihood > likelihood[0], likelihood[0] / likelihood, 1.0)
        innocent = {**self.innocent, said.dial: against}
        after = self._scaled_by(said.dial, likelihood)
        return replace(after, innocent=innocent, said=(*self.said, said))

    def probability(self, finding: str, dial: str | None = None) -> float:
        """How likely the answer to a finding is yes.

        Parameters
        ----------
        finding
            Its id.
        dial
            Of which dial; None: of the whole.

        Returns
        -------
        float
            Given all answers and all evidence so far, that on the finding itself too.
        """
        yes = self._yes(self._finding(Answer(finding, True, dial)))
        ratios = self.spoken.get((finding, dial))
        if ratios is not None and self._answered((finding, dial)) is None:
            yes = yes * ratios / likelihood_of(yes, ratios)
        joint = self.combinations()
        if dial is None:
            return float(joint @ yes / joint.sum())
        own = self.of_dial[dial]
        return float((joint / own.sum(axis=1)) @ (own * yes).sum(axis=1) / joint.sum())

    def _yes(self, finding: Finding) -> Array:
        return yes_of(finding, self.whole, self.states)

    def _answered(self, slot: Slot) -> Answer | None:
        return next((one for one in self.answers if (one.finding, one.dial) == slot), None)

    def _scaled_by(self, dial: str | None, likelihood: Array) -> "Belief":
        if dial is None:
            return replace(self, weights=_scaled(self.weights * likelihood))
        of_dial = {**self.of_dial, dial: _scaled(self.of_dial[dial] * likelihood)}
        return replace(self, of_dial=of_dial)


def belief_of(
    knowledge: Knowledge,
    dials: Sequence[str],
    answers: Iterable[Answer] = (),
    evidence: Iterable[Evidence] = (),
    said: Iterable[Weighed] = (),
) -> Belief:
    """What is believed before anything is known, and after what was said.

    Parameters
    ----------
    knowledge
        The knowledge file.
    dials
        Ids of the cluster's dials.
    answers
        In any order.
    evidence
        What analyses saw, in any order.
    said
        Dials weighed as a whole.

    Returns
    -------
    Belief
        Exact posterior.

    Raises
    ------
    KnowledgeError
        If something does not fit, or an answer contradicts another.
    """
    whole = tuple(cause.code for cause in knowledge.of_scope("whole"))
    states = knowledge.states
    there = combinations_of(len(whole))
    belief = Belief(
        knowledge,
        tuple(dials),
        whole,
        states,
        there,
        whole_prior(knowledge, whole, there),
        dict.fromkeys(dials, dial_prior(knowledge, whole, there)),
    )
    for one in said:
        belief = belief.weighed(one)
    for answer in answers:
        belief = belief.told(answer)
    for piece in evidence:
        belief = belief.seen(piece)
    return belief


def _scaled(weights: Array) -> Array:
    """Only proportions matter; many answers must not make them vanish."""
    return np.asarray(weights / weights.max())


def _given(answer: Answer, ratios: Array) -> Array:
    """What evidence still says once its finding is known: which part a yes lies in."""
    return ratios if answer.yes else np.ones_like(ratios)


def _twice(answer: Answer, before: Answer) -> str:
    of = "" if answer.dial is None else f" of dial '{answer.dial}'"
    if answer.yes == before.yes:
        return f"'{answer.finding}'{of} was answered already; leave one of the two out"
    return f"'{answer.finding}'{of} is answered with yes and with no; take one of the answers out"


def _weighed_already(said: Weighed, what_to_do: str) -> str:
    return (
        f"{said.said_by}: says of dial '{said.dial}' already what '{said.instead_of}' asks; "
        f"{what_to_do}, the run says more"
    )
