"""Numbers of a sum as people read them."""

from math import floor, isfinite, log10
from typing import Final

from needlewright.amounts import THIN, grouped
from needlewright.plans.sums.bench_units import for_people
from needlewright.plans.sums.model import Figure

PLAIN_FROM: Final = 1e-4
PLAIN_BELOW: Final = 1e7
MINUS: Final = "−"
MOST_PLACES: Final = 10


def number(value: float, digits: int = 3) -> str:
    """A number with so many significant digits, thousands apart where it is long.

    Parameters
    ----------
    value
        Any finite number.
    digits
        Significant ones, at least 1; whole digits before the point are never cut off.

    Returns
    -------
    str
        Such as `0.880`, `26 700`, `−3.20`, `4.1 × 10^9`.
    """
    if value == 0 or not isfinite(value):
        return f"{value:g}"
    size = abs(value)
    if not PLAIN_FROM <= size < PLAIN_BELOW:
        mantissa, power = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa} × 10^{int(power)}".replace("-", MINUS)
    rounded = float(f"{value:.{digits - 1}e}")
    places = max(digits - 1 - floor(log10(abs(rounded))), 0)
    return grouped(rounded if places else round(value), places).replace("-", MINUS)


def limit(value: float) -> str:
    """A limit of an input, written out as it may be typed: `0.000001`, `1 000 000`, `−40`."""
    return grouped(value, MOST_PLACES).rstrip("0").rstrip(".").replace("-", MINUS)


def default_words(value: float) -> str:
    """What is taken where nothing is given, as it may be typed: `1000`, `−30`, `97.1`."""
    return limit(value).replace(THIN, "")


def with_unit(value: float, unit: str, digits: int = 3) -> str:
    """A number and its unit: `475 Ω`."""
    return f"{number(value, digits)} {for_people(unit)}".rstrip()


def figure_words(figure: Figure) -> str:
    """The number of a figure, without its range: `0.881`, `475 Ω`, `not worked out`."""
    if figure.said:
        return figure.said
    return "" if figure.value is None else with_unit(figure.value, figure.unit, figure.digits)


def range_words(figure: Figure) -> str:
    """What it may be: `0.880 to 0.884`, `at most 12 V`; empty where nothing is said of it."""
    unit = f" {for_people(figure.unit)}".rstrip()
    low, high = (
        None if one is None else number(one, figure.digits) for one in (figure.low, figure.high)
    )
    if low is None and high is None:
        return ""
    if low is None:
        return f"at most {high}{unit}"
    if high is None:
        return f"at least {low}{unit}"
    return f"{low} to {high}{unit}"
