"""Evidence that is neither yes nor no: a ratio of likelihoods on a finding (virtual evidence)."""

from collections import defaultdict
from collections.abc import Sequence
from math import isfinite, log

import numpy as np

from needlewright.errors import KnowledgeError
from needlewright.findings.evidence import MOST_RATIO, Evidence
from needlewright.findings.troubleshooting.model import (
    Finding,
    Knowledge,
    Weighed,
    code_of,
    of_state,
    part_of,
)
from needlewright.findings.troubleshooting.tables import Array

Slot = tuple[str, str | None]
"""A finding, and of which dial."""


def slot_of(piece: Evidence) -> Slot:
    """The finding that a piece of evidence speaks of."""
    return piece.finding, piece.dial


def ratios_of(pieces: Sequence[Evidence], knowledge: Knowledge, finding: Finding) -> Array:
    """What all evidence on one finding says together.

    Parameters
    ----------
    pieces
        Of that finding of one dial, or of the whole.
    knowledge
        With the states of a dial and how far pointing at a part is to be trusted.
    finding
        What they speak of.

    Returns
    -------
    ndarray
        Ratio of likelihoods of a yes to a no, within what evidence may claim; 1 without evidence.
        By state for a finding of a dial; else one number without an axis.

    Notes
    -----
    Pieces of one analysis are not independent: they share its camera, its reference, its model. Of
    those only the strongest for a yes and the strongest against it count, so a second look at the
    same adds nothing and two that differ cancel. Different analyses speak each for itself, and
    their ratios multiply.

    A piece for a yes that points at a part is worth less by `pointing` for a yes that something
    else made, but never speaks against it. A part that no cause behind the finding has is passed
    over.
    """
    states = knowledge.states if finding.scope == "dial" else ()
    shape = (len(states),) if states else ()
    most = defaultdict[str | None, Array](lambda: np.zeros(shape))
    least = defaultdict[str | None, Array](lambda: np.zeros(shape))
    for piece in pieces:
        said = _said(piece, knowledge, finding, states)
        most[piece.analysis] = np.maximum(most[piece.analysis], said)
        least[piece.analysis] = np.minimum(least[piece.analysis], said)
    # sorted, so that the order of the pieces does not show in the last digit
    each = np.sort([most[one] + least[one] for one in most] or [np.zeros(shape)], axis=0)
    return np.asarray(np.exp(np.clip(each.sum(axis=0), -log(MOST_RATIO), log(MOST_RATIO))))


def _said(piece: Evidence, known: Knowledge, finding: Finding, states: Sequence[str]) -> Array:
    """Logarithm of one piece's ratio, by state."""
    said = log(piece.ratio)
    parts = {part_of(state) for state in states if of_state(finding.shown_by, state) > 0}
    if piece.part is None or piece.part not in parts or said <= 0:
        return np.full((len(states),) if states else (), said)
    elsewhere = max(said - log(known.pointing), 0.0)
    return np.array([said if part_of(state) == piece.part else elsewhere for state in states])


def likelihood_of(yes: Array, ratio: Array) -> Array:
    """How likely the evidence is, were a no 1, by the probability of a yes."""
    return yes * ratio + (1.0 - yes)


def likelihood_by_state(said: Weighed, states: Sequence[str]) -> Array:
    """How likely what an analysis saw of a whole dial is in each of its states.

    Parameters
    ----------
    said
        The analysis.
    states
        Of a dial.

    Returns
    -------
    ndarray
        In the order of the states, in any common unit.

    Raises
    ------
    KnowledgeError
        If a likelihood is negative or not finite, or all are zero.
    """
    codes = {*states, *map(code_of, states)}
    known = [value for code, value in said.likelihood.items() if code in codes]
    if not known or not all(isfinite(one) and one >= 0 for one in known) or max(known) <= 0:
        raise KnowledgeError(
            f"{said.said_by}: its likelihoods for dial '{said.dial}' must be 0 or more, and one "
            "above 0"
        )
    mean = sum(known) / len(known)
    return np.array([of_state(said.likelihood, state, mean) for state in states])
