"""In which order remedies are tried, and what a repair then takes on average."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Try:
    """One remedy that can be tried.

    Parameters
    ----------
    name
        Which.
    helps
        Probability that it ends the search; those of different tries exclude one another.
    minutes
        What trying takes, whether it helps or not; above 0.
    inside
        Whether the cluster must have been opened.
    """

    name: str
    helps: float
    minutes: float
    inside: bool = False


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


def best_course(tries: Sequence[Try], lead_minutes: float, give_up_minutes: float) -> Course:
    """Order tries so that the expected minutes are least, for one cause at most.

    Parameters
    ----------
    tries
        Of one search.
    lead_minutes
        What it takes once before the first try that is inside.
    give_up_minutes
        What it takes when nothing helped.

    Returns
    -------
    Course
        The best order there is, ended where going on takes more than it spares.
    """
    order: list[Try] = []
    left, lead = list(tries), lead_minutes
    while left:
        place = first_of(
            np.array([one.helps for one in left]),
            np.array([one.minutes for one in left]),
            np.array([one.inside for one in left]),
            lead,
        )
        chosen = left.pop(place)
        lead = 0.0 if chosen.inside else lead
        order.append(chosen)
    counts = range(len(order) + 1)
    worth = [expected_minutes(order[:count], lead_minutes, give_up_minutes) for count in counts]
    best = int(np.argmin(worth))
    return Course(tuple(one.name for one in order[:best]), worth[best])


def first_of(helps: Array, minutes: Array, inside: NDArray[np.bool_], lead_minutes: float) -> int:
    """Which try begins the best order.

    Parameters
    ----------
    helps
        Of every try, as `Try` has it.
    minutes
        The same.
    inside
        The same.
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


def expected_minutes(order: Sequence[Try], lead_minutes: float, give_up_minutes: float) -> float:
    """What tries take on average in a given order.

    Parameters
    ----------
    order
        As they are tried.
    lead_minutes
        What it takes once before the first that is inside.
    give_up_minutes
        What it takes when none helped.

    Returns
    -------
    float
        Minutes.
    """
    left, total, is_open = 1.0, 0.0, False
    for one in order:
        if one.inside and not is_open:
            total, is_open = total + left * lead_minutes, True
        total += left * one.minutes
        left -= one.helps
    return total + max(left, 0.0) * give_up_minutes
