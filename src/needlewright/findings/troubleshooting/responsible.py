"""Which causes made the answers yes: those a search is for.

A cause that is there need not have made any answer yes: dead lamps explain no fuel gauge. A cause
is responsible when it made at least one, or what an analysis saw.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.troubleshooting.belief import Array, Belief, combinations_of
from needlewright.findings.troubleshooting.model import Finding


@dataclass(frozen=True, slots=True)
class Responsible:
    """Who made the answers yes, by combination of those causes of the whole that could have.

    Parameters
    ----------
    codes
        Causes of the whole that could.
    joint
        Probability of every combination of them.
    whole
        Combinations x causes: probability that it is there and responsible.
    of_dial
        Combinations x states: probability of being there and responsible, given the combination.
    """

    codes: tuple[str, ...]
    joint: Array
    whole: Array
    of_dial: dict[str, Array]

    def causes(self, states: Sequence[str]) -> tuple[tuple[str, str | None, float], ...]:
        """Causes with the probability that they are responsible.

        Parameters
        ----------
        states
            Codes of a dial's states, as the belief has them.

        Returns
        -------
        tuple
            Code, dial or None, probability; the most probable first.
        """
        whole = self.joint @ self.whole
        found: list[tuple[str, str | None, float]] = [
            (code, None, float(p)) for code, p in zip(self.codes, whole, strict=True)
        ]
        for dial, own in self.of_dial.items():
            shares = self.joint @ own
            found += [(code, dial, float(p)) for code, p in zip(states, shares, strict=True)]
        return tuple(sorted((one for one in found if one[2] > 0), key=lambda one: -one[2]))


def responsible(belief: Belief) -> Responsible:
    """Who made the answers yes.

    Parameters
    ----------
    belief
        What is believed.

    Returns
    -------
    Responsible
        Exact for every cause by itself, given the combination.
    """
    # only causes of the whole that a yes could come from are kept apart; the others are summed
    heard = _Heard.by(belief)
    there = combinations_of(len(heard.whole))
    joint = belief.combinations()
    joint = joint / joint.sum()
    chances = {dial: own / own.sum(axis=1, keepdims=True) for dial, own in belief.of_dial.items()}
    kept = heard.summed(joint)
    innocent = np.ones(there.shape)
    for shown in heard.of_whole:
        innocent *= heard.innocent_whole(shown, there)
    of_dial = {}
    for dial, own in chances.items():
        share = heard.summed(joint[:, None] * own) / kept[:, None]
        state = np.ones(share.shape) * belief.innocent.get(dial, 1.0)
        for shown in heard.of_dial[dial]:
            whole, own_state = heard.innocent_of_dial(shown, there, belief.states)
            state *= own_state
            innocent *= np.einsum("ks,ksw->kw", share, whole)
        guilty = share * (1.0 - state)
        guilty[:, 0] = 0.0
        of_dial[dial] = guilty
    return Responsible(heard.whole, kept, np.where(there, 1.0 - innocent, 0.0), of_dial)


@dataclass(frozen=True, slots=True)
class _Heard:
    """The findings that were answered with yes, and what of the whole could have made them so."""

    whole: tuple[str, ...]
    places: tuple[int, ...]
    """Of those among all causes of the whole."""
    count: int
    of_whole: tuple[Finding, ...]
    of_dial: dict[str, tuple[Finding, ...]]

    @classmethod
    def by(cls, belief: Belief) -> "_Heard":
        findings = belief.knowledge.findings
        yes = [answer for answer in belief.answers if answer.yes]
        linked = {code for answer in yes for code in findings[answer.finding].shown_by}
        places = tuple(i for i, code in enumerate(belief.whole) if code in linked)
        return cls(
            tuple(belief.whole[i] for i in places),
            places,
            len(belief.whole),
            tuple(findings[answer.finding] for answer in yes if answer.dial is None),
            {
                dial: tuple(findings[answer.finding] for answer in yes if answer.dial == dial)
                for dial in belief.dials
            },
        )

    def summed(self, values: Array) -> Array:
        """Sum over the causes that are not kept apart; combinations are the first axis."""
        cube = values.reshape((2,) * self.count + values.shape[1:])
        # the last cause is the first axis
        away = tuple(self.count - 1 - i for i in range(self.count) if i not in self.places)
        kept = cube.sum(axis=away)
        return np.asarray(kept.reshape((2 ** len(self.places), *values.shape[1:])))

    def innocent_whole(self, shown: Finding, there: NDArray[np.bool_]) -> Array:
        """Probability that each cause did not make the answer yes, where it is there."""
        links, yes = self._links(shown, there)
        return np.asarray(1.0 - links / yes[:, None])

    def innocent_of_dial(
        self, shown: Finding, there: NDArray[np.bool_], states: Sequence[str]
    ) -> tuple[Array, Array]:
        """The same for causes of the whole, by combination and state; and for each state."""
        links, yes_whole = self._links(shown, there)
        own = np.array([shown.shown_by.get(code, 0.0) for code in states])
        yes = 1.0 - (1.0 - yes_whole)[:, None] * (1.0 - own)
        return 1.0 - links[None, None, :] / yes[:, :, None], 1.0 - own / yes

    def _links(self, shown: Finding, there: NDArray[np.bool_]) -> tuple[Array, Array]:
        links = np.array([shown.shown_by.get(code, 0.0) for code in self.whole])
        passes = np.where(there, 1.0 - links, 1.0).prod(axis=1)
        return links, 1.0 - (1.0 - shown.otherwise) * passes
