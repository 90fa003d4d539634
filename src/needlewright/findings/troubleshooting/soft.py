"""Evidence that is neither yes nor no: a ratio of likelihoods on a finding (virtual evidence)."""

from collections import defaultdict
from collections.abc import Iterable
from math import exp, log

from needlewright.findings.evidence import MOST_RATIO, Evidence
from needlewright.findings.troubleshooting.tables import Array

Slot = tuple[str, str | None]
"""A finding, and of which dial."""


def slot_of(piece: Evidence) -> Slot:
    """The finding that a piece of evidence speaks of."""
    return piece.finding, piece.dial


def ratio_of(pieces: Iterable[Evidence]) -> float:
    """What all evidence on one finding says together.

    Parameters
    ----------
    pieces
        Of one finding of one dial, or of the whole.

    Returns
    -------
    float
        Ratio of likelihoods of a yes to a no, within what evidence may claim; 1 without evidence.

    Notes
    -----
    Pieces of one analysis are not independent: they share its camera, its reference, its model. Of
    those only the strongest for a yes and the strongest against it count, so a second look at the
    same adds nothing and two that differ cancel. Different analyses speak each for itself, and
    their ratios multiply.
    """
    strongest: dict[str | None, tuple[float, float]] = defaultdict(lambda: (0.0, 0.0))
    for piece in pieces:
        most, least = strongest[piece.analysis]
        said = log(piece.ratio)
        strongest[piece.analysis] = max(most, said), min(least, said)
    # sorted, so that the order of the pieces does not show in the last digit
    total = sum(sorted(most + least for most, least in strongest.values()))
    return exp(min(max(total, -log(MOST_RATIO)), log(MOST_RATIO)))


def likelihood_of(yes: Array, ratio: float) -> Array:
    """How likely the evidence is, were a no 1, by the probability of a yes."""
    return yes * ratio + (1.0 - yes)


def alarm_share(ratio: float) -> float:
    """The part of evidence that only a yes can have made.

    Parameters
    ----------
    ratio
        Of likelihoods.

    Returns
    -------
    float
        Per yes, in units of how likely the evidence is with a no: evidence of ratio R is seen with
        a no as often as 1, with a yes R times as often, so R - 1 of it is the yes' own. 0 where it
        speaks against a yes: nothing is complained of then.
    """
    return max(ratio - 1.0, 0.0)
