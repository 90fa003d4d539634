"""Where a run stands: its plan, what is done of it, what it gave; and taking one up again."""

from pathlib import Path
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from needlewright.bench.outcome import Outcome
from needlewright.bench.steps import RunPlan, StepKind
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.readings.runs import Approach, RunRow

REAL: Final = "bench"
"""What is said to stand on a bench where a real cluster does."""
STATE_SUFFIX: Final = ".bench.json"
OUTCOME_SUFFIX: Final = ".outcome.json"
Finite = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]


class StepState(BaseModel):
    """One step of the plan, as kept."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    number: Count
    approach: Approach
    told: dict[str, Finite]
    key_ons: Count
    kind: StepKind = "look"
    group: str = ""


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
    outcome: Outcome = Outcome()

    @property
    def is_rehearsed(self) -> bool:
        """Whether no real cluster stood there."""
        return self.cluster != REAL


def state_path(run_csv: Path) -> Path:
    """Where the state of a run's CSV lies."""
    return run_csv.with_suffix(STATE_SUFFIX)


def outcome_path(run_csv: Path) -> Path:
    """Where what a run gives beside its rows lies."""
    return run_csv.with_suffix(OUTCOME_SUFFIX)


def state_of(path: Path, family: Family, plan: RunPlan, cluster: str) -> RunState:
    """The state of a run that is begun, or of the one that was interrupted.

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
    RunState
        With `done` steps done already.

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
        StepState(
            number=s.number,
            approach=s.approach,
            told=dict(s.told),
            key_ons=s.key_ons,
            kind=s.kind,
            group=s.group,
        )
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
        return fresh
    state = _read_state(state_file)
    for what, was, now in (
        ("another family", state.family, fresh.family),
        ("another cluster", state.cluster, cluster),
        ("other check points", _looks(state.steps), _looks(steps)),
    ):
        if was != now:
            told = "" if what == "other check points" else f" ('{was}', now '{now}')"
            raise RunError(
                f"{path}: an interrupted run of {what}{told} is there; give the same "
                f"as then to go on with it, or remove {state_file.name} and {path.name}"
            )
    if state.steps[: state.done] != steps[: state.done]:
        raise RunError(
            f"{path}: the interrupted run there has done a sweep or lamps that it is now told to "
            "leave out; give the same as then to go on with it"
        )
    # what follows the looks may be left out, or wanted after all, until it is done
    return state.model_copy(update={"steps": steps})


def _looks(steps: tuple[StepState, ...]) -> tuple[StepState, ...]:
    return tuple(step for step in steps if step.kind == "look")


def _read_state(path: Path) -> RunState:
    try:
        return TypeAdapter(RunState).validate_json(path.read_bytes())
    except (ValidationError, OSError) as error:
        raise RunError(
            f"{path}: cannot be used to go on with the run; remove it and the CSV, and begin again"
        ) from error
