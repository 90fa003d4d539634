"""The port's answers as a table: `time,pid,value,unit`, or `time,answer` with `41 0C 0B 30`."""

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Final

from needlewright.errors import SignalError, UnitError
from needlewright.signals.obd import ANSWER, PIDS, REFUSED
from needlewright.signals.port_log.answers import (
    EPOCH_FROM_S,
    Clock,
    PortAnswer,
    PortLog,
    log_of,
    values_in,
)
from needlewright.units import convert

VALUES: Final = ("time", "pid", "value", "unit")
ANSWERS: Final = ("time", "answer")
FLAGS: Final = "flags"
"""A column that may be there; a line with the word `rehearsed` marks the whole log."""
REHEARSED: Final = "rehearsed"
PORT: Final = "port"
"""Who answered, where a table does not say."""
_PID: Final = re.compile(r"(?:0[xX])?([0-9A-Fa-f]{1,2})")


def is_table(path: Path) -> bool:
    """Whether a file begins with the heading of one of our two tables.

    Parameters
    ----------
    path
        Of any kind.

    Returns
    -------
    bool
        False too where the file cannot be read; whoever reads it says why.
    """
    try:
        with path.open("rb") as file:
            first = file.readline(1000).decode("utf-8-sig", errors="replace")
    except OSError:
        return False
    heads = set(_cells(first))
    return heads >= set(VALUES[:3]) or heads >= set(ANSWERS)


def read_table(path: Path) -> PortLog:
    """Read a table of the port's answers.

    Parameters
    ----------
    path
        CSV with a heading. `time` is in seconds, or a day with its time (`2026-03-02T10:15:00`,
        with `+01:00` or `Z` where the zone is known); `pid` hexadecimal; `unit` any of the
        quantity, the same on every line of a number; `answer` hexadecimal. Decimal commas where
        semicolons separate cells.

    Returns
    -------
    PortLog
        Times as they are written.

    Raises
    ------
    SignalError
        If a line cannot be understood, times run back or are of two kinds, or units are mixed.
    """
    answers: list[PortAnswer] = []
    rehearsed = False
    others: set[int] = set()
    units: dict[int, tuple[str, int]] = {}
    steps: dict[int, float] = {}
    times: list[float] = []
    clock: Clock | None = None
    for line, cells in _rows(path):
        where = f"{path}: line {line}"
        time_s, counts = _time(where, cells["time"])
        if clock not in (None, counts):
            raise SignalError(
                f"{where}: time '{cells['time']}' is written in another way than on the lines "
                "before (seconds, or a day with or without its zone); write all of them alike"
            )
        clock = counts
        if times and time_s < times[-1]:
            raise SignalError(f"{where}: time runs back to {cells['time']}; put the lines in order")
        times.append(time_s)
        rehearsed |= REHEARSED in cells.get("flags", "").split()
        if "answer" in cells:
            found = _of_answer(where, cells["answer"], others)
        else:
            found = _of_value(where, cells, units, others, line)
            for number, _ in found:
                step = _step(cells["value"], cells["unit"], PIDS[number].unit)
                steps[number] = min(step, steps.get(number, step))
        answers.extend(PortAnswer(time_s, pid, value, PORT) for pid, value in found)
    if clock is None:
        raise SignalError(f"{path}: has no line of data; log the port while a tester asks it")
    log = log_of(path, clock, (times[0], times[-1]), answers, others)
    return replace(log, rehearsed=rehearsed, steps=steps)


def _cells(line: str) -> list[str]:
    delimiter = ";" if line.count(";") > line.count(",") else ","
    return [cell.strip().lower() for cell in line.strip().split(delimiter)]


def _rows(path: Path) -> Iterator[tuple[int, Mapping[str, str]]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            heading = file.readline()
            heads = _cells(heading)
            wanted = ANSWERS if "answer" in heads else VALUES
            missing = [name for name in wanted if name not in heads]
            if missing:
                raise SignalError(
                    f"{path}: column '{missing[0]}' is missing; expected {','.join(VALUES)} or "
                    f"{','.join(ANSWERS)}"
                )
            delimiter = ";" if heading.count(";") > heading.count(",") else ","
            for line, row in enumerate(csv.reader(file, delimiter=delimiter), 2):
                cells = [cell.strip() for cell in row]
                if not any(cells):
                    continue
                if len(cells) != len(heads):
                    raise SignalError(
                        f"{path}: line {line}: expected {len(heads)} cells, found {len(cells)}"
                    )
                if delimiter == ";":  # where commas separate nothing they are decimal commas
                    cells = [re.sub(r"(?<=\d),(?=\d)", ".", cell) for cell in cells]
                named = dict(zip(heads, cells, strict=True))
                yield line, {name: named[name] for name in (*wanted, FLAGS) if name in named}
    except (UnicodeDecodeError, csv.Error) as error:
        raise SignalError(f"{path}: is no table of text: {error}") from error
    except OSError as error:
        raise SignalError(f"{path}: cannot be read: {error.strerror or error}") from error


def _time(where: str, cell: str) -> tuple[float, Clock]:
    """Seconds, and what they count."""
    try:
        seconds = float(cell)
    except ValueError:
        pass
    else:
        if isfinite(seconds):
            return seconds, "utc" if seconds >= EPOCH_FROM_S else "relative"
    try:
        at = datetime.fromisoformat(cell)
    except ValueError as error:
        raise SignalError(
            f"{where}: '{cell}' is no time; write seconds, or a day and time such as "
            "2026-03-02T10:15:00.5+01:00"
        ) from error
    if at.tzinfo is None:
        return at.replace(tzinfo=UTC).timestamp(), "wall"
    return at.timestamp(), "utc"


def _of_answer(where: str, cell: str, others: set[int]) -> list[tuple[int, float]]:
    try:
        payload = bytes.fromhex(cell)
    except ValueError as error:
        raise SignalError(
            f"{where}: answer '{cell}' is not hexadecimal; expected bytes such as 41 0C 0B 30"
        ) from error
    if payload[:1] == bytes((REFUSED,)):  # asked for something the control unit does not measure
        return []
    if len(payload) > 1 and payload[0] == ANSWER and payload[1] not in PIDS:
        others.add(payload[1])
        return []
    try:
        return list(values_in(payload))
    except SignalError as error:
        raise SignalError(f"{where}: {error}") from error


def _of_value(
    where: str,
    cells: Mapping[str, str],
    units: dict[int, tuple[str, int]],
    others: set[int],
    line: int,
) -> list[tuple[int, float]]:
    written = _PID.fullmatch(cells["pid"])
    if written is None:
        raise SignalError(
            f"{where}: pid '{cells['pid']}' is no number of OBD-II mode 01; expected two "
            "hexadecimal digits such as 0C"
        )
    number = int(written[1], 16)
    pid = PIDS.get(number)
    if pid is None:
        others.add(number)
        return []
    unit, first = units.setdefault(number, (cells["unit"], line))
    if unit != cells["unit"]:
        raise SignalError(
            f"{where}: {pid.name} is in '{cells['unit']}' here and in '{unit}' on line {first}; "
            "write every line of a number in one unit"
        )
    try:
        value = float(cells["value"])
        there = convert(value, unit, pid.unit)
    except ValueError as error:
        raise SignalError(f"{where}: value '{cells['value']}' is no number") from error
    except UnitError as error:
        raise SignalError(f"{where}: {pid.name}: {error}") from error
    if not isfinite(value):
        raise SignalError(f"{where}: value '{cells['value']}' is no number")
    _refuse_impossible(where, number, there, f"{cells['value']} {unit}")
    return [(number, there)]


def _step(cell: str, unit: str, there: str) -> float:
    """What the last digit that is written counts, in another unit of the quantity."""
    _, _, decimals = cell.lower().partition("e")[0].partition(".")
    return abs(convert(10.0 ** -len(decimals), unit, there) - convert(0.0, unit, there))


def _refuse_impossible(where: str, number: int, value: float, given: str) -> None:
    """A value the number cannot carry was written in another unit, or is of another number."""
    pid = PIDS[number]
    low, high = pid.offset, pid.highest_raw * pid.factor + pid.offset
    if not low - pid.factor <= value <= high + pid.factor:
        raise SignalError(
            f"{where}: {pid.name} of {given} cannot be stated by number {number:02X}, which "
            f"reaches from {low:g} to {high:g} {pid.unit}; check value and unit"
        )
