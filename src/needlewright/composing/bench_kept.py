"""A run that a bench takes, kept in the shop's records step by step.

What is left to do lies in a folder of the shop until the run is finished; what was seen is in the
records from the moment its step is done. The records come first: a step that was cut off between
the two is looked at once more, and its photo takes the older one's place.
"""

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from needlewright.bench.fallen import FELL_TO_REST
from needlewright.bench.keeping import KeptRun, RunState, begin, state_path
from needlewright.bench.steps import RunPlan, RunStep
from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.overlays import FOOTER, overlay_jpeg
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.readings.frame import Pixels
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import RunRow
from needlewright.records.bench_rows import leave_out, state_told
from needlewright.records.opening import Shop
from needlewright.records.run_photos import ReadPhoto, add_run_photo, retake_photo
from needlewright.records.runs import run_sheet
from needlewright.records.told import Told
from needlewright.records.trouble import said_plainly
from needlewright.records.views import RunSheet

FOLDER: Final = "bench"
RUN: Final = "run.csv"
CHOICE: Final = "choice.json"


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A run that is not finished at the bench."""

    choice: BenchChoice
    state: RunState


def told_of(plan: RunPlan, family: Family, temperature_c: float | None) -> tuple[Told, ...]:
    """What the records are told of a plan before it is carried out.

    Parameters
    ----------
    plan
        The steps.
    family
        The cluster design.
    temperature_c
        Of the cluster.

    Returns
    -------
    tuple of Told
        One row for each needle that is looked at.
    """
    return tuple(
        Told(
            step.number,
            dial.id,
            dial.unit,
            step.approach,
            step.told.get(dial.id),
            temperature_c,
            key_cycle=step.key_ons,
        )
        for step in plan.steps
        for dial in family.dials
        if dial.id in step.told or not step.told
    )


class StoredRun(KeptRun):
    """A run kept in files while it lasts, and in the records for good.

    Parameters
    ----------
    shop
        The shop.
    run_id
        In its records.
    by
        Who takes it.
    kept
        The files.
    on_stored
        Called with the number of each step whose photo is in the records.
    """

    def __init__(
        self,
        shop: Shop,
        run_id: int,
        by: str | None,
        kept: KeptRun,
        on_stored: Callable[[int], None] = lambda step: None,
    ) -> None:
        super().__init__(kept.path, kept.family, kept.state)
        self._shop, self._run_id, self._by = shop, run_id, by
        self._on_stored = on_stored
        self._pixels: Pixels | None = None

    def keep_photo(self, step: RunStep, pixels: Pixels) -> Path:
        """Keep the photo of a step, and its pixels until they are drawn on.

        Parameters
        ----------
        step
            The step.
        pixels
            Blue, green, red.

        Returns
        -------
        Path
            The file.
        """
        self._pixels = pixels
        return super().keep_photo(step, pixels)

    def keep_step(
        self, rows: tuple[RunRow, ...], photo: PhotoReadings | None, done: int, key_ons: int
    ) -> None:
        """Keep what a step gave, in the records first.

        Parameters
        ----------
        rows
            Of the step; empty where it was skipped.
        photo
            What was read, with its components.
        done
            Steps finished then.
        key_ons
            Key-ons so far.

        Raises
        ------
        RecordError
            If the records cannot take it; the step is then not done.
        RunError
            If the files cannot be written.
        """
        if rows and photo is not None:
            self._store(rows, photo)
        super().keep_step(rows, photo, done, key_ons)

    def finish(self) -> None:
        """Leave out what was skipped, and take the folder away: nothing is left to do."""
        looked_at = {row.step for row in self.state.rows}
        skipped = {step.number for step in self.state.steps} - looked_at
        leave_out(self._shop, self._run_id, skipped, self._by)
        super().finish()
        shutil.rmtree(self.path.parent, ignore_errors=True)

    def _store(self, rows: tuple[RunRow, ...], photo: PhotoReadings) -> None:
        number = rows[0].step or 0
        state_told(self._shop, self._run_id, [_told(row) for row in rows])
        run = run_sheet(self._shop, self._run_id)
        read = _with_flags(photo, rows)
        name = f"bench-{run.side}-step-{number:02}.png"
        content = Path(photo.photo).read_bytes()
        seen = ReadPhoto(read, self._overlay(run, read, name))
        older = next((one for one in run.photos if one.step == number), None)
        if older is None:
            add_run_photo(self._shop, run.id, content, name, self._by, step=number, read=seen)
        else:
            retake_photo(self._shop, older.id, content, name, self._by, read=seen)
        self._on_stored(number)

    def _overlay(self, run: RunSheet, photo: PhotoReadings, name: str) -> bytes | None:
        if self._pixels is None:
            return None
        head = f"{name}   family {self.family.name}"
        if run.rehearsed is not None:
            head += "   rehearsed, no real cluster"
        return overlay_jpeg(self.family, photo, self._pixels, (head, FOOTER))


def begin_stored(
    shop: Shop, run_id: int, family: Family, plan: RunPlan, choice: BenchChoice
) -> KeptRun:
    """Lay the folder of a run that is begun.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run, which the records have.
    family
        The cluster design, as it is told at this bench.
    plan
        What is to be done.
    choice
        At which bench.

    Returns
    -------
    KeptRun
        With nothing done.

    Raises
    ------
    RecordError, RunError
        If the folder cannot be written.
    """
    folder = folder_of(shop, run_id)
    with said_plainly("laying out a run at the bench", folder):
        folder.mkdir(parents=True, exist_ok=True)
        kept = begin(folder / RUN, family, plan, choice.kind)
        _write(folder / CHOICE, choice.model_dump_json(indent=1))
        _write(state_path(kept.path), kept.state.model_dump_json(indent=1))
    return kept


def choose_again(shop: Shop, run_id: int, choice: BenchChoice) -> None:
    """Go on with a run at another bench; a rehearsal stays one.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    choice
        The bench from now on.

    Raises
    ------
    RunError
        If a rehearsed run is to go on on a real cluster, or the other way round.
    RecordError
        If it cannot be written.
    """
    was = unfinished(shop, run_id).choice
    if was.kind != choice.kind:
        raise RunError(
            "a run that was rehearsed goes on as a rehearsal, and one of a real cluster on that "
            "cluster; begin another run on the job sheet"
        )
    folder = folder_of(shop, run_id)
    with said_plainly("changing the bench of a run", folder):
        _write(folder / CHOICE, choice.model_dump_json(indent=1))


def is_unfinished(shop: Shop, run_id: int) -> bool:
    """Whether a run waits to go on at the bench, or is under way there."""
    return state_path(folder_of(shop, run_id) / RUN).is_file()


def unfinished(shop: Shop, run_id: int) -> Unfinished:
    """What is left of a run to be done.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.

    Returns
    -------
    Unfinished
        With the bench it was begun at.

    Raises
    ------
    RunError
        If nothing is, or the files are damaged.
    """
    folder = folder_of(shop, run_id)
    if not is_unfinished(shop, run_id):
        raise RunError(
            "the bench knows nothing that is left to do of this run; take what is missing by "
            "photos on the job sheet, or begin another run"
        )
    try:
        choice = BenchChoice.model_validate_json((folder / CHOICE).read_bytes())
        state = RunState.model_validate_json(state_path(folder / RUN).read_bytes())
    except (ValidationError, OSError) as error:
        raise RunError(
            "what was left to do of this run can no longer be read; take what is missing by "
            "photos on the job sheet, or begin another run"
        ) from error
    return Unfinished(choice, state)


def take_up(shop: Shop, run_id: int, family: Family) -> KeptRun:
    """Take up a run where it stands.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    family
        The cluster design, as it is told at this bench.

    Returns
    -------
    KeptRun
        With its steps that are done.

    Raises
    ------
    RunError
        As `unfinished`.
    """
    return KeptRun(folder_of(shop, run_id) / RUN, family, unfinished(shop, run_id).state)


def folder_of(shop: Shop, run_id: int) -> Path:
    """Where the files of a run lie that is not finished at the bench."""
    return shop.folder / FOLDER / f"run-{run_id}"


def _told(row: RunRow) -> Told:
    return Told(
        row.step or 0,
        row.dial,
        row.unit,
        row.approach,
        row.commanded,
        row.temperature_c,
        row.u_commanded,
        row.key_cycle,
        row.supply_v,
        row.time,
    )


def _with_flags(photo: PhotoReadings, rows: tuple[RunRow, ...]) -> PhotoReadings:
    """The readings with what only the run knows of them: that a needle fell to rest."""
    fallen = {row.dial for row in rows if FELL_TO_REST in row.flags}
    readings = tuple(
        replace(one, flags=(*one.flags, FELL_TO_REST)) if one.dial in fallen else one
        for one in photo.readings
    )
    return replace(photo, readings=readings)


def _write(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    with part.open("w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    part.replace(path)
