"""From runs to full tables, positions x people x photos, and what had to be left out of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import RunError
from needlewright.readings.runs import Run, RunRow

By = Literal["person", "camera"]
Part = Literal["command", "step", "photo"]
Place = tuple[float | None, str]
"""What stands for one position: a number or None, and an approach or a photo."""

LEAST_PHOTOS: Final = 2
LEAST_POSITIONS: Final = 2


@dataclass(frozen=True, slots=True)
class Named:
    """A run, and who or what made it."""

    who: str
    run: Run


@dataclass(frozen=True, slots=True)
class Position:
    """Where a needle was put: what it was told, or a step or photo."""

    words: str
    """For people: `80 up`, `step 4`."""
    commanded: float | None
    approach: str
    angle_deg: float
    """Mean over everything kept."""


@dataclass(frozen=True, slots=True, eq=False)
class StudyTable:
    """A full table of one dial."""

    dial: str
    people: tuple[str, ...]
    positions: tuple[Position, ...]
    angles_deg: NDArray[np.float64]
    """Positions x people x photos."""
    left_out: tuple[str, ...]
    """One clause for each thing the table does not hold."""


def study_tables(runs: Sequence[Named], by: By, part: Part = "command") -> tuple[StudyTable, ...]:
    """Make a full table of every dial that allows one.

    Parameters
    ----------
    runs
        Completed with their dials; several of one name are that one's further photos.
    by
        What the names are of.
    part
        What makes rows the same position: `command` (value and approach), `step` or `photo`.

    Returns
    -------
    tuple of StudyTable
        In the order dials first stand in the runs. Positions that somebody did not read often
        enough are left out, and photos beyond the fewest of any cell; both are named.

    Raises
    ------
    RunError
        If there is only one name, no row was read, or no dial leaves a full table.
    """
    people = tuple(dict.fromkeys(one.who for one in runs))
    if len(people) < 2:
        raise RunError(
            f"every run is of the one {by} '{people[0]}'; give runs of at least two, each named "
            f"by its own run name or as NAME=RUN.csv (one {by} alone: --by view)"
            if people
            else "no run was given; give at least two"
        )
    cells = _cells(runs, part)
    if not cells:
        raise RunError("no row of these runs has a needle that was read; read the photos first")
    tables: list[StudyTable] = []
    reasons: dict[str, list[str]] = {}
    for dial, of_dial in cells.items():
        found = _table(dial, people, of_dial, part)
        if isinstance(found, str):
            reasons.setdefault(found, []).append(f"'{dial}'")
        else:
            tables.append(found)
    if not tables:
        said = "; ".join(f"{', '.join(dials)}: {why}" for why, dials in reasons.items())
        raise RunError(f"no dial can be judged: {said}")
    unjudged = tuple(f"dial {dial}: {why}" for why, dials in reasons.items() for dial in dials)
    first = tables[0]
    return (replace(first, left_out=first.left_out + unjudged), *tables[1:])


Cells = dict[Place, dict[str, list[RunRow]]]


def _cells(runs: Sequence[Named], part: Part) -> dict[str, Cells]:
    cells: dict[str, Cells] = {}
    for one in runs:
        for row in one.run.rows:
            if row.angle_deg is None:
                continue
            of_dial = cells.setdefault(row.dial, {})
            of_dial.setdefault(place_of(row, part), {}).setdefault(one.who, []).append(row)
    return cells


def place_of(row: RunRow, part: Part) -> Place:
    """What makes a row's position.

    Parameters
    ----------
    row
        A row.
    part
        Which of its columns count.

    Returns
    -------
    tuple
        Equal for rows of the same position.

    Raises
    ------
    RunError
        If the row does not state it.
    """
    if part == "step":
        if row.step is None:
            raise RunError(
                f"run '{row.run}', dial '{row.dial}': a row has no 'step'; give it one, or leave "
                "--part out to tell positions by what was commanded"
            )
        return float(row.step), "step"
    if part == "photo":
        if row.photo is None:
            raise RunError(
                f"run '{row.run}', dial '{row.dial}': a row has no 'photo'; give it one, or leave "
                "--part out to tell positions by what was commanded"
            )
        return None, row.photo.replace("\\", "/").rpartition("/")[2]
    return row.commanded, row.approach


def _words(place: Place, part: Part) -> str:
    number, word = place
    if part == "step":
        return f"step {number:g}"
    if part == "photo":
        return word
    return "at rest" if number is None else f"{number:g} {word}"


def _table(dial: str, people: tuple[str, ...], cells: Cells, part: Part) -> StudyTable | str:
    left_out: list[str] = []
    kept: dict[Place, dict[str, list[RunRow]]] = {}
    for place, by_person in cells.items():
        few = [who for who in people if len(by_person.get(who, ())) < LEAST_PHOTOS]
        if few:
            counts = ", ".join(f"{who} {len(by_person.get(who, ()))}" for who in few)
            left_out.append(
                f"dial '{dial}', {_words(place, part)}: not read twice by all ({counts})"
            )
        else:
            kept[place] = by_person
    if len(kept) < LEAST_POSITIONS:
        if not any(len(rows) >= LEAST_PHOTOS for by in cells.values() for rows in by.values()):
            return (
                "one photo of each position by each, so what repeats cannot be told from who "
                "reads; give at least two"
            )
        absent = [who for who in people if not any(who in by for by in cells.values())]
        if absent:
            return f"not read at all by {', '.join(absent)}"
        number = "only one position" if kept else "no position"
        return f"{number} that each of {', '.join(people)} read at least twice, and two are needed"
    photos = min(len(rows) for by_person in kept.values() for rows in by_person.values())
    surplus = sum(len(rows) - photos for by in kept.values() for rows in by.values())
    if surplus:
        left_out.append(
            f"dial '{dial}': the last {surplus} reading{'s' if surplus > 1 else ''} beyond "
            f"{photos} a cell"
        )
    angles = np.array(
        [[[r.angle_deg for r in by[who][:photos]] for who in people] for by in kept.values()],
        dtype=np.float64,
    )
    return StudyTable(dial, people, _positions(kept, angles, part), angles, tuple(left_out))


def _positions(
    kept: Mapping[Place, Mapping[str, Sequence[RunRow]]],
    angles: NDArray[np.float64],
    part: Part,
) -> tuple[Position, ...]:
    firsts = [next(iter(by_person.values()))[0] for by_person in kept.values()]
    return tuple(
        Position(_words(place, part), first.commanded, first.approach, float(of_place.mean()))
        for place, first, of_place in zip(kept, firsts, angles, strict=True)
    )
