"""What is kept of a run while it lasts: its rows, what is left to do, photos, evidence.

`as-found.csv` grows with every step; beside it `as-found.bench.json` says where the run stands, so
that it goes on there after whatever ended it. What a run gives beside its rows, the sweep, lamps
and currents, is in `as-found.outcome.json`. Each file appears whole or not at all. Evidence is
written first and the state then; the state holds all the rest, from which the other files are made
again whenever a run is taken up and before the state is taken away.
"""

import os
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Final

import cv2
from pydantic import TypeAdapter

from needlewright.bench.outcome import LampPhoto, Outcome, RestCurrent, Sweep
from needlewright.bench.run_state import REAL, RunState, outcome_path, state_of, state_path
from needlewright.bench.steps import RunPlan, RunStep
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.readings.complete import complete_run
from needlewright.readings.evidence import (
    Evidence,
    evidence_of,
    evidence_path,
    read_evidence,
    write_evidence,
)
from needlewright.readings.frame import Pixels
from needlewright.readings.model import PhotoReadings
from needlewright.readings.rehearsed_photo import marked_rehearsed
from needlewright.readings.run_csv import flush_folder, write_run
from needlewright.readings.runs import Run, RunRow, as_rehearsed
from needlewright.readings.stops import ON_STOP

__all__ = ["KeptRun", "RunState", "begin", "outcome_path", "state_path", "write_whole"]

PHOTOS: Final = "photos"
SWEEP: Final = "sweep"


class KeptRun:
    """A run that is kept in files as it grows.

    Parameters
    ----------
    path
        The CSV.
    family
        The cluster design.
    state
        What is kept so far.
    """

    def __init__(self, path: Path, family: Family, state: RunState) -> None:
        self.path, self.family, self.state = path, family, state
        self._evidence = read_evidence(path) if state.rows else Evidence()

    @property
    def plan(self) -> RunPlan:
        """What was set out to be done."""
        return RunPlan(
            tuple(
                RunStep(s.number, s.approach, s.told, s.key_ons, s.kind, s.group)
                for s in self.state.steps
            )
        )

    @property
    def run(self) -> Run:
        """The run so far, completed with the family; every row says so where it is rehearsed."""
        run = complete_run(Run(self.state.run, self.state.rows), self.family)
        return as_rehearsed(run) if self.state.is_rehearsed else run

    def photo_path(self, step: RunStep) -> Path:
        """Where the photo of a step is kept."""
        folder = self.path.with_name(f"{self.path.stem}-{PHOTOS}")
        what = f"lamps-{step.group}" if step.kind == "lamps" else step.approach
        return folder / f"{step.number:03d}-{what}.png"

    @property
    def video_path(self) -> Path:
        """Where the video of the sweep is kept."""
        return self.path.with_name(f"{self.path.stem}-{SWEEP}.mp4")

    def keep_photo(self, step: RunStep, pixels: Pixels) -> Path:
        """Keep the photo of a step.

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

        Raises
        ------
        RunError
            If it cannot be written.
        """
        path = self.photo_path(step)
        coded, file = cv2.imencode(".png", pixels)
        if not coded:
            raise RunError(f"{path}: the picture cannot be coded")
        whole = file.tobytes()
        write_whole(path, marked_rehearsed(whole) if self.state.is_rehearsed else whole)
        return path

    def keep_step(
        self, rows: tuple[RunRow, ...], photo: PhotoReadings | None, done: int, key_ons: int
    ) -> None:
        """Keep what a step gave; nothing is half-written.

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
        RunError
            If something cannot be written; what was kept before is untouched.
        """
        # where needles stand on stops is found anew from all rows, later ones among them
        bare = tuple(
            replace(row, flags=tuple(flag for flag in row.flags if flag != ON_STOP)) for row in rows
        )
        state = self.state.model_copy(
            update={"rows": (*self.state.rows, *bare), "done": done, "key_ons": key_ons}
        )
        self._keep(state, photo)

    def keep_key_ons(self, key_ons: int) -> None:
        """Keep that the key was turned on, whatever becomes of the step it was turned on for.

        Parameters
        ----------
        key_ons
            Key-ons so far.

        Raises
        ------
        RunError
            If it cannot be written.
        """
        self._keep_state(self.state.model_copy(update={"key_ons": key_ons}))

    def keep_current(self, current: RestCurrent) -> None:
        """Keep what was drawn after a key-on.

        Parameters
        ----------
        current
            Of one key-on; a later one of the same number takes its place.

        Raises
        ------
        RunError
            If it cannot be written.
        """
        was = self.state.outcome
        others = tuple(one for one in was.rest_current if one.key_ons != current.key_ons)
        kept = replace(was, rest_current=(*others, current))
        self._keep_outcome(kept, {"key_ons": current.key_ons})

    def keep_check(self, given: Sweep | LampPhoto | None, done: int, key_ons: int) -> None:
        """Keep what the sweep or a group of lamps gave.

        Parameters
        ----------
        given
            None where it was skipped.
        done
            Steps finished then.
        key_ons
            Key-ons so far.

        Raises
        ------
        RunError
            If it cannot be written.
        """
        was = self.state.outcome
        if isinstance(given, Sweep):
            was = replace(was, sweep=given)
        elif given is not None:
            others = tuple(one for one in was.lamps if one.group != given.group)
            was = replace(was, lamps=(*others, given))
        self._keep_outcome(was, {"done": done, "key_ons": key_ons})

    def take_back(self, step: RunStep, done: int) -> None:
        """Take a step's rows out again.

        Parameters
        ----------
        step
            The step.
        done
            Steps finished then.

        Raises
        ------
        RunError
            If it cannot be written.
        """
        if step.kind == "look":
            rows = tuple(row for row in self.state.rows if row.step != step.number)
            self._keep(self.state.model_copy(update={"rows": rows, "done": done}), None)
            return
        was = self.state.outcome
        if step.kind == "sweep":
            was = replace(was, sweep=None)
        else:
            was = replace(was, lamps=tuple(one for one in was.lamps if one.group != step.group))
        self._keep_outcome(was, {"done": done})

    def finish(self) -> None:
        """Take the state away: nothing is left to do.

        Raises
        ------
        RunError
            If what the run gave cannot be written; the state is left then, to finish from.
        """
        self.write_again()
        state_path(self.path).unlink(missing_ok=True)

    def write_again(self) -> None:
        """Make from the state what a disk that was full, or an end in between, may have kept back.

        Raises
        ------
        RunError
            If it cannot be written.
        """
        if any(step.kind == "look" for step in self.state.steps[: self.state.done]):
            write_run(self.path, self.run)
        if not self.state.outcome.is_empty:
            self._write_outcome()

    def _keep_state(self, state: RunState) -> None:
        write_whole(state_path(self.path), state.model_dump_json(indent=1).encode())
        self.state = state

    def _keep_outcome(self, outcome: Outcome, update: dict[str, int]) -> None:
        state = self.state.model_copy(update={**update, "outcome": outcome})
        self._keep_state(state)
        self._write_outcome()

    def _write_outcome(self) -> None:
        text = TypeAdapter(Outcome).dump_json(self.state.outcome, indent=1) + b"\n"
        write_whole(outcome_path(self.path), text)

    def _keep(self, state: RunState, photo: PhotoReadings | None) -> None:
        if photo is not None:
            self._keep_evidence(state, photo)
        self._keep_state(state)
        write_run(self.path, self.run)

    def _keep_evidence(self, state: RunState, photo: PhotoReadings) -> None:
        """Of a photo whose rows the state is to hold; a step cut off here is looked at anew.

        Its evidence takes the place of what is written here then.
        """
        run = Run(state.run, state.rows)
        new = evidence_of(run, [photo], self.path.parent)
        named = {row.photo for row in run.rows} - {one.photo for one in new.photos}
        kept = tuple(one for one in self._evidence.photos if one.photo in named)
        evidence = Evidence(photos=(*kept, *new.photos))
        write_evidence(evidence_path(self.path), evidence)
        self._evidence = evidence


def begin(path: Path, family: Family, plan: RunPlan, cluster: str = REAL) -> KeptRun:
    """Begin a run, or take up the one that was interrupted.

    Parameters
    ----------
    path
        The CSV to be written.
    family
        The cluster design.
    plan
        What is to be done.
    cluster
        What stands on the bench, for taking it up again; anything but `bench` is a rehearsal.

    Returns
    -------
    KeptRun
        With `state.done` steps done already.

    Raises
    ------
    RunError
        If the file is of a finished run, or of another plan, family or cluster; or the state is
        damaged, or the folder not there.
    """
    kept = KeptRun(path, family, state_of(path, family, plan, cluster))
    kept.write_again()
    return kept


def write_whole(path: Path, content: bytes) -> None:
    """Write a file of a run that appears whole or not at all.

    Parameters
    ----------
    path
        Where to; its folder is made if only that is missing.
    content
        All of it.

    Raises
    ------
    RunError
        If it cannot be written.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(exist_ok=True)
        with part.open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
        flush_folder(path.parent)
    except OSError as error:
        reason = error.strerror or error
        raise RunError(
            f"{path}: cannot be written ({reason}); the run is kept up to the step before; check "
            "the folder and its room, then go on"
        ) from error
    finally:
        with suppress(OSError):  # what could not be written may be nothing that can be removed
            part.unlink(missing_ok=True)
