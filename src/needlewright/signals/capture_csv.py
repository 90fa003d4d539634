"""Logic captures as tables: a column of times, and a column of 0 and 1 for each channel."""

import csv
import re
from collections.abc import Iterator
from math import isfinite
from pathlib import Path
from typing import Final

from needlewright.errors import SignalError
from needlewright.signals.capture_vcd import read_vcd
from needlewright.signals.captures import Change, Trace, pick_channel, trace_of

UNIT: Final = re.compile(r"(?:^|[\s_\[(])(s|ms|us|µs|ns)[\])]?$", re.IGNORECASE)
SECONDS: Final = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "ns": 1e-9}
LEVELS: Final = {"0": False, "1": True, "": None, "x": None, "z": None}


def read_capture(path: Path, channel: str | None = None) -> Trace:
    """Read one line of a logic capture, by the file's ending.

    Parameters
    ----------
    path
        A `.vcd` or `.csv` file.
    channel
        The line's name; None: the only one.

    Returns
    -------
    Trace
        Times in seconds.

    Raises
    ------
    SignalError
        If the file is of another kind, damaged, or has no such channel.
    """
    match path.suffix.lower():
        case ".vcd":
            return read_vcd(path, channel)
        case ".csv":
            return read_csv(path, channel)
    raise SignalError(f"{path}: expected a logic capture that ends in .vcd or .csv")


def read_csv(path: Path, channel: str | None = None) -> Trace:
    """Read one line of a table.

    Parameters
    ----------
    path
        First row: the columns' names. One begins with "time" and may end in its unit: `time_us`,
        `Time [s]`; without a unit it is in seconds.
    channel
        Name of the column; None: the only other one.

    Returns
    -------
    Trace
        Times in seconds; an empty cell, x and z are unknown levels.

    Raises
    ------
    SignalError
        If a row cannot be understood.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            first = file.readline()
            file.seek(0)
            rows = csv.reader(file, delimiter=";" if first.count(";") > first.count(",") else ",")
            return _read(str(path), rows, channel)
    except (UnicodeDecodeError, csv.Error) as error:
        raise SignalError(f"{path}: is no table of text: {error}") from error
    except OSError as error:
        raise SignalError(f"{path}: cannot be opened: {error.strerror or error}") from error


def _read(file: str, rows: Iterator[list[str]], channel: str | None) -> Trace:
    heads = [head.strip() for head in next(rows, [])]
    times = [i for i, head in enumerate(heads) if head.lower().startswith("time")]
    if len(times) != 1:
        raise SignalError(
            f"{file}: expected one column whose name begins with time, found {len(times)} among: "
            f"{', '.join(heads) or 'nothing'}"
        )
    time = times[0]
    picked = pick_channel(file, [h for i, h in enumerate(heads) if i != time], channel)
    column = next(i for i, head in enumerate(heads) if head == picked and i != time)
    unit = UNIT.search(heads[time])
    tick_s = SECONDS[unit[1].lower()] if unit else 1.0
    changes: list[Change] = []
    for number, row in enumerate(rows, 2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(heads):
            raise SignalError(
                f"{file}, row {number}: expected {len(heads)} cells, found {len(row)}"
            )
        change = Change(_time(file, number, row[time]) * tick_s, _level(file, number, row[column]))
        if changes and change.time_s < changes[-1].time_s:
            raise SignalError(f"{file}, row {number}: time runs back to {row[time].strip()}")
        changes.append(change)
    end_s = changes[-1].time_s if changes else 0.0
    return trace_of(picked, changes, end_s, file=file)


def _time(file: str, number: int, cell: str) -> float:
    try:
        value = float(cell)
    except ValueError as error:
        raise SignalError(f"{file}, row {number}: '{cell}' is no time") from error
    if not isfinite(value):
        raise SignalError(f"{file}, row {number}: '{cell}' is no time")
    return value


def _level(file: str, number: int, cell: str) -> bool | None:
    word = cell.strip().lower().removesuffix(".0")
    if word not in LEVELS:
        raise SignalError(f"{file}, row {number}: expected a level 0 or 1, found '{cell}'")
    return LEVELS[word]
