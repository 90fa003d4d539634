"""The journal of a burn-in: one line for everything that happened, on the disk before it goes on.

A line is written in one piece and flushed. What ends the program, be it the loss of power, can cut
off the last line only; that is left out when the journal is taken up again. Hours, sweeps and
key-ons stand in every line, so what is counted is lost by a minute at most.
"""

import os
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.run_state import REAL
from needlewright.errors import RunError
from needlewright.readings.run_csv import flush_folder

JOURNAL: Final = "journal.jsonl"
Finite = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]
Ending = Literal["finished", "stopped", "failed"]


class Counts(BaseModel):
    """What a unit has lived through."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    powered_s: Annotated[float, Field(ge=0, allow_inf_nan=False)] = 0.0
    sweeps: Count = 0
    key_ons: Count = 0

    @property
    def hours(self) -> float:
        """With the power on."""
        return self.powered_s / 3600.0


class _Line(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    at: str
    """Of the wall's clock, ISO 8601, UTC."""
    counts: Counts


class Begun(_Line):
    """The first line."""

    kind: Literal["begun"] = "begun"
    format: Literal[1] = 1
    family: str
    cluster: str
    """`bench`, or how it was rehearsed."""
    unit: str
    """Which cluster, as people tell it from others."""
    plan: BurnInPlan


class GoneOn(_Line):
    """The program was started again."""

    kind: Literal["gone_on"] = "gone_on"


class Beat(_Line):
    """Nothing happened; hours are counted so far."""

    kind: Literal["beat"] = "beat"
    amperes: Finite | None = None
    doing: str = ""


class Looked(_Line):
    """A needle was read at a check point."""

    kind: Literal["look"] = "look"
    visit: Count
    dial: str
    value: Finite
    """What it was told, in its unit."""
    angle_deg: Finite | None
    u_angle_deg: Finite | None
    """Standard uncertainty, k = 1, with what is common to all looks."""
    reason: str | None = None
    """Why it was not read."""
    temperature_c: Finite | None = None
    photo: str | None = None
    """File, relative to the journal's folder."""


class Visited(_Line):
    """All check points were visited."""

    kind: Literal["visited"] = "visited"
    visit: Count


class LampsSeen(_Line):
    """What lamps gave at the end of a dwell."""

    kind: Literal["lamps"] = "lamps"
    light: dict[str, Finite]
    """Beside the unlit picture, 1 the photo's white, by lamp."""


class Happened(_Line):
    """An event."""

    kind: Literal["event"] = "event"
    what: str
    where: str
    """A dial, a lamp, or `cluster`."""
    words: str
    size: Finite | None = None
    pictures: tuple[str, ...] = ()
    """Files, relative to the journal's folder, in time."""
    picture_s: tuple[Finite, ...] = ()
    """When each was taken, seconds from the event."""
    temperature_c: Finite | None = None


class Ended(_Line):
    """The run ended, for the time being or for good."""

    kind: Literal["ended"] = "ended"
    state: Ending
    words: str


Line = Begun | GoneOn | Beat | Looked | Visited | LampsSeen | Happened | Ended
_LINE: Final[TypeAdapter[Line]] = TypeAdapter(Annotated[Line, Field(discriminator="kind")])


class Journal:
    """A journal that grows.

    Parameters
    ----------
    folder
        Where it and its pictures lie.
    lines
        What it holds so far.
    """

    def __init__(self, folder: Path, lines: Sequence[Line]) -> None:
        self.folder = folder
        self.lines: list[Line] = list(lines)

    @property
    def path(self) -> Path:
        """The file."""
        return self.folder / JOURNAL

    @property
    def begun(self) -> Begun:
        """Its first line."""
        first = self.lines[0]
        if not isinstance(first, Begun):
            raise _damaged(self.path, 1)
        return first

    @property
    def counts(self) -> Counts:
        """What the unit has lived through so far."""
        return self.lines[-1].counts

    @property
    def is_rehearsed(self) -> bool:
        """Whether no real cluster stood there."""
        return self.begun.cluster != REAL

    @property
    def is_finished(self) -> bool:
        """Whether nothing is left to do."""
        return any(isinstance(one, Ended) and one.state == "finished" for one in self.lines)

    def write(self, line: Line) -> None:
        """Write a line; it is on the disk when this returns.

        Parameters
        ----------
        line
            The line.

        Raises
        ------
        RunError
            If it cannot be written.
        """
        content = line.model_dump_json().encode() + b"\n"
        try:
            with self.path.open("ab") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as error:
            raise RunError(
                f"{self.path}: cannot be written ({error.strerror or error}); what happened until "
                "then is kept; make room, then go on"
            ) from error
        self.lines.append(line)


def now() -> str:
    """The moment, for a line."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def begin(folder: Path, family: str, cluster: str, unit: str, plan: BurnInPlan) -> Journal:
    """Begin a burn-in, or take up the one that was interrupted.

    Parameters
    ----------
    folder
        Where it lies; made if only it is missing.
    family
        Name of the cluster design.
    cluster
        `bench`, or how it is rehearsed.
    unit
        Which cluster.
    plan
        What is to be done.

    Returns
    -------
    Journal
        With a line that says so.

    Raises
    ------
    RunError
        If a journal of another cluster, family or plan is there, it is finished or damaged, or
        nothing can be written.
    """
    begun = Begun(at=now(), counts=Counts(), family=family, cluster=cluster, unit=unit, plan=plan)
    path = folder / JOURNAL
    if not path.exists():
        try:
            folder.mkdir(exist_ok=True)
            flush_folder(folder.parent)
        except OSError as error:
            raise RunError(f"{folder}: cannot be made: {error.strerror or error}") from error
        journal = Journal(folder, ())
        journal.write(begun)
        flush_folder(folder)
        return journal
    journal = read_journal(folder, repair=True)
    was = journal.begun
    for what, before, after in (
        ("cluster", f"{was.unit}, {was.cluster}", f"{unit}, {cluster}"),
        ("family", was.family, family),
    ):
        if before != after:
            raise RunError(
                f"{path}: is the journal of another {what} ('{before}', now '{after}'); name "
                "another folder, or give the same as then to go on with it"
            )
    if was.plan != plan:
        raise RunError(
            f"{path}: was begun with another plan; give the same as then to go on with it, or name "
            "another folder"
        )
    if journal.is_finished:
        raise RunError(f"{path}: is finished; report it, or name another folder")
    journal.write(GoneOn(at=now(), counts=journal.counts))
    return journal


def read_journal(folder: Path, *, repair: bool = False) -> Journal:
    """Read a journal.

    Parameters
    ----------
    folder
        Where it lies.
    repair
        Whether a last line that was cut off is taken out of the file, for it to be gone on with.

    Returns
    -------
    Journal
        Without such a line.

    Raises
    ------
    RunError
        If there is none, or another line is damaged.
    """
    path = folder / JOURNAL
    try:
        content = path.read_bytes()
    except OSError as error:
        raise RunError(
            f"{path}: cannot be opened: {error.strerror or error}; name the folder of a burn-in"
        ) from error
    whole, newline, rest = content.rpartition(b"\n")
    if rest and repair:
        with path.open("r+b") as stream:
            stream.truncate(len(whole) + len(newline))
            os.fsync(stream.fileno())
    lines: list[Line] = []
    for number, text in enumerate(whole.splitlines(), start=1):
        try:
            lines.append(_LINE.validate_json(text))
        except ValidationError as error:
            raise _damaged(path, number) from error
    if not lines or not isinstance(lines[0], Begun):
        raise _damaged(path, 1)
    return Journal(folder, lines)


def _damaged(path: Path, line: int) -> RunError:
    return RunError(f"{path}: line {line} is damaged; put the file back from a copy, or begin anew")
