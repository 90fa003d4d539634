"""A run that a bench takes, kept in the shop's records step by step.

What is left to do lies in a folder of the shop (`bench_folder`) until the run is finished; what was
seen is in the records from the moment its step is done. The records come first: a step that was
cut off between the two is looked at once more, and its photo takes the older one's place.
"""

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from needlewright.bench.fallen import FELL_TO_REST
from needlewright.bench.keeping import KeptRun
from needlewright.bench.steps import RunPlan, RunStep
from needlewright.composing.overlays import FOOTER, overlay_jpeg
from needlewright.families.model import Family
from needlewright.readings.frame import Pixels
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import RunRow
from needlewright.records.bench_rows import leave_out, state_told
from needlewright.records.opening import Shop
from needlewright.records.run_photos import ReadPhoto, add_run_photo, retake_photo
from needlewright.records.runs import run_sheet
from needlewright.records.told import Told
from needlewright.records.views import RunSheet


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
