"""Prior and likelihood tables of a knowledge file: by combination of causes, by state of a dial."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.troubleshooting.model import Finding, Knowledge, of_state

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Shown:
    """What a finding's probabilities are worked out from; can be a key."""

    shown_by: tuple[tuple[str, float], ...]
    otherwise: float
    is_of_dial: bool


def yes_of(finding: Finding, whole: tuple[str, ...], states: tuple[str, ...]) -> Array:
    """Probability of a yes.

    Parameters
    ----------
    finding
        A question or a test.
    whole
        Codes of the causes of the whole.
    states
        Of a dial.

    Returns
    -------
    ndarray
        By combination; for a finding of a dial, combinations x states. A no is a no of every
        cause that is there (noisy or).
    """
    shown = tuple(sorted(finding.shown_by.items()))
    return _yes_of(_Shown(shown, finding.otherwise, finding.scope == "dial"), whole, states)


@lru_cache(512)
def _yes_of(shown: _Shown, whole: tuple[str, ...], states: tuple[str, ...]) -> Array:
    by = dict(shown.shown_by)
    there = combinations_of(len(whole))
    passes = np.where(there, 1.0 - np.array([by.get(code, 0.0) for code in whole]), 1.0)
    no = (1.0 - shown.otherwise) * passes.prod(axis=1)
    if not shown.is_of_dial:
        return np.asarray(1.0 - no)
    own = 1.0 - np.array([of_state(by, state) for state in states])
    return np.asarray(1.0 - no[:, None] * own[None, :])


@lru_cache(4)
def combinations_of(count: int) -> NDArray[np.bool_]:
    """Every combination of so many causes: combinations x causes; the first has none."""
    return np.asarray((np.arange(2**count)[:, None] >> np.arange(count)) % 2 == 1)


def whole_prior(knowledge: Knowledge, whole: tuple[str, ...], there: NDArray[np.bool_]) -> Array:
    """Probability of every combination; a cause is likelier where one that brings it is there."""
    prior = np.ones(len(there))
    for place, code in enumerate(whole):
        present = _brought(knowledge, code, whole, there)
        prior *= np.where(there[:, place], present, 1.0 - present)
    return prior


def dial_prior(knowledge: Knowledge, whole: tuple[str, ...], there: NDArray[np.bool_]) -> Array:
    """Probability of every state of a dial under every combination.

    A cause that another brings is likelier there; what that leaves is shared by the other states
    in their own proportion. In which part a cause lies does not depend on what brought it.
    """
    causes = knowledge.of_scope("dial")
    own = np.array([1.0 - sum(cause.prior for cause in causes), *(c.prior for c in causes)])
    odds = np.tile(own, (len(there), 1))
    for place, cause in enumerate(causes, start=1):
        present = _brought(knowledge, cause.code, whole, there)
        # odds that make `present` its probability, the other states being as they were
        odds[:, place] = present * (1.0 - cause.prior) / (1.0 - present)
    prior = odds / odds.sum(axis=1, keepdims=True)
    parts = [[1.0], *([*cause.parts.values()] or [1.0] for cause in causes)]
    split = np.repeat(prior, [len(shares) for shares in parts], axis=1)
    return np.asarray(split * np.concatenate(parts))


def _brought(
    knowledge: Knowledge, code: str, whole: tuple[str, ...], there: NDArray[np.bool_]
) -> Array:
    """Probability of a cause by itself, or brought by any that is there."""
    links = np.array([knowledge.causes[one].brings.get(code, 0.0) for one in whole])
    absent = (1.0 - knowledge.causes[code].prior) * np.where(there, 1.0 - links, 1.0).prod(axis=1)
    return np.asarray(1.0 - absent)
