"""Orders of remedies against every order there is."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from needlewright.findings.troubleshooting.ordering import Course, first_of


@dataclass(frozen=True, slots=True)
class Try:
    """One remedy that can be tried; of two, one at most ends the search."""

    name: str
    helps: float
    minutes: float
    inside: bool = False


def best_course(tries: Sequence[Try], lead_minutes: float, give_up_minutes: float) -> Course:
    """Try what `first_of` says, again and again, and end where going on takes more."""
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


def expected_minutes(order: Sequence[Try], lead_minutes: float, give_up_minutes: float) -> float:
    """What tries take on average in a given order, opening and giving up included."""
    left, total, is_open = 1.0, 0.0, False
    for one in order:
        if one.inside and not is_open:
            total, is_open = total + left * lead_minutes, True
        total += left * one.minutes
        left -= one.helps
    return total + max(left, 0.0) * give_up_minutes


def test_three_remedies_go_by_probability_over_minutes() -> None:
    """Source: the published rule of troubleshooting, probability over cost; B A C at 10.0."""
    tries = [Try("A", 0.5, 10), Try("B", 0.3, 2), Try("C", 0.2, 5)]
    course = best_course(tries, 0.0, 1000.0)
    assert course.names == ("B", "A", "C")
    assert course.expected_minutes == pytest.approx(10.0)


def least_of_all(tries: list[Try], lead_minutes: float, give_up_minutes: float) -> float:
    """Over every order of every selection."""
    return min(
        expected_minutes(order, lead_minutes, give_up_minutes)
        for count in range(len(tries) + 1)
        for order in permutations(tries, count)
    )


share, takes = st.floats(0.01, 1.0), st.floats(1.0, 200.0)
searches = st.lists(st.tuples(share, takes, st.booleans()), min_size=1, max_size=5)


@settings(max_examples=60, deadline=None)
@given(searches, share, st.floats(0.0, 300.0), st.floats(50.0, 2000.0))
def test_no_order_of_any_selection_takes_less(
    found: list[tuple[float, float, bool]],
    hopeless: float,
    lead_minutes: float,
    give_up_minutes: float,
) -> None:
    """Source: brute force. At most one helps; `hopeless` weighs that none does."""
    total = hopeless + sum(weight for weight, _, _ in found)
    tries = [
        Try(str(i), weight / total, minutes, inside)
        for i, (weight, minutes, inside) in enumerate(found)
    ]
    course = best_course(tries, lead_minutes, give_up_minutes)
    least = least_of_all(tries, lead_minutes, give_up_minutes)
    assert course.expected_minutes == pytest.approx(least, rel=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_seven_remedies_with_a_way_to_the_inside(seed: int) -> None:
    """Source: brute force over the 5,040 orders of seven; giving up is out of the question."""
    rng = np.random.default_rng(seed)
    helps = rng.dirichlet(np.ones(7))
    tries = [
        Try(str(i), float(helps[i]), float(rng.uniform(5, 120)), bool(rng.random() < 0.6))
        for i in range(7)
    ]
    course = best_course(tries, 40.0, 1e6)
    least = min(expected_minutes(order, 40.0, 1e6) for order in permutations(tries))
    assert course.expected_minutes == pytest.approx(least, rel=1e-9)


def test_opening_is_paid_once_and_only_when_it_is_come_to() -> None:
    tries = [Try("sender", 0.5, 10), Try("joint", 0.3, 20, True), Try("movement", 0.2, 30, True)]
    course = best_course(tries, 25.0, 1000.0)
    assert course.names == ("sender", "joint", "movement")
    assert course.expected_minutes == pytest.approx(10 + 0.5 * (25 + 20) + 0.2 * 30)


def test_a_remedy_that_takes_more_than_it_spares_is_left_out() -> None:
    course = best_course([Try("likely", 0.9, 10), Try("dear", 0.05, 300)], 0.0, 500.0)
    assert course.names == ("likely",)
    assert course.expected_minutes == pytest.approx(10 + 0.1 * 500)


def test_nothing_to_try_costs_as_giving_up() -> None:
    assert best_course([], 25.0, 500.0).expected_minutes == 500.0
