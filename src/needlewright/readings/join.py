"""A run out of commands and readings: what was told and what was seen, row by row."""

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Final

from needlewright.errors import RunError, ScaleError
from needlewright.families.model import Dial, Family
from needlewright.readings.commands import Command, approach_remarks
from needlewright.readings.complete import complete_run
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.runs import Run, RunRow

ANGLE_DECIMALS: Final = 4
VALUE_DECIMALS: Final = 6
"""Digits a run keeps: far below any uncertainty, and short enough for a table."""

HALF_TURN_WITHIN_DEG: Final = 30.0
"""A needle this near to half a turn from its command everywhere was put on the wrong way round."""


@dataclass(frozen=True, slots=True)
class JoinedRun:
    """A run, and what a technician should look at before trusting it."""

    run: Run
    remarks: tuple[str, ...]


def join_run(
    name: str,
    family: Family,
    commands: Sequence[Command],
    readings: Mapping[str, PhotoReadings],
    csv_folder: Path,
) -> JoinedRun:
    """Join commands with readings.

    Parameters
    ----------
    name
        Of the run.
    family
        The cluster design.
    commands
        In time order.
    readings
        By the photo's name in the commands.
    csv_folder
        Folder the run's file will lie in; photos are named by their path from it.

    Returns
    -------
    JoinedRun
        One row for each command, `on_stop` marked; a needle that was not read has neither angle
        nor value and carries the reason as a flag.

    Raises
    ------
    RunError
        If a photo or a dial of the commands was not read at all, or a unit does not fit.
    """
    rows = tuple(
        _row(name, command, _photo_of(command, readings), csv_folder) for command in commands
    )
    run = complete_run(Run(name, rows), family)
    remarks = [*approach_remarks(commands)]
    for dial in family.dials:
        remarks.extend(_half_turn_remarks(dial, run.of_dial(dial.id)))
    return JoinedRun(run, tuple(remarks))


def _photo_of(command: Command, readings: Mapping[str, PhotoReadings]) -> PhotoReadings:
    photo = readings.get(command.photo)
    if photo is None:
        raise RunError(f"photo '{command.photo}' is commanded and was not read; give it too")
    return photo


def _row(name: str, command: Command, photo: PhotoReadings, csv_folder: Path) -> RunRow:
    reading = next((r for r in photo.readings if r.dial == command.dial), None)
    flags: tuple[str, ...] = (_as_flag(photo.reason or "not read"),)
    angle_deg = u_angle_deg = shown = u_shown = None
    if photo.found and reading is not None:
        flags = _flags(reading)
        if reading.status == "read":
            angle_deg = _rounded(reading.angle_deg, ANGLE_DECIMALS)
            u_angle_deg = _rounded(reading.u_angle_deg, VALUE_DECIMALS)
            shown = _rounded(reading.value, VALUE_DECIMALS)
            u_shown = _rounded(reading.u_value, VALUE_DECIMALS)
    return RunRow(
        run=name,
        dial=command.dial,
        unit=command.unit,
        approach=command.approach,
        commanded=command.commanded,
        temperature_c=command.temperature_c,
        angle_deg=angle_deg,
        u_angle_deg=u_angle_deg,
        indicated=shown,
        u_indicated=u_shown,
        flags=flags,
        photo=_path_from(csv_folder, photo.photo),
        step=command.step,
        u_commanded=command.u_commanded,
        key_cycle=command.key_cycle,
        supply_v=command.supply_v,
        time=command.time,
    )


def _flags(reading: Reading) -> tuple[str, ...]:
    if reading.status == "read":
        return reading.flags
    return tuple(dict.fromkeys((_as_flag(reading.reason or "not read"), *reading.flags)))


def _as_flag(reason: str) -> str:
    return "_".join("".join(c if c.isalnum() else " " for c in reason.lower()).split())


def _rounded(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(float(value), decimals)


def _path_from(folder: Path, photo: str) -> str:
    try:
        return Path(os.path.relpath(Path(photo).resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive has no path from here
        return Path(photo).resolve().as_posix()


def _half_turn_remarks(dial: Dial, rows: Sequence[RunRow]) -> list[str]:
    off_deg = []
    for row in rows:
        if row.angle_deg is None or row.commanded is None:
            continue
        try:
            off_deg.append((row.angle_deg - dial.programme_angle_deg(row.commanded)) % 360.0)
        except ScaleError:
            continue
    if len(off_deg) < 2 or max(abs(off - 180.0) for off in off_deg) > HALF_TURN_WITHIN_DEG:
        return []
    return [
        f"dial '{dial.id}': the needle stands about {median(off_deg):.0f} degrees from every "
        "command; look whether it was pressed on half a turn off"
    ]
