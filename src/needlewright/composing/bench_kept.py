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
from needlewright.bench.outcome import LampPhoto, Outcome, Sweep
from needlewright.bench.steps import RunPlan, RunStep
from needlewright.composing.bench_seen import keep_seen, lamp_photo_name, lamp_words
from needlewright.composing.bench_sweep import read_document
from needlewright.composing.overlays import FOOTER, overlay_jpeg
from needlewright.families.model import Family
from needlewright.papers.wording import rehearsal_words
from needlewright.readings.frame import Pixels
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import RunRow
from needlewright.records.bench_lamps import store_lamp_photo, withdraw_lamp_photo
from needlewright.records.bench_rows import leave_out, require_whole, state_told, withdraw_photo
from needlewright.records.bench_sweeps import (
    FollowedInRun,
    store_bench_sweep,
    withdraw_bench_sweep,
)
from needlewright.records.jobs import add_note
from needlewright.records.opening import Shop
from needlewright.records.run_photos import ReadPhoto, add_run_photo, retake_photo
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.sweeps import REHEARSED
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
        if step.kind == "look"
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
        elif not rows:
            # taken back before, and the run ended between the files and the records
            withdraw_photo(self._shop, self._run_id, self.plan.steps[done - 1].number, self._by)
        super().keep_step(rows, photo, done, key_ons)

    def keep_check(self, given: Sweep | LampPhoto | None, done: int, key_ons: int) -> None:
        """Keep what the sweep or a group of lamps gave, in the records first.

        The video of a sweep is a sweep video of the job, the photo of lamps a photo of it.

        Parameters
        ----------
        given
            None where it was skipped.
        done
            Steps finished then.
        key_ons
            Key-ons so far.
        """
        run = run_sheet(self._shop, self._run_id)
        require_whole(run)
        if isinstance(given, Sweep):
            self._store_sweep(given, run)
        elif given is not None:
            self._store_lamps(given, run)
        else:
            self._withdraw_check(self.plan.steps[done - 1], run)
        super().keep_check(given, done, key_ons)

    def take_back(self, step: RunStep, done: int) -> None:
        """Take out again what a step gave; in the records it stays kept and counts no more.

        Parameters
        ----------
        step
            The step.
        done
            Steps finished then.

        Raises
        ------
        RecordError
            If the run was set aside, or the records cannot take it.
        RunError
            If the files cannot be written.
        """
        super().take_back(step, done)
        if step.kind == "look":
            withdraw_photo(self._shop, self._run_id, step.number, self._by)
        else:
            self._withdraw_check(step, run_sheet(self._shop, self._run_id))

    def finish(self) -> None:
        """Leave out what was skipped, keep what was seen and drawn, and take the folder away.

        Raises
        ------
        RecordError
            If the run was set aside, or the records cannot take it; it can be finished again.
        """
        looked_at = {row.step for row in self.state.rows}
        skipped = {step.number for step in self.state.steps} - looked_at
        leave_out(self._shop, self._run_id, skipped, self._by)
        run = run_sheet(self._shop, self._run_id)
        outcome = self.state.outcome
        gave = self.path.parent, outcome
        problems = keep_seen(self._shop, run, self.family, gave, self._by)
        for words in (drawn_words(outcome), *problems):
            self._note(run, words)
        super().finish()
        shutil.rmtree(self.path.parent, ignore_errors=True)

    def _note(self, run: RunSheet, words: str) -> None:
        """Note something once: a run that ended in the midst of this is finished again."""
        if not words:
            return
        rehearsed = run.rehearsed
        said = "" if rehearsed is None else f" (rehearsed, {rehearsal_words(rehearsed)})"
        text = f"Run {run.name}{said}: {words}"
        if all(note.text != text for note in job_sheet(self._shop, run.tag).notes):
            add_note(self._shop, run.tag, text, self._by)

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

    def _store_sweep(self, sweep: Sweep, run: RunSheet) -> None:
        folder = self.path.parent
        content = (folder / sweep.video).read_bytes()
        document = read_document(folder, sweep)
        if document is not None and run.rehearsed is not None:
            document = {**document, REHEARSED: run.rehearsed}
        problem = None if sweep.found is None else sweep.found.problem
        damaged = problem if document is not None else None
        followed = FollowedInRun(document, problem, damaged)
        store_bench_sweep(self._shop, run.id, content, sweep_name(run), followed, by=self._by)

    def _store_lamps(self, one: LampPhoto, run: RunSheet) -> None:
        content = (self.path.parent / one.photo).read_bytes()
        name, words = lamp_photo_name(run, one.group), lamp_words(one, run)
        store_lamp_photo(self._shop, run.id, content, name, words, by=self._by)

    def _withdraw_check(self, step: RunStep, run: RunSheet) -> None:
        """What was kept of a sweep or of lamps counts no more."""
        if step.kind == "sweep":
            withdraw_bench_sweep(self._shop, self._run_id, sweep_name(run), self._by)
        elif step.kind == "lamps":
            name = lamp_photo_name(run, step.group)
            withdraw_lamp_photo(self._shop, self._run_id, name, self._by)

    def _overlay(self, run: RunSheet, photo: PhotoReadings, name: str) -> bytes | None:
        if self._pixels is None:
            return None
        head = f"{name}   family {self.family.name}"
        if run.rehearsed is not None:
            head += "   rehearsed, no real cluster"
        return overlay_jpeg(self.family, photo, self._pixels, (head, FOOTER))


def sweep_name(run: RunSheet) -> str:
    """What the video of a run's sweep is called; a rehearsed one says so wherever it is named."""
    rehearsed = "" if run.rehearsed is None else ", rehearsed"
    return f"bench-{run.side}-sweep{rehearsed}.mp4"


def drawn_words(outcome: Outcome) -> str:
    """What the cluster drew in a run, for people; empty where nobody measured it."""
    said = [f"{one.amperes:.3g} A after key-on {one.key_ons}" for one in outcome.rest_current]
    words = f"drew at rest {', '.join(said)}" if said else ""
    sweep = outcome.sweep
    if sweep is None or sweep.mean_a is None or sweep.peak_a is None:
        return words
    in_sweep = f"{sweep.mean_a:.3g} A in the sweep, {sweep.peak_a:.3g} A at most"
    return f"{words}; {in_sweep}" if words else f"drew {in_sweep}"


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
