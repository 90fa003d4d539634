"""The folder of a run that is not finished at the bench: what is left to do, and at which bench."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from needlewright.bench.keeping import KeptRun, begin
from needlewright.bench.run_state import RunState, state_path
from needlewright.bench.steps import RunPlan
from needlewright.composing.bench_choice import BenchChoice
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.records.opening import Shop
from needlewright.records.trouble import said_plainly

FOLDER: Final = "bench"
RUN: Final = "run.csv"
CHOICE: Final = "choice.json"


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A run that is not finished at the bench."""

    choice: BenchChoice
    state: RunState


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


def _write(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    with part.open("w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    part.replace(path)
