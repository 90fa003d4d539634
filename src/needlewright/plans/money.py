"""Money: decimal where it comes in and goes out, exact in between, rounded once at the end.

Prices and rates come in as decimals. What is worked out of them are exact fractions, so no step in
between rounds; only `rounded`, on what is shown, does: to the currency's smallest coin of account,
halves to the even digit. Where a sum is shown with what it is made of, it is the sum that is
rounded, and `shared_out` makes its parts add up to it.
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import Final

from needlewright.amounts import grouped
from needlewright.errors import UnitError

ROUNDING: Final = ROUND_HALF_EVEN
"""What `rounded` does, by its name."""

_NO_DIGITS: Final = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
_THREE_DIGITS: Final = "BHD IQD JOD KWD LYD OMR TND"
_TWO_DIGITS: Final = (
    "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF "
    "CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD "
    "HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA "
    "MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN "
    "QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP "
    "TRY TTD TWD TZS UAH USD UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG"
)
DIGITS: Final = (
    dict.fromkeys(_TWO_DIGITS.split(), 2)
    | dict.fromkeys(_NO_DIGITS.split(), 0)
    | dict.fromkeys(_THREE_DIGITS.split(), 3)
)
"""Decimal places of every currency that is taken. **Source**: ISO 4217, from memory."""


def currency_named(code: str) -> str:
    """A currency's code.

    Parameters
    ----------
    code
        As it was given.

    Returns
    -------
    str
        The same.

    Raises
    ------
    UnitError
        If it is no code of three letters that is known.
    """
    if code not in DIGITS:
        raise UnitError(
            f"there is no currency '{code}'; use a code of three capital letters (ISO 4217), such "
            "as EUR, USD or JPY"
        )
    return code


def rounded(amount: Fraction, currency: str) -> Decimal:
    """An exact amount as it is shown: the one place where money is rounded.

    Parameters
    ----------
    amount
        In the currency.
    currency
        Its code.

    Returns
    -------
    Decimal
        With the currency's decimal places; halves go to the even digit.

    Raises
    ------
    UnitError
        If there is no such currency.
    """
    digits = DIGITS[currency_named(currency)]
    coins = round(amount * 10**digits)  # of a Fraction this is exact, halves to even
    return Decimal(coins).scaleb(-digits)


def shared_out(whole: Decimal, exact: Sequence[Fraction], currency: str) -> tuple[Decimal, ...]:
    """Amounts as they are shown, which add up to the sum that is shown with them.

    Parameters
    ----------
    whole
        The sum, rounded.
    exact
        What it is made of, not rounded, in the currency.
    currency
        Its code.

    Returns
    -------
    tuple of Decimal
        Each rounded down or up, up where most would be lost (the largest remainders), so that
        they add up. An amount of whole coins stays as it is, where the sum is theirs.

    Raises
    ------
    UnitError
        If there is no such currency.

    **Source**: the method of largest remainders, common practice.
    """
    digits = DIGITS[currency_named(currency)]
    coins = [amount * 10**digits for amount in exact]
    shown = [amount.__floor__() for amount in coins]
    left = int(whole.scaleb(digits)) - sum(shown)
    # halves to even may leave the sum a coin off all of them: the largest bears it, and not nothing
    lost = sorted(range(len(coins)), key=lambda i: (shown[i] - coins[i], -coins[i], i))
    step = 1 if left > 0 else -1
    for place in lost if left > 0 else sorted(lost, key=lambda i: (-shown[i], i)):
        if left:
            shown[place], left = shown[place] + step, left - step
    return tuple(Decimal(one).scaleb(-digits) for one in shown)


def for_people(amount: Fraction, currency: str) -> str:
    """An amount in words: `41.50 EUR`, thousands apart by a narrow space."""
    return f"{grouped(rounded(amount, currency), DIGITS[currency])} {currency}"


def difference(more: Fraction, less: Fraction, currency: str) -> Fraction:
    """By how much one amount is more than another, as the two are shown."""
    return Fraction(rounded(more, currency)) - Fraction(rounded(less, currency))
