"""Money: decimal where it comes in and goes out, exact in between, rounded once at the end.

Prices and rates come in as decimals. What is worked out of them are exact fractions, so no step in
between rounds; only `rounded`, on what is shown, does: to the currency's smallest coin of account,
halves to the even digit.
"""

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import Final

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


def for_people(amount: Fraction, currency: str) -> str:
    """An amount in words: `41.50 EUR`."""
    return f"{rounded(amount, currency):,} {currency}"
