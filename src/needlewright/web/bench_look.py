"""What the bench screen shows of a run: under way, just ended, or interrupted long ago."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, NoReturn

from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.bench_folder import is_unfinished, take_up, unfinished
from needlewright.composing.judged import Side
from needlewright.errors import ConflictError
from needlewright.families.model import Family
from needlewright.records.families import load_version
from needlewright.records.sheet import job_sheet
from needlewright.records.views import RunSheet
from needlewright.web.bench_words import Rows, document, interrupted
from needlewright.web.pages import Asking
from needlewright.web.sheet_run_view import run_view

RESULTS: Final = {"good": "good", "doubt": "good", "bad": "bad", "bad_doubt": "bad"}
"""A verdict's sign, as the page colours it."""


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a run."""

    family: Family
    document: Mapping[str, Any]
    is_on: bool
    choice: BenchChoice | None
    """The bench it is at, or goes on at; None: nothing is left to do."""
    is_nothing_left: bool = False
    """Whether there is nothing to be shown."""


def look_at(asked: Asking, run: RunSheet) -> Look:
    """Look where a run stands.

    Parameters
    ----------
    asked
        The request.
    run
        The run.

    Returns
    -------
    Look
        Of the run.

    Raises
    ------
    RunError
        If what is left to do cannot be read.
    """
    session = asked.house.bench.at(run.id)
    family = load_version(asked.shop, run.family_version_id)
    is_on = session is not None and not session.ended.is_set()
    is_left = is_unfinished(asked.shop, run.id)
    choice = unfinished(asked.shop, run.id).choice if is_left else None
    if session is not None and (is_on or run.set_aside_at is None):
        said = document(session)
        if said["phase"] == "finished":
            said["results"] = _results(asked, run)
        return Look(session.kept.family, said, is_on, choice)
    if not is_left:
        nothing = {"phase": "finished", "words": "", "done": 0, "of": 0, "steps": []}
        return Look(family, nothing, False, None, is_nothing_left=True)
    kept = take_up(asked.shop, run.id, family)
    state = kept.state
    rows = Rows(family, kept.plan.steps, state.done, kept.run, state.outcome)
    return Look(family, interrupted(state, rows), False, choice)


def _results(asked: Asking, run: RunSheet) -> list[dict[str, str]]:
    """What a finished run comes to, dial by dial, as the job sheet says it."""
    job = job_sheet(asked.shop, run.tag)
    side: Side = "left" if run.side == "left" else "found"
    view = run_view(asked.shop, asked.texts, side, run, max_speed=job.max_speed, typed=False)
    return [
        {"dial": dial.dial, "words": dial.words, "result": RESULTS.get(dial.sign, "none")}
        for dial in view.dials
    ]


def gone() -> NoReturn:
    """Refuse what is wanted of a run that is not under way."""
    raise ConflictError(
        "bench: the run is not on; nothing was changed; look where it stands, and go on with it "
        "first"
    )
