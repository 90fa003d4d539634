"""The warranty as a burn-in counts it: months of driving in hours of power and sweeps."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from needlewright.amounts import figure, hours_words
from needlewright.errors import PlanError
from needlewright.plans.burn_in.early import PARTS, Clock

MEAN_KMH: Final = 28.0
"""Distance over hours with the power on, town and standing included (common practice, no
source)."""
SWEEPS_AN_HOUR: Final = 20.0
"""A needle's ways added up to whole ones from end to end and back (common practice, no source)."""
NO_WARRANTY_MONTHS: Final = 12.0
"""Where a shop gives no warranty, the first year is looked at."""
LONGEST_MONTHS: Final = 1200.0
MOST_KM: Final = 1e7


@dataclass(frozen=True, slots=True)
class Warranty:
    """What a shop promises, and how far is driven meanwhile.

    Parameters
    ----------
    months
        It lasts; 0: none is given.
    km_per_year
        Driven.
    said
        Where both are from, as `plan 3F2A` or `the shop's catalogue`.

    Raises
    ------
    PlanError
        If one of them cannot be.
    """

    months: float
    km_per_year: float
    said: str

    def __post_init__(self) -> None:
        if not 0 <= self.months <= LONGEST_MONTHS:
            raise PlanError(
                f"warranty: {figure(self.months)} months cannot be; give 0 to "
                f"{figure(LONGEST_MONTHS)}"
            )
        if not 0 < self.km_per_year <= MOST_KM:
            raise PlanError(
                f"warranty: {figure(self.km_per_year)} km a year cannot be; give more than 0 and "
                f"at most {figure(MOST_KM)}"
            )

    @property
    def a_year(self) -> Mapping[Clock, float]:
        """Hours of power and sweeps of a year of driving.

        Notes
        -----
        **Source**: common practice, no source: 28 km/h over all hours with the power on, and
        twenty sweeps an hour.
        """
        hours = self.km_per_year / MEAN_KMH
        return {"hours": hours, "sweeps": hours * SWEEPS_AN_HOUR}

    @property
    def held(self) -> Mapping[Clock, float]:
        """Hours of power and sweeps within it; without a warranty of a year."""
        years = (self.months or NO_WARRANTY_MONTHS) / 12.0
        return {clock: self.a_year[clock] * years for clock in PARTS}

    @property
    def words(self) -> str:
        """Where its hours and sweeps come from, in words."""
        driven = f"{figure(self.km_per_year)} km a year ({self.said})"
        if not self.months:
            return f"no warranty is given: a year is looked at, of {driven}"
        return f"{figure(self.months)} months at {driven}"

    @property
    def driven_words(self) -> str:
        """What a cluster that went back is taken to live through."""
        year = self.a_year
        return (
            f"a cluster that went back is taken to live {hours_words(year['hours'])} and "
            f"{figure(round(year['sweeps']))} sweeps a year, {figure(self.km_per_year)} km at "
            f"{figure(MEAN_KMH)} km/h, and is watched until its warranty ends"
        )
