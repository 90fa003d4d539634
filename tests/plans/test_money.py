"""Money is rounded once, on what is shown."""

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.amounts import THIN
from needlewright.errors import UnitError
from needlewright.plans.money import (
    DIGITS,
    difference,
    for_people,
    rounded,
    shared_out,
)


@pytest.mark.parametrize(
    ("amount", "currency", "shown"),
    [
        (Fraction("0.025"), "EUR", "0.02"),  # halves to the even digit, ISO 80000-1:2009, annex B
        (Fraction("0.035"), "EUR", "0.04"),
        (Fraction(7, 6) * Fraction("0.15"), "EUR", "0.18"),  # 0.175 exactly
        (Fraction(1, 6) * Fraction("0.15"), "EUR", "0.02"),  # 0.025 exactly
        (Fraction("2.5"), "JPY", "2"),
        (Fraction("1.0005"), "KWD", "1.000"),
        (Fraction("-1.005"), "USD", "-1.00"),
    ],
)
def test_halves_go_to_the_even_digit(amount: Fraction, currency: str, shown: str):
    assert str(rounded(amount, currency)) == shown


@given(
    st.decimals(-10_000, 10_000, places=6, allow_nan=False), st.sampled_from(["EUR", "JPY", "KWD"])
)
def test_decimals_round_as_the_library_of_decimals_does(amount: Decimal, currency: str):
    step = Decimal(1).scaleb(-DIGITS[currency])
    assert rounded(Fraction(amount), currency) == amount.quantize(step, ROUND_HALF_EVEN)


def test_an_unknown_currency_is_refused():
    with pytest.raises(UnitError, match="there is no currency 'eur'"):
        rounded(Fraction(1), "eur")
    assert for_people(Fraction("1234567.5"), "EUR") == f"1{THIN}234{THIN}567.50 EUR"


amounts = st.fractions(0, 2000, max_denominator=7000)


@given(st.lists(amounts, min_size=1, max_size=8), amounts, st.sampled_from(["EUR", "JPY", "KWD"]))
def test_what_a_sum_is_made_of_adds_up_as_shown(
    some: list[Fraction], before: Fraction, currency: str
):
    coin = Fraction(1, 10 ** DIGITS[currency])
    whole = rounded(sum(some, Fraction(0)), currency)
    shown = shared_out(whole, some, currency)
    assert sum(shown) == whole
    for one, exact in zip(shown, some, strict=True):
        assert abs(Fraction(one) - exact) < coin
        assert -one.as_tuple().exponent == DIGITS[currency]
    # beside another amount both sums are rounded, so that theirs may be a coin more or less
    rest = rounded(before + sum(some, Fraction(0)), currency) - rounded(before, currency)
    shown = shared_out(rest, some, currency)
    assert sum(shown) == rest
    assert all(abs(Fraction(a) - b) <= 2 * coin for a, b in zip(shown, some, strict=True))
    assert all(one >= 0 for one in shown)
    assert all(a == 0 for a, b in zip(shown, some, strict=True) if b == 0)


def test_a_difference_is_that_of_what_is_shown():
    # shown are 10.01 and 10.00
    more, less = Fraction("10.006"), Fraction("10.004")
    assert difference(more, less, "EUR") == Fraction("0.01")
    assert for_people(more - less, "EUR") == "0.00 EUR"


def test_whole_coins_stay_as_they_are():
    exact = [Fraction("33.00"), Fraction(100, 3), Fraction("16.50"), Fraction(200, 3)]
    shown = shared_out(rounded(sum(exact, Fraction(0)), "EUR"), exact, "EUR")
    assert list(map(str, shown)) == ["33.00", "33.33", "16.50", "66.67"]
    assert shared_out(Decimal("0.00"), [], "EUR") == ()
