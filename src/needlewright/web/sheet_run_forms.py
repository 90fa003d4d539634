"""Steps of a run as they are typed on the page, and as tables of commands bring them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from needlewright.errors import NeedlewrightError, RunError, UnitError
from needlewright.families.model import Family
from needlewright.plans.decimal_comma import pointed
from needlewright.readings.commands import read_commands
from needlewright.readings.run_csv import read_run
from needlewright.readings.runs import Approach, Run, RunRow
from needlewright.records.told import Told, told_from
from needlewright.records.views import ToldView
from needlewright.web.posted import SentFile, SentForm

MOST_STEPS: Final = 60
"""A longer run comes with a table of commands."""
LARGEST_TABLE: Final = 5_000_000
APPROACHES: Final[tuple[Approach, ...]] = ("rest", "up", "down")
_BLANKS: Final = str.maketrans({" ": None, "\u00a0": None, "\u202f": None, "\u2212": "-"})


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step of the editable table."""

    number: int
    approach: Approach
    told: Mapping[str, str]
    """By dial, as typed; empty at rest or where the dial is told nothing."""


def plain(value: float | None) -> str:
    """A number as it is typed; empty where there is none."""
    if value is None:
        return ""
    return f"{value:.0f}" if value == int(value) else f"{value:.6f}".rstrip("0")


def approach_of(text: str) -> Approach:
    """An approach as the records write it."""
    return next(one for one in APPROACHES if one == text)


def step_rows(rows: Sequence[Told | ToldView]) -> tuple[StepRow, ...]:
    """Steps as the table shows them.

    Parameters
    ----------
    rows
        In time order.

    Returns
    -------
    tuple of StepRow
        One for each step.
    """
    steps: dict[int, StepRow] = {}
    for row in rows:
        told = "" if row.commanded is None else f"{row.commanded:g}"
        known = steps.get(row.step)
        before = {} if known is None else known.told
        steps[row.step] = StepRow(row.step, approach_of(row.approach), {**before, row.dial: told})
    return tuple(steps.values())


def typed_steps(sent: SentForm, family: Family) -> tuple[Told, ...]:
    """What was typed into the table of steps.

    Parameters
    ----------
    sent
        Fields `step-N-approach` and `step-N-told-DIAL`; lines without an approach are left out.
    family
        The cluster design.

    Returns
    -------
    tuple of Told
        In the order of the lines, numbered from the first line's own number on.

    Raises
    ------
    RunError
        If a number cannot be understood, or nothing is told at all.
    """
    temperature = _number(sent.text("temperature_c"), "temperature")
    u_told = {d.id: _number(sent.text(f"u-{d.id}"), f"uncertainty of {d.id}") for d in family.dials}
    rows: list[Told] = []
    for line in range(MOST_STEPS):
        approach = next((a for a in APPROACHES if a == sent.text(f"step-{line}-approach")), None)
        if approach is None:
            continue
        for dial in family.dials:
            where = f"step {line}, dial '{dial.id}'"
            value = _number(sent.text(f"step-{line}-told-{dial.id}"), where)
            if approach == "rest":
                rows.append(Told(line, dial.id, dial.unit, "rest", None, temperature))
            elif value is not None:
                u = u_told[dial.id]
                rows.append(Told(line, dial.id, dial.unit, approach, value, temperature, u))
    if not rows:
        raise RunError("the table of steps is empty; choose an approach for at least one step")
    return tuple(rows)


def typed_run(sent: SentForm, family: Family, name: str) -> Run:
    """A run typed in without photos: what was told, and what the needles show.

    Parameters
    ----------
    sent
        As for `typed_steps`, and `step-N-shown-DIAL`.
    family
        The cluster design.
    name
        Of the run.

    Returns
    -------
    Run
        A needle with nothing typed is not read.

    Raises
    ------
    RunError
        If a number cannot be understood, or no needle shows anything.
    """
    rows = [
        RunRow(
            run=name,
            dial=told.dial,
            unit=told.unit,
            approach=told.approach,
            commanded=told.commanded,
            temperature_c=told.temperature_c,
            indicated=_number(
                sent.text(f"step-{told.step}-shown-{told.dial}"),
                f"step {told.step}, dial '{told.dial}', shown",
            ),
            step=told.step,
            u_commanded=told.u_commanded,
        )
        for told in typed_steps(sent, family)
    ]
    if all(row.indicated is None for row in rows):
        raise RunError("no needle's value was typed; type what at least one needle shows")
    return Run(name, tuple(rows))


def commands_in(file: SentFile, family: Family) -> tuple[tuple[Told, ...], dict[str, int]]:
    """A table of commands that was sent.

    Parameters
    ----------
    file
        `commands.csv`.
    family
        The cluster design.

    Returns
    -------
    tuple
        Rows, and the step of each photo by its name in the table.

    Raises
    ------
    RunError
        If the table cannot be used; named as the person named it.
    """
    with TemporaryDirectory() as folder:
        path = _written(file, Path(folder))
        try:
            return told_from(read_commands(path, family))
        except NeedlewrightError as error:
            raise RunError(str(error).replace(str(path), file.name)) from error


def run_in(file: SentFile, name: str) -> Run | None:
    """A run table that was sent; None where the file has no column of shown values."""
    head = file.content()[:4096].decode("utf-8", "replace").splitlines()
    if not any("indicated" in line or "angle_deg" in line for line in head[:3]):
        return None
    with TemporaryDirectory() as folder:
        path = _written(file, Path(folder))
        try:
            return Run(name, read_run(path, None).rows)
        except NeedlewrightError as error:
            raise RunError(str(error).replace(str(path), file.name)) from error


def _written(file: SentFile, folder: Path) -> Path:
    if file.size > LARGEST_TABLE:
        raise RunError(
            f"{file.name}: has {file.size // 1_000_000} MB; a table has at most "
            f"{LARGEST_TABLE // 1_000_000} MB; send the table of this run only"
        )
    path = folder / "table.csv"
    path.write_bytes(file.content())
    return path


def _number(text: str, where: str) -> float | None:
    plain = text.strip().translate(_BLANKS)
    if not plain:
        return None
    try:
        value = float(pointed(plain))
    except UnitError as error:
        raise RunError(f"{where}: {error}") from error
    except ValueError as error:
        raise RunError(
            f"{where}: expected a number, found '{text[:40]}'; correct it, or leave it empty"
        ) from error
    if not abs(value) < 1e9:
        raise RunError(f"{where}: expected a number, found '{text[:40]}'; correct it")
    return value
