"""A thermistor's equation from its table, how well it meets the table, and its substitute."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from needlewright.errors import SignalError, SumError
from needlewright.signals.preferred import Series, Substitute, best_substitute
from needlewright.signals.thermistor import KELVIN, SteinhartHart

GOOD_FIT_K: Final = 0.1
"""A table of one thermistor is met within it. **Source**: a trade journal's article on linearizing
thermistors (seen) has 0.02 K for spans up to 100 K, and a manual's table 0.01 K (seen); five times
as much is allowed here, because tables are rounded."""
Pairs = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class ThermistorFit:
    """A table met by an equation."""

    table: Pairs
    """degC, ohm; rising in temperature."""
    fitted: Pairs
    """The three it goes through."""
    equation: SteinhartHart
    misses: tuple[float, ...]
    """Of each row: by the equation minus the table's, K."""
    at_c: float
    at_ohm: float
    """What the equation has there."""
    substitute: Substitute
    substitute_c: float
    """What a gauge takes the substitute for."""
    within_k: float
    """U (k = 2) of that, by the resistors' tolerance."""

    @property
    def worst_k(self) -> float:
        """The furthest a row is missed."""
        return max(map(abs, self.misses))

    @property
    def extrapolated(self) -> bool:
        """Whether the temperature lies outside the table."""
        return not self.table[0][0] <= self.at_c <= self.table[-1][0]


def fit_thermistor(table: Pairs, at_c: float, series: Series) -> ThermistorFit:
    """Fit Steinhart and Hart's equation through a thermistor's table.

    Parameters
    ----------
    table
        degC and ohm, three rows or more.
    at_c
        A temperature to stand in for, degC.
    series
        Of the resistors.

    Returns
    -------
    ThermistorFit
        Through the first and the last row and the one nearest the middle of their temperatures.

    Raises
    ------
    SumError
        If the table is none of a thermistor, or the resistance cannot be made.

    Notes
    -----
    **Source**: Steinhart and Hart, Deep-Sea Research 15 (1968) 497: 1/T = A + B ln R + C (ln R)^3;
    preferred values IEC 60063.
    """
    rows = tuple(sorted(table))
    _require_thermistor(rows)
    middle = (rows[0][0] + rows[-1][0]) / 2
    between = min(rows[1:-1], key=lambda row: abs(row[0] - middle))
    fitted = (rows[0], between, rows[-1])
    try:
        equation = SteinhartHart.through(fitted)
        ohm = equation.ohm_at(at_c)
        substitute = best_substitute(ohm, series)
        made_c = equation.celsius_at(substitute.ohm)
        within = 2 * substitute.u_ohm * equation.kelvin_an_ohm(substitute.ohm)
        misses = tuple(equation.celsius_at(r) - t for t, r in rows)
    except (SignalError, ArithmeticError, TypeError, ValueError) as error:
        raise SumError(
            f"Table: no thermistor's equation reaches {at_c:g} °C through it ({error}); check the "
            "rows, or ask for a temperature nearer to them"
        ) from None
    return ThermistorFit(rows, fitted, equation, misses, at_c, ohm, substitute, made_c, within)


def _require_thermistor(rows: Pairs) -> None:
    for (t0, r0), (t1, r1) in pairwise(rows):
        if t0 == t1:
            raise SumError(f"Table: {t0:g} °C stands in it twice; leave one row of them")
        if t0 <= -KELVIN or min(r0, r1) <= 0:
            raise SumError(
                f"Table: {t0:g} °C, {r0:g} ohm cannot be; temperatures are in °C and resistances "
                "above 0"
            )
        if r1 >= r0:
            raise SumError(
                f"Table: from {t0:g} to {t1:g} °C the resistance does not fall ({r0:g} to {r1:g} "
                "ohm); this sum is for thermistors that fall as they warm"
            )
