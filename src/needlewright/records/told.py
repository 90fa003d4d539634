"""What the dials were told, step by step: planned, typed, or out of a table of commands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.families.model import Family
from needlewright.readings.commands import Command
from needlewright.readings.complete import require_dial_unit
from needlewright.readings.runs import Approach
from needlewright.records.tables import BenchRun, RunRowTold


@dataclass(frozen=True, slots=True)
class Told:
    """What one dial was told at one step. What is not known is None."""

    step: int
    """Steps are photos: every photo is one step."""
    dial: str
    unit: str
    approach: Approach
    commanded: float | None = None
    """In `unit`; None at rest."""
    temperature_c: float | None = None
    u_commanded: float | None = None
    """Standard uncertainty of the stimulus (k = 1)."""
    key_cycle: int | None = None
    supply_v: float | None = None
    time: str | None = None


TOLD_FIELDS = tuple(field.name for field in fields(Told))


def told_from(commands: Sequence[Command]) -> tuple[tuple[Told, ...], dict[str, int]]:
    """What a table of commands says.

    Parameters
    ----------
    commands
        In time order.

    Returns
    -------
    tuple
        Rows, and the step of each photo by its name in the table: as stated, or else in order.
    """
    names = list(dict.fromkeys(command.photo for command in commands))
    stated = {command.photo: command.step for command in commands}
    steps: dict[str, int] = {
        name: number if (step := stated[name]) is None else step
        for number, name in enumerate(names, start=1)
    }
    if len(set(steps.values())) != len(steps):  # some steps stated, others not
        steps = {name: number for number, name in enumerate(names, start=1)}
    rows = tuple(
        Told(
            steps[command.photo],
            command.dial,
            command.unit,
            command.approach,
            command.commanded,
            command.temperature_c,
            command.u_commanded,
            command.key_cycle,
            command.supply_v,
            command.time,
        )
        for command in commands
    )
    return rows, steps


def check_told(family: Family, rows: Sequence[Told], where: str) -> None:
    """Refuse rows that cannot be of this family.

    Parameters
    ----------
    family
        The cluster design.
    rows
        In time order.
    where
        Named first in the sentence.

    Raises
    ------
    RecordError
        If a dial is not the family's, is told twice at a step, or a rest is commanded.
    RunError
        If a dial is commanded in another unit than its own.
    """
    seen: set[tuple[int, str]] = set()
    for row in rows:
        place = f"{where}, step {row.step}"
        dial = family.dial(row.dial)
        if dial is None:
            known = ", ".join(d.id for d in family.dials)
            raise RecordError(f"{place}: there is no dial '{row.dial}'; the family has {known}")
        require_dial_unit(place, row.unit, dial)
        if (row.approach == "rest") != (row.commanded is None):
            raise RecordError(
                f"{place}, dial '{row.dial}': the approach is '{row.approach}' and commanded is "
                f"{'empty' if row.commanded is None else row.commanded}; a rest has no commanded "
                "value, and up and down have one"
            )
        if (row.step, row.dial) in seen:
            raise RecordError(f"{place}: dial '{row.dial}' is told twice; keep one")
        seen.add((row.step, row.dial))


def put_rows(session: Session, run: BenchRun, rows: Sequence[Mapping[str, Any]]) -> None:
    """Make these the rows of a run, in place of those it had."""
    session.execute(delete(RunRowTold).where(RunRowTold.run_id == run.id))
    session.add_all(
        RunRowTold(run_id=run.id, position=position, **row)
        for position, row in enumerate(rows, start=1)
    )
    session.flush()


def rows_of(session: Session, run_id: int) -> list[dict[str, Any]]:
    """The rows of a run as plain values, in time order."""
    found = session.scalars(
        select(RunRowTold).where(RunRowTold.run_id == run_id).order_by(RunRowTold.position)
    )
    names = [c.key for c in RunRowTold.__table__.columns]
    return [
        {name: getattr(row, name) for name in names if name not in ("id", "run_id", "position")}
        for row in found
    ]
