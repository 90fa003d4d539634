"""What is kept of a run while it lasts: its rows, what is left to do, photos, evidence.

`as-found.csv` grows with every step; beside it `as-found.bench.json` says where the run stands, so
that it goes on there after whatever ended it. Each file appears whole or not at all. The state is
written first and holds every row, so the CSV can be made from it again.
"""

import os
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Final

import cv2
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

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
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import Approach, Run, RunRow
from needlewright.readings.stops import ON_STOP

STATE_SUFFIX: Final = ".bench.json"
PHOTOS: Final = "photos"
Finite = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]


class StepState(BaseModel):
    """One step of the plan, as kept."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    number: Count
    approach: Approach
    told: dict[str, Finite]
    key_ons: Count


class RunState(BaseModel):
    """Where a run stands."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    run: str
    family: str
    cluster: str
    """What stood on the bench, as far as the program knows: `bench`, or how it was rehearsed."""
    steps: tuple[StepState, ...]
    done: Count
    """Steps that are finished, the skipped ones among them."""
    key_ons: Count
    rows: tuple[RunRow, ...]


def state_path(run_csv: Path) -> Path:
    """Where the state of a run's CSV lies."""
    return run_csv.with_suffix(STATE_SUFFIX)


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
            tuple(RunStep(s.number, s.approach, s.told, s.key_ons) for s in self.state.steps)
        )

    @property
    def run(self) -> Run:
        """The run so far, completed with the family."""
        return complete_run(Run(self.state.run, self.state.rows), self.family)

    def photo_path(self, step: RunStep) -> Path:
        """Where the photo of a step is kept."""
        folder = self.path.with_name(f"{self.path.stem}-{PHOTOS}")
        return folder / f"{step.number:03d}-{step.approach}.png"

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
        _write_whole(path, file.tobytes())
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
        rows = tuple(row for row in self.state.rows if row.step != step.number)
        self._keep(self.state.model_copy(update={"rows": rows, "done": done}), None)

    def finish(self) -> None:
        """Take the state away: nothing is left to do."""
        state_path(self.path).unlink(missing_ok=True)

    def _keep(self, state: RunState, photo: PhotoReadings | None) -> None:
        _write_whole(state_path(self.path), state.model_dump_json(indent=1).encode())
        self.state = state
        run = self.run
        write_run(self.path, run)
        if photo is not None:
            new = evidence_of(run, [photo], self.path.parent)
            names = {one.photo for one in new.photos}
            kept = tuple(one for one in self._evidence.photos if one.photo not in names)
            self._evidence = Evidence(photos=(*kept, *new.photos))
            write_evidence(evidence_path(self.path), self._evidence)


def begin(path: Path, family: Family, plan: RunPlan, cluster: str = "bench") -> KeptRun:
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
        What stands on the bench, for taking it up again.

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
    state_file = state_path(path)
    if path.suffix.lower() != ".csv":
        raise RunError(f"{path}: name a file that ends in .csv")
    if not path.parent.is_dir():
        raise RunError(f"{path}: there is no folder {path.parent}; make it or name another one")
    steps = tuple(
        StepState(number=s.number, approach=s.approach, told=dict(s.told), key_ons=s.key_ons)
        for s in plan.steps
    )
    fresh = RunState(
        run=path.stem,
        family=family.name,
        cluster=cluster,
        steps=steps,
        done=0,
        key_ons=0,
        rows=(),
    )
    if not state_file.exists():
        if path.exists():
            raise RunError(f"{path}: is there already; name another file, or move it away")
        return KeptRun(path, family, fresh)
    state = _read_state(state_file)
    for what, was, now in (
        ("another family", state.family, fresh.family),
        ("another cluster", state.cluster, cluster),
        ("other check points", state.steps, steps),
    ):
        if was != now:
            told = "" if what == "other check points" else f" ('{was}', now '{now}')"
            raise RunError(
                f"{path}: an interrupted run of {what}{told} is there; give the same "
                f"as then to go on with it, or remove {state_file.name} and {path.name}"
            )
    return KeptRun(path, family, state)


def _read_state(path: Path) -> RunState:
    try:
        return TypeAdapter(RunState).validate_json(path.read_bytes())
    except (ValidationError, OSError) as error:
        raise RunError(
            f"{path}: cannot be used to go on with the run; remove it and the CSV, and begin again"
        ) from error


def _write_whole(path: Path, content: bytes) -> None:
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(exist_ok=True)
        with part.open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
    except OSError as error:
        reason = error.strerror or error
        raise RunError(
            f"{path}: cannot be written ({reason}); the run is kept up to the step before; check "
            "the folder and its room, then go on"
        ) from error
    finally:
        with suppress(OSError):  # what could not be written may be nothing that can be removed
            part.unlink(missing_ok=True)
