"""Preferred resistor values, and the best substitute of one or two of them for a resistance."""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from math import floor, hypot, log10, sqrt
from typing import Final, Literal

from needlewright.errors import SignalError

Series = Literal["E24", "E96"]
Joined = Literal["single", "series", "parallel"]

E24: Final = (
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
    33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
)  # fmt: skip
"""Two digits. **Source**: IEC 60063 table 1."""
E96: Final = tuple(round(100 * 10 ** (step / 96)) for step in range(96))
"""Three digits: the 96th roots of ten, rounded. **Source**: IEC 60063 table 2."""

TOLERANCE: Final[dict[Series, float]] = {"E24": 0.05, "E96": 0.01}
"""Usual of the series, limits of error (IEC 60063)."""
LOWEST_OHM: Final = 1.0
HIGHEST_OHM: Final = 10e6
"""What is kept in drawers (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Substitute:
    """One or two resistors in the place of a resistance."""

    series: Series
    joined: Joined
    resistors: tuple[float, ...]
    """Ohm, the larger first."""
    ohm: float
    """What they make."""
    error_ohm: float
    """`ohm` minus what is wanted."""
    u_ohm: float
    """Of `ohm`, k = 1, from the series' tolerance as limits of error."""


@cache
def values_of(series: Series) -> tuple[float, ...]:
    """Every value of a series from `LOWEST_OHM` to `HIGHEST_OHM`, rising."""
    digits, shift = (E24, 1) if series == "E24" else (E96, 2)
    decades = range(floor(log10(LOWEST_OHM)), floor(log10(HIGHEST_OHM)))
    values = [digit * 10.0 ** (decade - shift) for decade in decades for digit in digits]
    return (*(float(f"{value:.6g}") for value in values), HIGHEST_OHM)


def nearest(ohm: float, series: Series) -> float:
    """The value of a series with the smallest error; of two equally near, the lower."""
    return min(_around(values_of(series), ohm), key=lambda value: (abs(value - ohm), value))


def at_or_above(ohm: float, series: Series) -> float:
    """The lowest value of a series that is not below.

    Parameters
    ----------
    ohm
        What is wanted at least.
    series
        E24 or E96.

    Returns
    -------
    float
        Ohm.

    Raises
    ------
    SignalError
        If the series, as kept, ends below.
    """
    values = values_of(series)
    i = bisect_left(values, ohm * (1 - 1e-12))
    if i == len(values):
        raise SignalError(f"{ohm:g} ohm is above {HIGHEST_OHM:g} ohm, the end of the {series} kept")
    return values[i]


def best_substitute(ohm: float, series: Series) -> Substitute:
    """One resistor, or two in series or parallel, nearest to a resistance.

    Parameters
    ----------
    ohm
        What is wanted, above 0.
    series
        E24 or E96.

    Returns
    -------
    Substitute
        The smallest error; of equal ones the fewest resistors, then the most equal two.

    Raises
    ------
    SignalError
        If the resistance is outside what the drawers can make.
    """
    if not LOWEST_OHM / 2 <= ohm <= 2 * HIGHEST_OHM:
        raise SignalError(
            f"{ohm:g} ohm cannot be made of resistors from {LOWEST_OHM:g} to {HIGHEST_OHM:g} ohm"
        )
    return min(_candidates(ohm, series), key=lambda each: _worth(each, ohm))


def _worth(each: Substitute, ohm: float) -> tuple[float, int, float]:
    error = round(abs(each.error_ohm) / ohm, 12)
    return error, len(each.resistors), each.resistors[0] / each.resistors[-1]


def _candidates(ohm: float, series: Series) -> Iterator[Substitute]:
    values = values_of(series)
    for value in _around(values, ohm):
        yield _made(ohm, series, "single", (value,))
    for first in values:
        if first < ohm:
            for second in _around(values, ohm - first):
                yield _made(ohm, series, "series", (first, second))
        elif first > ohm:
            for second in _around(values, 1.0 / (1.0 / ohm - 1.0 / first)):
                yield _made(ohm, series, "parallel", (first, second))


def _around(values: tuple[float, ...], ohm: float) -> tuple[float, ...]:
    i = bisect_left(values, ohm)
    return values[max(i - 1, 0) : i + 1] or values[-1:]


def _made(ohm: float, series: Series, joined: Joined, resistors: tuple[float, ...]) -> Substitute:
    ordered = tuple(sorted(resistors, reverse=True))
    if joined == "parallel":
        total = 1.0 / sum(1.0 / each for each in ordered)
        shares = [(total / each) ** 2 for each in ordered]
    else:
        total = sum(ordered)
        shares = [1.0] * len(ordered)
    half_width = hypot(*(s * TOLERANCE[series] * r for s, r in zip(shares, ordered, strict=True)))
    return Substitute(series, joined, ordered, total, total - ohm, half_width / sqrt(3.0))
