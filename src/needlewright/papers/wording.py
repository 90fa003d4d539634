"""How numbers, places and days are written on paper."""

import re
from calendar import month_name
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache
from math import ceil, floor, log10
from statistics import median
from typing import Any, Final

from needlewright import amounts
from needlewright.papers.figures import decimals_for
from needlewright.units import unit_for_people

NONE_STATED: Final = "none stated"
MINUS: Final = "−"
grouped: Final = amounts.grouped
hours_words: Final = amounts.hours_words


_FOR_PEOPLE: Final = tuple(
    (re.compile(pattern), instead)
    for pattern, instead in (
        (r"\((1000 r/min|fraction of full)\)", r"\1"),
        (r"(?<![×\d])1000 r/min", "×1000 r/min"),
        (r"fraction of full", "of full"),
        (r"\bdeg([CF])\b", r"°\1"),
        (r"(?<![\w.])-(?=\d)", MINUS),
        (r"\(U (?=\d)", "(U\u00a0"),
    )
)


_DEGREES: Final = re.compile(r"(?<=\d) deg\b")
_NEEDLE_WORK: Final = re.compile(
    r": needle (?P<how>set|pressed) at (?P<told>.*?)(?: from (?:below|above) after run .*)?"
    r", intended [+\-−]?\d+\.\d+°, achieved [+\-−]?\d+\.\d+°.*$"
)
"""Lines as `composing.pressed_needles` writes them."""


def unit_words(symbol: str) -> str:
    """A unit as it stands behind a number, with true signs: `×1000 r/min`."""
    return sentence_for_people(unit_for_people(symbol))


def work_words(line: str) -> str:
    """A line of work done as an owner is told it: how a needle was set is the shop's to know.

    Parameters
    ----------
    line
        As it stands on the job.

    Returns
    -------
    str
        `speed: needle pressed onto its movement at 80 km/h`; other lines as they are.
    """
    return _NEEDLE_WORK.sub(_needle_work, line)


def _needle_work(found: re.Match[str]) -> str:
    how = "pressed onto its movement" if found["how"] == "pressed" else "set"
    return f": needle {how} at {found['told']}"


def id_words(name: str) -> str:
    """A name of a family as people say it: `behind engine` for `behind-engine`."""
    return name.replace("-", " ").replace("_", " ")


def rehearsal_words(rehearsed: str) -> str:
    """What was rehearsed, without the number that chance was begun with: `sound, 23 °C`."""
    said = re.sub(r", seed -?\d+", "", rehearsed.removeprefix("rehearsed, "))
    return sentence_for_people(said)


def count_words(count: int, one: str, many: str = "") -> str:
    """A number of things: `1 sweep`, `1 200 sweeps`.

    Parameters
    ----------
    count
        Of them.
    one
        What one is called.
    many
        What several are called; empty: with an s.

    Returns
    -------
    str
        Number and name.
    """
    return f"{grouped(count)} {one if count == 1 else many or one + 's'}"


def day_words(iso: str) -> str:
    """A day as people write it: `2 March 2026`."""
    day = date.fromisoformat(iso)
    return f"{day.day} {month_name[day.month]} {day.year}"


def number(value: float, places: int, *, signed: bool = False) -> str:
    """A number with a true minus sign, and no minus before a zero."""
    rounded = round(value, places) + 0.0
    text = f"{rounded:+.{places}f}" if signed and rounded else f"{rounded:.{places}f}"
    return text.replace("-", MINUS)


def short(value: float) -> str:
    """A number as it was typed: no more digits than it needs."""
    return f"{value:.6g}".replace("-", MINUS)


def places_for(expanded: Iterable[float | None]) -> int:
    """Decimals for a whole column: those of the median uncertainty in it.

    Parameters
    ----------
    expanded
        Expanded uncertainties of the column; None and zero count for nothing.

    Returns
    -------
    int
        Decimals; three significant figures of nothing known is two.
    """
    known = [u for u in expanded if u]
    return decimals_for(median(known)) if known else 2


def plus_minus(value: float, expanded: float | None, places: int, *, signed: bool = False) -> str:
    """A value with its expanded uncertainty and no unit: `+2.4 ± 0.4`."""
    text = number(value, places, signed=signed)
    if expanded is None:
        return f"{text} ± ?"
    if expanded and expanded < 0.5 * 10.0**-places:  # never a rounded-away uncertainty
        return f"{text} ± {_up(expanded)}"
    return f"{text} ± {number(expanded, places)}"


def _up(expanded: float) -> str:
    """One figure, rounded up."""
    place = -floor(log10(expanded))
    return f"{ceil(expanded * 10**place) / 10**place:.{place}f}"


def probability(p: float | None) -> str:
    """A probability; never a certainty that no measurement gives."""
    if p is None:
        return "?"
    if p > 0.999:
        return "> 0.999"
    if p < 0.001:
        return "< 0.001"
    return f"{p:.3f}"


def mileage(value: float | None, unit: str) -> str:
    """A mileage with thin groups of three: `184 213 km`."""
    if value is None:
        return NONE_STATED
    return f"{grouped(value, 1 if value % 1 else 0)} {unit}"


def money(amount: object) -> str:
    """An amount as people read it, with or without its currency: thousands apart."""
    return re.sub(r"^-?\d{4,}", lambda whole: grouped(Decimal(whole[0])), str(amount), count=1)


def place_words(row: Mapping[str, Any], unit: str) -> str:
    """A row's place in the run: `80 km/h, up` or `at rest`."""
    if row["commanded"] is None:
        return "at rest"
    return f"{short(row['commanded'])} {unit_words(unit)}, {row['approach']}"


def with_degree_signs(sentence: str) -> str:
    """Angles and turning speeds as a page writes them: `3.4°`, not `3.4 deg`."""
    return _DEGREES.sub("°", sentence)


@lru_cache(maxsize=4096)
def sentence_for_people(sentence: str) -> str:
    """A sentence with its units as a dial prints them, and true minus signs."""
    for pattern, instead in _FOR_PEOPLE:
        sentence = pattern.sub(instead, sentence)
    return sentence


def sentences_for_people(sentences: Iterable[str]) -> tuple[str, ...]:
    """Sentences with a capital first, and units as a dial prints them."""
    said = (sentence_for_people(sentence) for sentence in sentences)
    return tuple(s[:1].upper() + s[1:] for s in said)


def span_words(low: float | None, high: float | None, unit: str) -> str:
    """A range that may be one value, or not known."""
    if low is None or high is None:
        return "not recorded"
    if low == high:
        return f"{short(low)} {unit}"
    return f"{short(low)} to {short(high)} {unit}"
