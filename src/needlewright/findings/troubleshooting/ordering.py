"""In which order remedies are tried, and what a repair then takes on average."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Course:
    """Tries in their order, and what they take.

    Parameters
    ----------
    names
        In the order of least expected minutes; those that are worth less than they take are left
        out.
    expected_minutes
        Opening and giving up included.
    """

    names: tuple[str, ...]
    expected_minutes: float


def first_of(helps: Array, minutes: Array, inside: NDArray[np.bool_], lead_minutes: float) -> int:
    """Which try begins the best order.

    Parameters
    ----------
    helps
        Probability of every try that it ends the search; of two, one at most does.
    minutes
        What trying takes, whether it helps or not; above 0.
    inside
        Whether the cluster must have been opened for it.
    lead_minutes
        What it takes before the first one that is inside.

    Returns
    -------
    int
        Its place.

    Notes
    -----
    Tries for themselves go by probability over minutes. The way to the inside is a piece of work
    before the inner ones with no chance of its own: it counts with as many of them as make the
    highest ratio, and that is exact for one way with tries behind it (Horn 1972: one machine, a
    tree of precedence, least weighted sum of completion times; from memory, and checked against
    every order there is).
    """
    ratio = helps / minutes
    inner = np.flatnonzero(inside)
    if lead_minutes <= 0 or not len(inner):
        return int(np.argmax(ratio))
    inner = inner[np.argsort(-ratio[inner], kind="stable")]
    blocks = np.cumsum(helps[inner]) / (lead_minutes + np.cumsum(minutes[inner]))
    outer = np.flatnonzero(~inside)
    if not len(outer) or blocks.max() > ratio[outer].max():
        return int(inner[0])
    return int(outer[np.argmax(ratio[outer])])
