"""The journal of a burn-in: one line for everything that happened, on the disk before it goes on.

A line is written in one piece and flushed; one that does not fit on the disk is taken out again.
What ends the program, be it the loss of power, can cut off the last line only; that is left out
when the journal is taken up again, which is said in its next line. Hours, sweeps and key-ons stand
in every line, so what is counted is lost by a minute at most.
"""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from needlewright.bench.burn_in.line_file import LineFile, cut_to_whole_lines, whole_lines
from needlewright.bench.burn_in.lines import (
    LINE,
    Beat,
    Begun,
    Counts,
    Ended,
    Ending,
    GoneOn,
    Happened,
    LampsSeen,
    Line,
    Looked,
    Visited,
)
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.run_state import REAL
from needlewright.errors import RunError
from needlewright.readings.run_csv import flush_folder

__all__ = [
    "JOURNAL",
    "Beat",
    "Begun",
    "Counts",
    "Ended",
    "Ending",
    "GoneOn",
    "Happened",
    "Journal",
    "LampsSeen",
    "Line",
    "Looked",
    "Visited",
    "begin",
    "journal_in",
    "now",
    "read_journal",
    "texts_in",
    "texts_of",
]
JOURNAL: Final = "journal.jsonl"


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
        self.written: Callable[[Line], None] = lambda line: None
        """Told of each line that is on the disk."""
        self._file = LineFile(folder / JOURNAL)

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
            If it cannot be written; nothing of it stands in the file then.
        """
        try:
            self._file.append(line.model_dump_json().encode() + b"\n")
        except OSError as error:
            raise RunError(
                f"{self.path}: cannot be written ({error.strerror or error}); what happened until "
                "then is kept; make room, then go on"
            ) from error
        self.lines.append(line)
        self.written(line)


def now() -> str:
    """The moment, for a line."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def begin(
    folder: Path, family: str, cluster: str, unit: str, plan: BurnInPlan, *, by: str | None = None
) -> Journal:
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
    by
        Who does it.

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
    cut_off = path.exists() and cut_to_whole_lines(path)
    if not path.exists() or not path.stat().st_size:  # or its first line never came to be
        try:
            folder.mkdir(exist_ok=True)
            flush_folder(folder.parent)
        except OSError as error:
            raise RunError(f"{folder}: cannot be made: {error.strerror or error}") from error
        journal = Journal(folder, ())
        journal.write(begun)
        flush_folder(folder)
        return journal
    journal = read_journal(folder)
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
    journal.write(GoneOn(at=now(), counts=journal.counts, by=by, cut_off=cut_off))
    return journal


def read_journal(folder: Path) -> Journal:
    """Read a journal.

    Parameters
    ----------
    folder
        Where it lies.

    Returns
    -------
    Journal
        Without a last line that was cut off.

    Raises
    ------
    RunError
        If there is none, or another line is damaged.
    """
    path = folder / JOURNAL
    try:
        texts = whole_lines(path)
    except OSError as error:
        raise RunError(
            f"{path}: cannot be opened: {error.strerror or error}; name the folder of a burn-in"
        ) from error
    return journal_in(folder, texts)


def journal_in(folder: Path, texts: Sequence[str]) -> Journal:
    """A journal of lines, wherever they were kept.

    Parameters
    ----------
    folder
        Where its pictures lie, or lay.
    texts
        The lines.

    Returns
    -------
    Journal
        Read.

    Raises
    ------
    RunError
        If one is damaged, or the first does not begin it.
    """
    path = folder / JOURNAL
    lines: list[Line] = []
    for number, text in enumerate(texts, start=1):
        try:
            lines.append(LINE.validate_json(text))
        except ValidationError as error:
            raise _damaged(path, number) from error
    if not lines or not isinstance(lines[0], Begun):
        raise _damaged(path, 1)
    return Journal(folder, lines)


def texts_in(folder: Path) -> tuple[str, ...]:
    """The whole lines of a journal as they stand in its file; none where there is no file."""
    try:
        return whole_lines(folder / JOURNAL)
    except OSError:
        return ()


def texts_of(journal: Journal, beyond: int = 0) -> tuple[str, ...]:
    """The lines of a journal as they stand in its file.

    Parameters
    ----------
    journal
        The journal.
    beyond
        So many of its first lines were held against the file before.

    Returns
    -------
    tuple of str
        As many as the journal has.

    Raises
    ------
    RunError
        If the file has other lines than the journal.
    """
    texts = texts_in(journal.folder)[: len(journal.lines)]
    for number, line in enumerate(journal.lines[beyond:], start=beyond + 1):
        try:
            is_it = LINE.validate_json(texts[number - 1]) == line
        except (IndexError, ValidationError) as error:
            raise _damaged(journal.path, number) from error
        if not is_it:
            raise _damaged(journal.path, number)
    return texts


def _damaged(path: Path, line: int) -> RunError:
    return RunError(f"{path}: line {line} is damaged; put the file back from a copy, or begin anew")
