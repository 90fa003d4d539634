"""Where a job stands, from what was written down as it went."""

from dataclasses import replace
from typing import Final, cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.records.tables import StageEvent
from needlewright.records.views import StageState, StageView
from needlewright.records.words import STAGE_WORDS, STAGES, Stage

_STATE_AFTER: Final[dict[str, StageState]] = {
    "started": "in_hand",
    "finished": "finished",
    "reopened": "in_hand",
    "taken_back": "to_do",
}


def stage_views(session: Session, job_id: int) -> tuple[StageView, ...]:
    """Every part of the work of a job, in its order."""
    views: dict[Stage, StageView] = {
        stage: StageView(stage, STAGE_WORDS[stage], "to_do", None, None, None, None)
        for stage in STAGES
    }
    query = select(StageEvent).where(StageEvent.job_id == job_id).order_by(StageEvent.id)
    for event in session.scalars(query.options(joinedload(StageEvent.person))):
        stage = cast("Stage", event.stage)
        view = views.get(stage) or StageView(
            stage, STAGE_WORDS[stage], "to_do", None, None, None, None
        )
        views[stage] = _after(view, event)
    return tuple(views[stage] for stage in STAGE_WORDS if stage in views)


def _after(view: StageView, event: StageEvent) -> StageView:
    state = _STATE_AFTER[event.step]
    at, by = event.at, event.person.name
    match event.step:
        case "started":
            return replace(view, state=state, started_at=at, started_by=by)
        case "finished":
            started_at, started_by = view.started_at or at, view.started_by or by
            return replace(
                view,
                state=state,
                started_at=started_at,
                started_by=started_by,
                finished_at=at,
                finished_by=by,
            )
        case "taken_back":
            return replace(
                view,
                state=state,
                started_at=None,
                started_by=None,
                finished_at=None,
                finished_by=None,
            )
    return replace(view, state=state, finished_at=None, finished_by=None)
