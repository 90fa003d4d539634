"""What a gauge shows at which resistance of its sender, typed as a table or as a known pair."""

import csv
import re
from itertools import pairwise
from math import isfinite
from typing import Final

from needlewright.amounts import grouped
from needlewright.errors import SumError, UnitError
from needlewright.plans.decimal_comma import pointed
from needlewright.signals.line_table import LineTable

SPACED: Final = re.compile(r"\s*\S*[^\s,]\s+[^\s,]\S*\s*")
"""Two words with spaces between them, and no comma that parts them."""
LEAST_ROWS: Final = 2
MOST_ROWS: Final = 24
MOST_OHM: Final = 1e6
FIVE_POINTS: Final = (0.0, 25.0, 50.0, 75.0, 100.0)
"""Of full, %: where a fuel gauge is checked."""


def read_pairs(
    text: str, what: str, heads: tuple[str, str], least_rows: int = LEAST_ROWS
) -> tuple[tuple[float, float], ...]:
    """Read a table of two columns of numbers.

    Parameters
    ----------
    text
        A row each, parted by a semicolon, a tab, spaces or a comma; numbers have a decimal point
        or, where no comma parts them, a decimal comma. A first row of words is passed over.
    what
        Name of the table for sentences.
    heads
        What the two columns are.
    least_rows
        That it must have.

    Returns
    -------
    tuple of (float, float)
        As they stand.

    Raises
    ------
    SumError
        If a row is none of two numbers, or there are too few or too many.
    """
    part = _part(next((line for line in reversed(text.splitlines()) if line.strip()), ""))
    found: list[tuple[float, float]] = []
    for number, line in enumerate(text.splitlines(), 1):
        cells = _cells(line, part)
        if part != ",":
            cells = [_pointed(f"{what}, row {number}", cell) for cell in cells]
        if not any(cells) or (not found and len(cells) == 2 and not any(map(_number, cells))):
            if any(map(_is_number, cells)):
                raise SumError(_row_words(what, number, heads, line))
            continue
        values = [_number(cell) for cell in cells]
        if len(values) != 2 or values[0] is None or values[1] is None:
            raise SumError(_row_words(what, number, heads, line))
        found.append((values[0], values[1]))
    if not least_rows <= len(found) <= MOST_ROWS:
        raise SumError(
            f"{what}: expected {least_rows} to {MOST_ROWS} rows such as "
            f"{heads[0]},{heads[1]}, found {len(found)}"
        )
    return tuple(found)


def _part(row: str) -> str:
    """What parts the columns of a row; empty: spaces. A comma does only where nothing else can."""
    for part in (";", "\t"):
        if part in row:
            return part
    return "" if SPACED.fullmatch(row) else ","


def _cells(line: str, part: str) -> list[str]:
    if not part:
        return line.split()
    return [cell.strip() for cell in next(csv.reader([line], delimiter=part), [])]


def _pointed(where: str, cell: str) -> str:
    try:
        return pointed(cell)
    except UnitError as error:
        raise SumError(f"{where}: {error}") from error


def gauge_of(points: tuple[tuple[float, float], ...]) -> LineTable:
    """A gauge whose needle moves in straight lines of the resistance between its points.

    Parameters
    ----------
    points
        What it shows, and the ohms at which it does.

    Returns
    -------
    LineTable
        Values rising.

    Raises
    ------
    SumError
        If what is shown does not rise, or the resistances do not rise or fall all the way.
    """
    shown = [value for value, _ in points]
    ohms = [ohm for _, ohm in points]
    for before, after in pairwise(shown):
        if after <= before:
            raise SumError(
                f"Gauge points: {after:g} comes after {before:g}; put what the gauge shows in "
                "rising order, each once"
            )
    if any(not 0 <= ohm <= MOST_OHM for ohm in ohms):
        raise SumError(f"Gauge points: a resistance is out of 0 to {grouped(MOST_OHM)} ohm")
    steps = [after - before for before, after in pairwise(ohms)]
    if not (all(step > 0 for step in steps) or all(step < 0 for step in steps)):
        raise SumError(
            "Gauge points: the resistance must rise all the way or fall all the way; found "
            f"{', '.join(f'{ohm:g}' for ohm in ohms)} ohm"
        )
    return LineTable(tuple(shown), tuple(ohms))


def _row_words(what: str, number: int, heads: tuple[str, str], line: str) -> str:
    decimal = "; part them by a semicolon where they have decimal commas"
    return (
        f"{what}, row {number}: expected two numbers, {heads[0]} and {heads[1]}, found "
        f"'{line.strip()[:40]}'{decimal if line.count(',') > 1 else ''}"
    )


def _number(cell: str) -> float | None:
    try:
        value = float(cell.replace("\u2212", "-"))
    except ValueError:
        return None
    return value if isfinite(value) else None


def _is_number(cell: str) -> bool:
    return _number(cell) is not None
