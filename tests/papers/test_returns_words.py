"""How many come back, in words. Common practice, no source: a share is told as so many in 100."""

import math

import pytest

from needlewright.papers.returns_words import NUMBER, PROBABILITY, returns_of


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.999, "nearly every one"),
        (0.99, "about 99 in 100"),
        (0.96, "about 96 in 100"),
        (0.50, "about 50 in 100"),
        (0.45, "about 45 in 100"),
        (0.40, "about 40 in 100"),
        (0.125, "about 1 in 8"),
        (0.01, "about 1 in 100"),
        (0.004, "fewer than 1 in 100"),
    ],
)
def test_a_probability_is_a_share_of_clusters(probability: float, words: str) -> None:
    said = returns_of({"any_return": probability, "expected_returns": 2.0})
    assert (said.words, said.heading, said.is_number) == (words, PROBABILITY, False)


@pytest.mark.parametrize(
    ("expected", "words"),
    [(1.3, "1.30"), (0.5, "0.50"), (0.45, "0.45"), (0.4, "0.40"), (0.004, "fewer than 0.01")],
)
def test_a_number_of_returns_is_no_share(expected: float, words: str) -> None:
    said = returns_of({"expected_returns": expected})
    assert (said.words, said.heading, said.is_number) == (words, NUMBER, True)


def test_one_in_so_many_is_within_an_eighth_of_what_it_tells() -> None:
    """Rounding of 1/p to a whole number, from 5 on: off by half in 4.5 at most."""
    for step in range(10, 200):
        p = step / 1000
        told = 1 / float(returns_of({"any_return": p}).words.rpartition(" ")[2])
        assert math.isclose(told, p, rel_tol=0.125)
