"""Which causes made the answers yes: those a search is for.

A cause that is there need not have made any answer yes: dead lamps explain no fuel gauge. A cause
is responsible when it made at least one, or what an analysis saw.

Evidence of ratio R is seen R times as often with a yes as with a no. It is an alarm that would have
come anyhow once, and R - 1 times as a yes made it; a cause with link l made that yes with the
probability l / P, P being that of a yes. So it made the alarm with l (R - 1) / (P R + 1 - P): l / P
for a sure one, nothing for one that says nothing or speaks against.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import Finding, code_of, of_state, part_of
from needlewright.findings.troubleshooting.soft import likelihood_of
from needlewright.findings.troubleshooting.tables import Array, combinations_of


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
        """Causes with the probability that they are responsible, in whatever part they lie.

        Parameters
        ----------
        states
            Of a dial, as the belief has them.

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
            shares: dict[str, float] = defaultdict(float)
            for state, p in zip(states, self.joint @ own, strict=True):
                shares[code_of(state)] += float(p)
            found += [(code, dial, p) for code, p in shares.items()]
        return tuple(sorted((one for one in found if one[2] > 0), key=lambda one: -one[2]))

    def parts(self, states: Sequence[str]) -> tuple[tuple[str, str | None, str, float], ...]:
        """The same for the causes of dials, part by part.

        Parameters
        ----------
        states
            Of a dial, as the belief has them.

        Returns
        -------
        tuple
            Code, part or None where none is told apart, dial, probability; the most probable
            first.
        """
        found = [
            (code_of(state), part_of(state), dial, float(p))
            for dial, own in self.of_dial.items()
            for state, p in zip(states, self.joint @ own, strict=True)
        ]
        return tuple(sorted((one for one in found if one[3] > 0), key=lambda one: -one[3]))


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
    for sign in heard.of_whole:
        innocent *= heard.innocent_whole(sign, there)
    of_dial = {}
    for dial, own in chances.items():
        share = heard.summed(joint[:, None] * own)
        # a combination that a person ruled out is there with nothing
        np.divide(share, kept[:, None], out=share, where=kept[:, None] > 0)
        state = np.ones(share.shape) * belief.innocent.get(dial, 1.0)
        for sign in heard.of_dial[dial]:
            links, own_state, made = heard.of_dial_made(sign, belief.states)
            state *= own_state
            innocent *= 1.0 - links * np.einsum("ks,ks->k", share, made)[:, None]
        guilty = share * (1.0 - state)
        guilty[:, 0] = 0.0
        of_dial[dial] = guilty
    return Responsible(heard.whole, kept, np.where(there, 1.0 - innocent, 0.0), of_dial)


@dataclass(frozen=True, slots=True)
class _Sign:
    """A finding that was answered with yes, or that evidence speaks for."""

    finding: Finding
    ratio: Array | None = None
    """Of the evidence, by state where it is of a dial; None: it was answered."""


@dataclass(frozen=True, slots=True)
class _Heard:
    """The signs that were seen, and what of the whole could have made them."""

    whole: tuple[str, ...]
    places: tuple[int, ...]
    """Of those among all causes of the whole."""
    count: int
    of_whole: tuple[_Sign, ...]
    of_dial: dict[str, tuple[_Sign, ...]]

    @classmethod
    def by(cls, belief: Belief) -> "_Heard":
        findings = belief.knowledge.findings
        signs = [(_Sign(findings[one.finding]), one.dial) for one in belief.answers if one.yes]
        signs += [
            (_Sign(findings[finding], belief.spoken[finding, dial]), dial)
            for (finding, dial), ratio in belief.counting().items()
            if ratio > 1
        ]
        linked = {code for sign, _ in signs for code in sign.finding.shown_by}
        places = tuple(i for i, code in enumerate(belief.whole) if code in linked)
        return cls(
            tuple(belief.whole[i] for i in places),
            places,
            len(belief.whole),
            tuple(sign for sign, of in signs if of is None),
            {dial: tuple(sign for sign, of in signs if of == dial) for dial in belief.dials},
        )

    def summed(self, values: Array) -> Array:
        """Sum over the causes that are not kept apart; combinations are the first axis."""
        cube = values.reshape((2,) * self.count + values.shape[1:])
        # the last cause is the first axis
        away = tuple(self.count - 1 - i for i in range(self.count) if i not in self.places)
        kept = cube.sum(axis=away)
        return np.asarray(kept.reshape((2 ** len(self.places), *values.shape[1:])))

    def innocent_whole(self, sign: _Sign, there: NDArray[np.bool_]) -> Array:
        """Probability that each cause did not make the sign, where it is there."""
        links, yes = self._links(sign.finding, there)
        return np.asarray(1.0 - links / _divisor(yes, sign.ratio)[:, None])

    def of_dial_made(self, sign: _Sign, states: tuple[str, ...]) -> tuple[Array, Array, Array]:
        """Who made a sign of a dial.

        Links of the causes of the whole; by combination and state, the probability that the state
        did not make it, and what a link is multiplied by to be the probability that it made it.
        """
        shown = sign.finding
        key = tuple(shown.shown_by.items()), shown.otherwise, self.whole, states
        return _made(*key, None if sign.ratio is None else tuple(sign.ratio.tolist()))

    def _links(self, shown: Finding, there: NDArray[np.bool_]) -> tuple[Array, Array]:
        links = np.array([shown.shown_by.get(code, 0.0) for code in self.whole])
        passes = np.where(there, 1.0 - links, 1.0).prod(axis=1)
        return links, 1.0 - (1.0 - shown.otherwise) * passes


def _yes_by_state(
    shown_by: Mapping[str, float], otherwise: float, whole: tuple[str, ...], states: tuple[str, ...]
) -> tuple[Array, Array, Array]:
    """Links of the causes of the whole and of the states, and the probability of a yes."""
    links = np.array([shown_by.get(code, 0.0) for code in whole])
    own = np.array([of_state(shown_by, state) for state in states])
    passes = np.where(combinations_of(len(whole)), 1.0 - links, 1.0).prod(axis=1)
    return links, own, 1.0 - (1.0 - otherwise) * passes[:, None] * (1.0 - own)


@lru_cache(64)
def _made(
    shown_by: tuple[tuple[str, float], ...],
    otherwise: float,
    whole: tuple[str, ...],
    states: tuple[str, ...],
    ratios: tuple[float, ...] | None,
) -> tuple[Array, Array, Array]:
    """Looking ahead asks for the same again and again."""
    links, own, yes = _yes_by_state(dict(shown_by), otherwise, whole, states)
    made = 1.0 / _divisor(yes, None if ratios is None else np.array(ratios))
    return links, 1.0 - own * made, made


def _divisor(yes: Array, ratio: Array | None) -> Array:
    """By what a link is divided to be the probability that it made the sign."""
    if ratio is None:
        return yes
    with np.errstate(divide="ignore"):
        return likelihood_of(yes, ratio) / np.maximum(ratio - 1.0, 0.0)
