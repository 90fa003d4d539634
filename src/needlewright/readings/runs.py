"""A run: rows of what was commanded and what was seen, in time order (CSV, memory, database)."""

from dataclasses import dataclass, replace
from typing import Final, Literal

REHEARSED: Final = "rehearsed"
"""Flag of every row of a run that no real cluster was seen in."""

Approach = Literal["up", "down", "rest"]


@dataclass(frozen=True, slots=True)
class RunRow:
    """One dial at one step. What is not known is None; angles positive clockwise."""

    run: str
    dial: str
    unit: str
    approach: Approach
    commanded: float | None = None
    """In `unit`; None at rest."""
    temperature_c: float | None = None
    angle_deg: float | None = None
    u_angle_deg: float | None = None
    indicated: float | None = None
    u_indicated: float | None = None
    flags: tuple[str, ...] = ()
    photo: str | None = None
    """Path relative to the CSV."""
    step: int | None = None
    u_commanded: float | None = None
    """Standard uncertainty of the stimulus (k = 1); None: not known, and papers say so."""
    key_cycle: int | None = None
    supply_v: float | None = None
    time: str | None = None

    @property
    def on_stop(self) -> bool:
        """Whether the needle stands on a stop, so that the row is used one-sidedly."""
        return "on_stop" in self.flags


@dataclass(frozen=True, slots=True)
class Run:
    """The rows of one run, in time order."""

    name: str
    rows: tuple[RunRow, ...]

    @property
    def is_rehearsed(self) -> bool:
        """Whether no real cluster was seen in it; one row that says so is enough."""
        return any(REHEARSED in row.flags for row in self.rows)

    def of_dial(self, dial_id: str) -> tuple[RunRow, ...]:
        """The rows of one dial, in time order."""
        return tuple(row for row in self.rows if row.dial == dial_id)


def as_rehearsed(run: Run) -> Run:
    """Mark a run as one that no real cluster was seen in.

    Parameters
    ----------
    run
        The run.

    Returns
    -------
    Run
        Every row with the flag `rehearsed`.
    """
    return Run(
        run.name,
        tuple(
            row if REHEARSED in row.flags else replace(row, flags=(*row.flags, REHEARSED))
            for row in run.rows
        ),
    )
