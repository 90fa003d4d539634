"""A run as CSV: what the bench writes, what a technician without a camera types."""

import csv
import io
import math
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final, cast

from needlewright.errors import RunError, UnitError
from needlewright.readings.runs import Approach, Run, RunRow
from needlewright.readings.typed_table import TypedRow, read_typed_table
from needlewright.units import unit as known_unit

RUN_COLUMNS: Final = (
    "run",
    "dial",
    "commanded",
    "unit",
    "approach",
    "temperature_c",
    "angle_deg",
    "u_angle_deg",
    "indicated",
    "u_indicated",
    "flags",
    "photo",
)
"""Columns every run file is written with."""

OPTIONAL_COLUMNS: Final = ("step", "u_commanded", "key_cycle", "supply_v", "time")
"""Columns that are written where any row knows them."""

NUMERIC_COLUMNS: Final = (
    "commanded",
    "temperature_c",
    "angle_deg",
    "u_angle_deg",
    "indicated",
    "u_indicated",
    "step",
    "u_commanded",
    "key_cycle",
    "supply_v",
)

APPROACHES: Final = ("up", "down", "rest")
ABSOLUTE_ZERO_C: Final = -273.15
_FLAG: Final = re.compile(r"[a-z0-9][a-z0-9_.-]*")


def read_run(path: Path, name: str | None = None) -> Run:
    """Read the one run of a file.

    Parameters
    ----------
    path
        A run CSV, written or typed.
    name
        Which run to take where a file holds several.

    Returns
    -------
    Run
        Its rows in file order; what is not known is None.

    Raises
    ------
    RunError
        If the file cannot be used, holds several runs and none is named, or not the named one.
    """
    runs = read_runs(path)
    names = ", ".join(f"'{run.name}'" for run in runs)
    if name is not None:
        chosen = [run for run in runs if run.name == name]
        if not chosen:
            raise RunError(f"{path}: holds no run '{name}'; it holds {names}")
        return chosen[0]
    if len(runs) > 1:
        raise RunError(f"{path}: holds {len(runs)} runs, {names}; name the one that is meant")
    return runs[0]


def read_runs(path: Path) -> tuple[Run, ...]:
    """Read every run of a file.

    Parameters
    ----------
    path
        A run CSV. Rows without a run's name belong to the run named as the file.

    Returns
    -------
    tuple of Run
        In the order their first rows stand.

    Raises
    ------
    RunError
        One sentence with file, line, column, value and expectation.
    """
    typed = read_typed_table(
        path,
        columns=(*RUN_COLUMNS, *OPTIONAL_COLUMNS),
        numeric=NUMERIC_COLUMNS,
        required=("dial", "commanded", "unit", "approach"),
    )
    if not any({"angle_deg", "indicated"} & line.cells.keys() for line in typed):
        raise RunError(
            f"{path}: has neither a column 'indicated' nor 'angle_deg'; type what each needle "
            "showed under 'indicated'"
        )
    rows = [_row(line, path.stem) for line in typed]
    _refuse_repeated_photos(typed, rows)
    by_name: dict[str, list[RunRow]] = {}
    for row in rows:
        by_name.setdefault(row.run, []).append(row)
    return tuple(Run(name, tuple(of_name)) for name, of_name in by_name.items())


def commanded_cells(line: TypedRow) -> tuple[Approach, float | None, str]:
    """Approach, commanded value and unit of a typed line, checked against each other.

    Parameters
    ----------
    line
        A line of a run or of a table of commands.

    Returns
    -------
    tuple
        `up`, `down` or `rest`; the value, None at rest; its unit.

    Raises
    ------
    RunError
        If one of them is missing or unknown, or the approach does not fit the value.
    """
    approach = line.required("approach", "type up, down or rest (key off)").lower()
    if approach not in APPROACHES:
        raise line.error("approach", "up, down or rest (key off) is expected")
    commanded = line.number("commanded")
    if approach == "rest" and commanded is not None:
        raise line.error("commanded", "at rest the key is off: leave it empty, or type up or down")
    if approach != "rest" and commanded is None:
        raise line.error(
            "commanded", "type the value the dial was told, or approach rest (key off)"
        )
    symbol = line.required("unit", "type the unit of commanded and indicated")
    try:
        known_unit(symbol)
    except UnitError as error:
        raise line.error("unit", str(error)) from error
    return cast(Approach, approach), commanded, symbol


def _row(line: TypedRow, run_name: str) -> RunRow:
    approach, commanded, symbol = commanded_cells(line)
    return RunRow(
        run=line.text("run") or run_name,
        dial=line.required("dial", "type the dial's id as the family names it"),
        unit=symbol,
        approach=approach,
        commanded=commanded,
        temperature_c=line.number("temperature_c", at_least=ABSOLUTE_ZERO_C),
        angle_deg=line.number("angle_deg"),
        u_angle_deg=_uncertainty(line, "u_angle_deg", "angle_deg"),
        indicated=line.number("indicated"),
        u_indicated=_uncertainty(line, "u_indicated", "indicated"),
        flags=_flags(line),
        photo=line.text("photo"),
        step=line.whole("step"),
        u_commanded=_uncertainty(line, "u_commanded", "commanded"),
        key_cycle=line.whole("key_cycle"),
        supply_v=line.number("supply_v"),
        time=line.text("time"),
    )


def _uncertainty(line: TypedRow, column: str, of: str) -> float | None:
    u = line.number(column, at_least=0)
    if u is not None and line.text(of) is None:
        raise line.error(column, f"an uncertainty belongs to a value, and '{of}' is empty")
    return u


def _flags(line: TypedRow) -> tuple[str, ...]:
    flags = tuple(flag.strip() for flag in (line.text("flags") or "").split(";") if flag.strip())
    if not all(_FLAG.fullmatch(flag) for flag in flags):
        raise line.error("flags", "flags in small letters, joined by ';', are expected")
    return flags


def _refuse_repeated_photos(lines: Sequence[TypedRow], rows: Sequence[RunRow]) -> None:
    seen: dict[tuple[str, str, str], int] = {}
    for line, row in zip(lines, rows, strict=True):
        if row.photo is None:
            continue
        first = seen.setdefault((row.run, row.photo, row.dial), line.line)
        if first != line.line:
            raise line.error(
                "photo", f"dial '{row.dial}' of this photo stands in line {first} too; keep one"
            )


def write_run(path: Path, run: Run) -> None:
    """Write a run; the file appears whole or not at all.

    Parameters
    ----------
    path
        Where to; an older file of that name is replaced.
    run
        The run.

    Raises
    ------
    RunError
        If a number of it is not finite, or the file cannot be written.
    """
    text = run_as_csv(run)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(part, path)
        flush_folder(path.parent)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise RunError(
            f"{path}: cannot be written ({reason}); check the folder and its rights"
        ) from error
    finally:
        part.unlink(missing_ok=True)


def flush_folder(folder: Path) -> None:
    """Make a file's name survive a loss of power, where the system can.

    Parameters
    ----------
    folder
        In which the file was given its name.

    Raises
    ------
    OSError
        If the system refuses.
    """
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def run_as_csv(run: Run) -> str:
    """The text of a run's file.

    Parameters
    ----------
    run
        The run.

    Returns
    -------
    str
        A header and one line for each row; numbers in the fewest digits that read back the same.

    Raises
    ------
    RunError
        If a number is not finite.
    """
    known = [
        name for name in OPTIONAL_COLUMNS if any(getattr(r, name) is not None for r in run.rows)
    ]
    columns = (*RUN_COLUMNS, *known)
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    for place, row in enumerate(run.rows, start=1):
        writer.writerow([_cell(run.name, place, row, column) for column in columns])
    return stream.getvalue()


def _cell(run_name: str, place: int, row: RunRow, column: str) -> str:
    value = ";".join(row.flags) if column == "flags" else getattr(row, column)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise RunError(
                f"run '{run_name}': row {place}, dial '{row.dial}', column '{column}': the number "
                f"{value} cannot be written; what is not known is left empty"
            )
        return repr(float(value))
    return "" if value is None else str(value)
