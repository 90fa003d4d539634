"""Exact sums of many fractions: the same as adding one after the other."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from needlewright.plans.rebuild.totals import total_of


@given(st.lists(st.fractions(min_value=-1000, max_value=1000), max_size=12))
def test_a_total_is_the_sum(amounts: list[Fraction]):
    assert total_of(amounts) == sum(amounts, Fraction(0))
