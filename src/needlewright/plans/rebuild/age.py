"""How old a cluster is, from when it was built, as exactly as that is known."""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from typing import Final

from needlewright.errors import PlanError

DAYS_A_YEAR: Final = 365.2425
"""Of the Gregorian calendar: 97 leap days in 400 years."""


@dataclass(frozen=True, slots=True)
class Age:
    """An age with what it rests on.

    Parameters
    ----------
    years
        Exact to the day, and to half a day from a middle.
    words
        One clause: when it was built, what was assumed, and on which day it is that old.
    """

    years: float
    words: str


def age_on(built: str, day: date) -> Age:
    """How old something is on a day.

    Parameters
    ----------
    built
        A year, month or day: `2012`, `2012-05`, `2012-05-17` (ISO 8601).
    day
        On which.

    Returns
    -------
    Age
        Counted from the middle of what is stated; of a year or month that is not over on that
        day, from the middle of what of it is over.

    Raises
    ------
    PlanError
        If it is no such text, or was built after that day.
    """
    first, last = _stated(built)
    if first > day:
        raise PlanError(
            f"built {built} lies after {day}, the day its age is asked for; correct one of them"
        )
    end = min(last, day)
    middle = first + (end - first) / 2
    years = (day - middle).days / DAYS_A_YEAR
    what = {4: "year", 7: "month"}.get(len(built))
    assumed = "" if what is None else f", taken as the middle of the {what}"
    return Age(years, f"built {built}{assumed}; on {day} it is {round(years, 1):g} years old")


def _stated(built: str) -> tuple[date, date]:
    """The first and the last day that are meant."""
    try:
        parts = [int(part) for part in built.split("-")]
        match parts:
            case [year]:
                return date(year, 1, 1), date(year, 12, 31)
            case [year, month]:
                return date(year, month, 1), date(year, month, monthrange(year, month)[1])
            case [year, month, day]:
                return date(year, month, day), date(year, month, day)
    except ValueError:
        pass
    raise PlanError(
        f"built: expected a year, month or day such as 2012, 2012-05 or 2012-05-17, found '{built}'"
    )
