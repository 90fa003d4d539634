"""What is believed of every cause after the answers so far: exact, nothing is sampled.

A dial has one cause or none; any causes of the whole may be there together. Given which of those
are there, the dials have nothing to do with one another, so every combination of them is looked at
with every state of each dial. Answers are of causes that act each for itself (noisy or).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import Answer, Finding, Knowledge, Weighed

SOUND: Final = "sound"
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Belief:
    """Probabilities of all causes, given what was answered.

    Parameters
    ----------
    knowledge
        What they rest on.
    dials
        Ids.
    answers
        So far.
    whole
        Codes of the causes of the whole.
    states
        Of a dial: `sound`, then the codes of its causes.
    there
        Combinations x causes of the whole: whether it is there.
    weights
        Of each combination, without what the dials say.
    of_dial
        Of each dial, combinations x states: prior times likelihood.
    """

    knowledge: Knowledge
    dials: tuple[str, ...]
    answers: tuple[Answer, ...]
    whole: tuple[str, ...]
    states: tuple[str, ...]
    there: NDArray[np.bool_]
    weights: Array
    of_dial: Mapping[str, Array]
    innocent: Mapping[str, Array] = field(default_factory=dict)
    """Of dials of which an analysis was taken in: by state, how likely what it saw is without the
    cause against with it, 1 at most."""

    def told(self, answer: Answer) -> "Belief":
        """What is believed after one more answer.

        Parameters
        ----------
        answer
            Of a finding that was not answered before.

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
        yes = self._yes(finding)
        likelihood = yes if answer.yes else 1.0 - yes
        answers = (*self.answers, answer)
        if answer.dial is None:
            return self._with(answers, _scaled(self.weights * likelihood), self.of_dial)
        of_dial = dict(self.of_dial)
        of_dial[answer.dial] = _scaled(of_dial[answer.dial] * likelihood)
        return self._with(answers, self.weights, of_dial)

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
            If there is no such dial, one analysis of it was taken in already, or a likelihood is
            negative or all are zero.
        """
        self._require_dial(said.dial)
        if said.dial in self.innocent:
            raise KnowledgeError(
                f"{said.said_by}: a run of dial '{said.dial}' was weighed already, and two of one "
                "dial do not speak for themselves; take the one that counts"
            )
        known = [value for code, value in said.likelihood.items() if code in self.states]
        if not known or min(known) < 0 or max(known) <= 0 or not np.all(np.isfinite(known)):
            raise KnowledgeError(
                f"{said.said_by}: its likelihoods for dial '{said.dial}' must be 0 or more, and "
                "one above 0"
            )
        mean = sum(known) / len(known)
        likelihood = np.array([said.likelihood.get(code, mean) for code in self.states])
        of_dial = dict(self.of_dial)
        of_dial[said.dial] = _scaled(of_dial[said.dial] * likelihood)
        with np.errstate(divide="ignore", invalid="ignore"):
            against = np.where(likelihood > likelihood[0], likelihood[0] / likelihood, 1.0)
        innocent = {**self.innocent, said.dial: against}
        return replace(self, of_dial=of_dial, innocent=innocent)

    def dial(self, dial: str) -> dict[str, float]:
        """Probability of every state of a dial.

        Parameters
        ----------
        dial
            Its id.

        Returns
        -------
        dict
            By code, `sound` included; sums to one.
        """
        self._require_dial(dial)
        own = self.of_dial[dial]
        joint = (self.combinations() / own.sum(axis=1)) @ own
        return dict(zip(self.states, (joint / joint.sum()).tolist(), strict=True))

    def of_whole(self) -> dict[str, float]:
        """Probability of every cause of the whole, by code; they may be there together."""
        joint = self.combinations()
        present = joint @ self.there / joint.sum()
        return dict(zip(self.whole, present.tolist(), strict=True))

    def nothing(self) -> float:
        """Probability that no cause at all is there."""
        joint = self.combinations()
        share = 1.0
        for own in self.of_dial.values():
            share *= float(own[0, 0] / own[0].sum())
        return float(joint[0] / joint.sum()) * share

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
            Given all answers so far.
        """
        yes = self._yes(self._finding(Answer(finding, True, dial)))
        joint = self.combinations()
        if dial is None:
            return float(joint @ yes / joint.sum())
        own = self.of_dial[dial]
        return float((joint / own.sum(axis=1)) @ (own * yes).sum(axis=1) / joint.sum())

    def combinations(self) -> Array:
        """Weights of the combinations with what every dial says of them."""
        joint = self.weights
        for own in self.of_dial.values():
            joint = joint * own.sum(axis=1)
        return joint

    def _yes(self, finding: Finding) -> Array:
        """Probability of a yes: by combination, and by state for a finding of a dial."""
        return _yes_of(_Shown.of(finding), self.whole, self.states)

    def _with(
        self, answers: tuple[Answer, ...], weights: Array, of_dial: Mapping[str, Array]
    ) -> "Belief":
        return replace(self, answers=answers, weights=weights, of_dial=of_dial)

    def yes_of(self, answer: Answer) -> Array:
        """Probability of a yes by combination, and by state for a finding of a dial."""
        return self._yes(self._finding(answer))

    def _finding(self, answer: Answer) -> Finding:
        finding = self.knowledge.findings.get(answer.finding)
        if finding is None:
            raise KnowledgeError(
                f"there is no question or test '{answer.finding}'; known: "
                f"{', '.join(sorted(self.knowledge.findings))}"
            )
        if finding.scope == "whole" and answer.dial is not None:
            raise KnowledgeError(
                f"'{answer.finding}' is of the whole cluster; leave dial '{answer.dial}' out"
            )
        if finding.scope == "dial":
            if answer.dial is None:
                raise KnowledgeError(
                    f"'{answer.finding}' is of one dial; name it: {', '.join(self.dials)}"
                )
            self._require_dial(answer.dial)
        return finding

    def _require_dial(self, dial: str) -> None:
        if dial not in self.of_dial:
            raise KnowledgeError(f"there is no dial '{dial}'; known: {', '.join(self.dials)}")


def belief_of(knowledge: Knowledge, dials: Sequence[str], answers: Iterable[Answer] = ()) -> Belief:
    """What is believed before anything is known, and after some answers.

    Parameters
    ----------
    knowledge
        The knowledge file.
    dials
        Ids of the cluster's dials.
    answers
        In any order.

    Returns
    -------
    Belief
        Exact posterior.

    Raises
    ------
    KnowledgeError
        If an answer does not fit, or contradicts another.
    """
    whole = tuple(cause.code for cause in knowledge.of_scope("whole"))
    states = (SOUND, *(cause.code for cause in knowledge.of_scope("dial")))
    there = combinations_of(len(whole))
    own = _dial_prior(knowledge, whole, there)
    belief = Belief(
        knowledge,
        tuple(dials),
        (),
        whole,
        states,
        there,
        _whole_prior(knowledge, whole, there),
        dict.fromkeys(dials, own),
    )
    for answer in answers:
        belief = belief.told(answer)
    return belief


@dataclass(frozen=True, slots=True)
class _Shown:
    """What a finding's probabilities are worked out from; can be a key."""

    shown_by: tuple[tuple[str, float], ...]
    otherwise: float
    is_of_dial: bool

    @classmethod
    def of(cls, finding: Finding) -> "_Shown":
        """Of one finding."""
        shown = tuple(sorted(finding.shown_by.items()))
        return cls(shown, finding.otherwise, finding.scope == "dial")


@lru_cache(512)
def _yes_of(shown: _Shown, whole: tuple[str, ...], states: tuple[str, ...]) -> Array:
    by = dict(shown.shown_by)
    there = combinations_of(len(whole))
    passes = np.where(there, 1.0 - np.array([by.get(code, 0.0) for code in whole]), 1.0)
    no = (1.0 - shown.otherwise) * passes.prod(axis=1)
    if not shown.is_of_dial:
        return np.asarray(1.0 - no)
    own = 1.0 - np.array([by.get(code, 0.0) for code in states])
    return np.asarray(1.0 - no[:, None] * own[None, :])


@lru_cache(4)
def combinations_of(count: int) -> NDArray[np.bool_]:
    """Every combination of so many causes: combinations x causes; the first has none."""
    return np.asarray((np.arange(2**count)[:, None] >> np.arange(count)) % 2 == 1)


def _whole_prior(knowledge: Knowledge, whole: tuple[str, ...], there: NDArray[np.bool_]) -> Array:
    """Probability of every combination; a cause is likelier where one that brings it is there."""
    prior = np.ones(len(there))
    for place, code in enumerate(whole):
        present = _brought(knowledge, code, whole, there)
        prior *= np.where(there[:, place], present, 1.0 - present)
    return prior


def _dial_prior(knowledge: Knowledge, whole: tuple[str, ...], there: NDArray[np.bool_]) -> Array:
    """Probability of every state of a dial under every combination.

    A cause that another brings is likelier there; what that leaves is shared by the other states
    in their own proportion.
    """
    causes = knowledge.of_scope("dial")
    own = np.array([1.0 - sum(cause.prior for cause in causes), *(c.prior for c in causes)])
    odds = np.tile(own, (len(there), 1))
    for place, cause in enumerate(causes, start=1):
        present = _brought(knowledge, cause.code, whole, there)
        # odds that make `present` its probability, the other states being as they were
        odds[:, place] = present * (1.0 - cause.prior) / (1.0 - present)
    return np.asarray(odds / odds.sum(axis=1, keepdims=True))


def _brought(
    knowledge: Knowledge, code: str, whole: tuple[str, ...], there: NDArray[np.bool_]
) -> Array:
    """Probability of a cause by itself, or brought by any that is there."""
    links = np.array([knowledge.causes[one].brings.get(code, 0.0) for one in whole])
    absent = (1.0 - knowledge.causes[code].prior) * np.where(there, 1.0 - links, 1.0).prod(axis=1)
    return np.asarray(1.0 - absent)


def _scaled(weights: Array) -> Array:
    """Only proportions matter; many answers must not make them vanish."""
    return np.asarray(weights / weights.max())


def _twice(answer: Answer, before: Answer) -> str:
    of = "" if answer.dial is None else f" of dial '{answer.dial}'"
    if answer.yes == before.yes:
        return f"'{answer.finding}'{of} was answered already; leave one of the two out"
    return f"'{answer.finding}'{of} is answered with yes and with no; take one of the answers out"
