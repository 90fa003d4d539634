"""Amounts as every sentence writes them: hours in a unit that suits them, thousands apart."""

from decimal import Decimal
from math import isfinite
from typing import Final

THIN: Final = "\u202f"
"""Between groups of three digits, so that no comma is read as a point.

**Source**: ISO 80000-1:2009, 7.3.1, from memory.
"""
FEWEST_GROUPED: Final = 1e3
MOST_GROUPED: Final = 1e12
LEAST_PLAIN: Final = 1e-4
WHOLE_FROM: Final = 1e6
_RAISED: Final = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def thin_groups(said: str) -> str:
    """A number written out with a comma between its thousands, with narrow spaces instead."""
    return said.replace(",", THIN)


def grouped(value: float | Decimal, places: int = 0) -> str:
    """A number with thin groups of three: `184 213`, so that no comma is read as a point."""
    return thin_groups(f"{value:,.{places}f}")


def figure(value: float) -> str:
    """A number as it stands in a sentence.

    Parameters
    ----------
    value
        Any.

    Returns
    -------
    str
        `0.5`, `400 000`, or by a power of ten what is too large or too small for that: `10¹⁵`.
    """
    # rounded first: 999 999.7 is a million, which is written another way
    shown = float(f"{value:{'.0f' if abs(value) >= WHOLE_FROM else '.6g'}}")
    size = abs(shown)
    if not isfinite(shown) or size == 0 or LEAST_PLAIN <= size < FEWEST_GROUPED:
        return f"{shown:.6g}"
    if LEAST_PLAIN <= size < MOST_GROUPED:
        return grouped(shown) if shown == int(shown) else thin_groups(f"{shown:,.6g}")
    digits, _, power = f"{value:.5e}".partition("e")
    digits = digits.rstrip("0").rstrip(".")
    raised = f"10{str(int(power)).translate(_RAISED)}"
    return raised if digits == "1" else f"{digits} × {raised}"


def hours_words(hours: float) -> str:
    """Hours as people say them: `59 s`, `12 min`, `2.5 h`, `1 200 h`.

    Parameters
    ----------
    hours
        0 or more.

    Returns
    -------
    str
        In seconds below a minute, in minutes below an hour.
    """
    if hours * 3600.0 < 59.5:
        return f"{hours * 3600.0:.0f} s"
    if hours * 60.0 < 59.5:
        return f"{hours * 60.0:.0f} min"
    return f"{hours:.3g} h" if hours < 999.5 else f"{grouped(hours)} h"


def work_words(seconds: float) -> str:
    """About how long a computer works.

    Parameters
    ----------
    seconds
        0 or more.

    Returns
    -------
    str
        Such as `40 min`; no more exact than it is known.
    """
    if seconds < 90.0:
        return f"{max(round(seconds / 10.0) * 10, 10)} s"
    return f"{round(seconds / 60.0)} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"
