"""Numbers as people read them: rounded to their uncertainty, with the unit as a dial prints it."""

from math import floor, isfinite, log10

from needlewright.units import unit_for_people


def decimals_for(expanded: float) -> int:
    """Decimals that show an expanded uncertainty: two figures where it begins with 1, else one.

    Parameters
    ----------
    expanded
        Above zero.

    Returns
    -------
    int
        Zero or more.

    Notes
    -----
    **Source** JCGM 100:2008, 7.2.6: at most two significant digits.
    """
    first_place = floor(log10(expanded))
    leading = expanded / 10**first_place
    if leading >= 9.5:  # rounds to the next power of ten
        first_place, leading = first_place + 1, 1.0
    return max(0, (1 if leading < 1.95 else 0) - first_place)


def with_expanded(value: float, expanded: float | None, symbol: str) -> str:
    """A value with its expanded uncertainty: `82.4 ± 0.6 km/h`.

    Parameters
    ----------
    value
        In the unit `symbol`.
    expanded
        Expanded uncertainty in the same unit; None or zero writes the value alone.
    symbol
        A unit of the closed set.

    Returns
    -------
    str
        Rounded to the uncertainty, or to four significant digits without one.
    """
    unit = unit_for_people(symbol)
    if not expanded or not isfinite(expanded):
        return f"{value:.4g} {unit}"
    places = decimals_for(expanded)
    return f"{round(value, places) + 0.0:.{places}f} ± {expanded:.{places}f} {unit}"
