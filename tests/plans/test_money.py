"""Money is rounded once, on what is shown."""

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import UnitError
from needlewright.plans.money import DIGITS, for_people, rounded


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
    assert for_people(Fraction("1234.5"), "EUR") == "1,234.50 EUR"
