"""A table of thermocouples, as loggers write it: a column of times, one or more of temperatures."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from needlewright.errors import SumError
from needlewright.plans.sums.clock_times import ClockDays, clock_s, plain_number

TIMES: Final = ("time", "zeit")
"""How the name of the column of times begins."""
TIME_UNIT: Final = re.compile(
    r"(?:^|[\s_\[(])(ms|s|sec|seconds?|min|minutes?|h|hours?)[\])]?$", re.I
)
SECONDS: Final = {"ms": 1e-3, "s": 1.0, "m": 60.0, "h": 3600.0}
"""By a unit, or its first letter."""
WARMTH_UNIT: Final = re.compile(
    r"(?:^|[\s_\[(°])(?:deg)?[ _]?(c|f|celsius|fahrenheit)[\])]?$", re.I
)
MISSING: Final = frozenset(
    {"", "nan", "na", "n/a", "-", "--", "---", "open", "ol", "null", "none", "err", "error"}
)
LEAST_C: Final = -60.0
MOST_C: Final = 400.0
"""Outside these a value is no soldering's, and its unit is in doubt."""
MOST_TRACKS: Final = 12
LEAST_POINTS: Final = 5
CELL: Final = 40
"""Characters of a cell that are shown again."""
MOST_BEFORE: Final = 50
"""Lines about the logger that may stand before the names."""
PARTS: Final = (",", ";", "\t")


@dataclass(frozen=True, slots=True)
class Track:
    """What one thermocouple read."""

    name: str
    t_s: tuple[float, ...]
    """Rising; times without a value are left out."""
    c: tuple[float, ...]
    """degC, as many."""
    missing: int
    """Values that were missing, and are bridged by a straight line."""


def read_tracks(text: str, longest_gap_s: float) -> tuple[Track, ...]:
    """Read a table of thermocouples.

    Parameters
    ----------
    text
        First row: names, before which lines about the logger are passed over. One column's begins
        with `time` or `zeit` and ends in its unit (`time_s`, `Time [min]`), or has clock times
        (`12:34:56`), which may pass midnight; every other is a thermocouple's and ends in its own
        (`board_c`, `temperature_f`). Parted by commas, by tabs, or by semicolons, with a decimal
        comma where commas do not part.
    longest_gap_s
        Over which a straight line is believed, s.

    Returns
    -------
    tuple of Track
        In the order of the columns; degrees Fahrenheit are turned into Celsius.

    Raises
    ------
    SumError
        If the table is none of this kind, its times do not rise, or a value is missing for longer.
    """
    rows = _rows(text)
    time, warmths = _columns(*rows[0], rows[1][1] if len(rows) > 1 else [])
    times: list[float] = []
    days = ClockDays(longest_gap_s)
    columns: list[list[float | None]] = [[] for _ in warmths]
    for number, row in rows[1:]:
        if len(row) != len(rows[0][1]):
            raise SumError(_cells_words(number, len(rows[0][1]), len(row)))
        cell = row[time.place]
        times.append(days.risen(cell, _time(number, cell) * time.factor))
        if len(times) > 1 and times[-1] <= times[-2]:
            if _all_fall(rows[1:], time):
                raise SumError(
                    f"CSV, row {number}: the times fall from row to row, so the newest stands "
                    "first; turn the rows round, the oldest first, and give it again"
                )
            raise SumError(
                f"CSV, row {number}: the time {row[time.place].strip()} is not after that of the "
                "row before; times must rise, so give one recording only, in its order"
            )
        for column, values in zip(warmths, columns, strict=True):
            values.append(_warmth(number, row[column.place], column))
    return tuple(
        _track(column.name, times, values, longest_gap_s)
        for column, values in zip(warmths, columns, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Column:
    place: int
    name: str
    factor: float = 1.0
    """Of a time."""
    fahrenheit: bool = False


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Rows that are not empty, from the names on, with their numbers."""
    lines = text.removeprefix("\ufeff").splitlines()
    begins = _names_at(lines)
    first = next((line for line in lines[begins:] if line.strip()), "")
    part = max(PARTS, key=first.count)
    try:
        read = list(csv.reader(lines[begins:], delimiter=part))
    except csv.Error as error:
        raise SumError(f"CSV: is no table of text ({error}); save it as CSV again") from None
    rows = [(n, row) for n, row in enumerate(read, begins + 1) if any(cell.strip() for cell in row)]
    if part != ",":
        rows = rows[:1] + [(n, [cell.replace(",", ".") for cell in row]) for n, row in rows[1:]]
    while rows and all(len(row) > 1 and not row[-1].strip() for _, row in rows):
        rows = [(n, row[:-1]) for n, row in rows]  # every line ends in a comma
    if not rows or "\ufffd" in text or "\0" in text:
        raise SumError("CSV: is no table of text; save the recording as CSV, in UTF-8")
    return rows


def _names_at(lines: Sequence[str]) -> int:
    """Where the names stand: the first line with a column of times and one of temperatures."""
    for i, line in enumerate(lines[:MOST_BEFORE]):
        names = [cell.strip(' "') for cell in line.split(max(PARTS, key=line.count))]
        timed = [name.lower().startswith(TIMES) for name in names]
        if any(timed) and any(
            WARMTH_UNIT.search(name)
            for name, is_time in zip(names, timed, strict=True)
            if not is_time
        ):
            return i
    return 0


def _cells_words(number: int, expected: int, found: int) -> str:
    """A row with more or fewer cells; with about twice as many its commas are decimal ones."""
    mend = "correct the row, or take it out"
    if expected < found <= 2 * expected:
        mend += "; where numbers have decimal commas, part the columns by semicolons"
    return f"CSV, row {number}: expected {expected} cells, found {found}; {mend}"


def _all_fall(rows: Sequence[tuple[int, list[str]]], time: "_Column") -> bool:
    """Whether a recording stands with its newest row first."""
    times = [_time(n, row[time.place]) for n, row in rows if len(row) > time.place]
    falls = all(after < before for before, after in pairwise(times))
    return falls and len(times) >= LEAST_POINTS


def _columns(
    at: int, heads: Sequence[str], first_row: Sequence[str]
) -> tuple[_Column, list[_Column]]:
    names = [head.strip() for head in heads]
    times = [i for i, name in enumerate(names) if name.lower().startswith(TIMES)]
    if len(times) != 1:
        raise SumError(
            f"CSV, row {at}: expected the columns' names, one that begins with time such as "
            f"time_s,temperature_c; found {', '.join(names)[:CELL] or 'nothing'}"
        )
    unit = TIME_UNIT.search(names[times[0]])
    clock = len(first_row) > times[0] and ":" in first_row[times[0]]
    if unit is None and not clock:
        raise SumError(
            f"CSV, row {at}: '{names[times[0]][:CELL]}' has no unit of time; name it time_s or "
            "time_min"
        )
    warmths = [_warmth_column(at, i, name) for i, name in enumerate(names) if i != times[0]]
    if not warmths:
        raise SumError(
            f"CSV, row {at}: there is only a column of times; add one of temperatures, such as "
            "temperature_c"
        )
    if len(warmths) > MOST_TRACKS or len({one.name for one in warmths}) < len(warmths):
        raise SumError(
            f"CSV, row {at}: expected at most {MOST_TRACKS} thermocouples, each with a name of its "
            f"own; found {', '.join(one.name for one in warmths)[: 4 * CELL]}"
        )
    factor = 1.0
    if unit is not None and not clock:
        said = unit[1].lower()
        factor = SECONDS[said if said in SECONDS else said[0]]
    return _Column(times[0], "", factor), warmths


def _warmth_column(at: int, place: int, name: str) -> _Column:
    unit = WARMTH_UNIT.search(name)
    if unit is None:
        raise SumError(
            f"CSV, row {at}: column {place + 1}, '{name[:CELL]}', says no unit; end its name in _c "
            "or _f, or take the column out if it is no temperature"
        )
    bare = name[: unit.start()].strip(" _[(°") or name
    return _Column(place, bare[:CELL], fahrenheit=unit[1][0].lower() == "f")


def _time(number: int, cell: str) -> float:
    value = clock_s(cell) if ":" in cell else plain_number(cell)
    if value is None:
        raise SumError(
            f"CSV, row {number}: expected a time as a number, found '{cell.strip()[:CELL]}'"
        )
    return value


def _warmth(number: int, cell: str, column: _Column) -> float | None:
    if cell.strip().lower() in MISSING:
        return None
    value = plain_number(cell)
    if value is None:
        raise SumError(
            f"CSV, row {number}, '{column.name}': expected a temperature as a number, found "
            f"'{cell.strip()[:CELL]}'; leave the cell empty where there is none"
        )
    celsius = (value - 32.0) * 5.0 / 9.0 if column.fahrenheit else value
    if not LEAST_C <= celsius <= MOST_C:
        raise SumError(
            f"CSV, row {number}, '{column.name}': {value:g} °{'F' if column.fahrenheit else 'C'} "
            f"is out of {LEAST_C:g} to {MOST_C:g} °C; check the unit in the column's name, and "
            "leave the cell empty where the thermocouple was open"
        )
    return celsius


def _track(
    name: str, times: Sequence[float], values: Sequence[float | None], longest_gap_s: float
) -> Track:
    there = [(t, c) for t, c in zip(times, values, strict=True) if c is not None]
    if len(there) < LEAST_POINTS:
        raise SumError(
            f"CSV, '{name}': {len(there)} temperatures are too few to judge, expected at least "
            f"{LEAST_POINTS}; give the whole recording, or take the column out"
        )
    for (before, _), (after, _) in pairwise(there):
        if after - before > longest_gap_s * (1 + 1e-9):
            raise SumError(
                f"CSV, '{name}': there is no temperature between {before:g} and {after:g} s, "
                f"longer than the {longest_gap_s:g} s that a straight line may bridge; record "
                "again, take the column out, or cut the rows off where they do not matter"
            )
    first, last = there[0][0], there[-1][0]
    inside = sum(first <= t <= last for t in times)
    t_s, c = zip(*there, strict=True)
    return Track(name, t_s, c, inside - len(there))
