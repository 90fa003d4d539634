"""Jobs: the shelf, the sheet, and everything said about a job."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query

from needlewright.composing import undoing
from needlewright.records import intake, jobs, returning, stages
from needlewright.records.entries import JobEntry, NewJob, ReceiveEntry, ReturnEntry
from needlewright.records.sheet import job_sheet
from needlewright.records.shelf import shelf
from needlewright.records.views import EditView, JobSheet, OdometerState, Shelf, Undone
from needlewright.records.words import Stage, WaitsFor
from needlewright.web.api.bodies import (
    By,
    DecisionBody,
    Fields,
    InstrumentsBody,
    NoteBody,
    Seen,
    WaitsBody,
    fields_of,
)
from needlewright.web.pages import Asked, Tag

MOST_LINES = 500
FARTHEST = 10_000_000
Step = Literal["start", "finish", "reopen"]
router = APIRouter(tags=["jobs"])
_STEPS = {
    "start": stages.start_stage,
    "finish": stages.finish_stage,
    "reopen": stages.reopen_stage,
}


@router.get("/shelf")
def read_shelf(
    asked: Asked,
    words: Annotated[str, Query(max_length=200)] = "",
    *,
    waits_for: WaitsFor | None = None,
    stage: Stage | None = None,
    returned: bool = False,
    limit: Annotated[int, Query(ge=1, le=MOST_LINES)] = 100,
    offset: Annotated[int, Query(ge=0, le=FARTHEST)] = 0,
) -> Shelf:
    """Jobs in the house, the one promised first in front."""
    return shelf(
        asked.shop,
        words,
        waits_for=waits_for,
        stage=stage,
        returned=returned,
        limit=limit,
        offset=offset,
    )


@router.post("/jobs", status_code=201)
def open_job(asked: Asked, fields: Annotated[Fields, fields_of(NewJob)], by: By = None) -> JobSheet:
    """Open a job under a new tag."""
    return jobs.new_job(asked.shop, fields, by or asked.by)


@router.get("/jobs/{tag}")
def read_job(asked: Asked, tag: Tag) -> JobSheet:
    """Everything of one job but its readings."""
    return job_sheet(asked.shop, tag)


@router.patch("/jobs/{tag}")
def edit(
    asked: Asked,
    tag: Tag,
    fields: Annotated[Fields, fields_of(JobEntry)],
    by: By = None,
    seen: Seen = None,
) -> JobSheet:
    """Change what is said about a job; fields that are not sent stay."""
    return jobs.edit_job(asked.shop, tag, fields, by or asked.by, seen=seen)


@router.patch("/jobs/{tag}/received")
def edit_received(
    asked: Asked,
    tag: Tag,
    fields: Annotated[Fields, fields_of(ReceiveEntry)],
    by: By = None,
    seen: Seen = None,
) -> JobSheet:
    """Change how the box came in."""
    return intake.receive(asked.shop, tag, fields, by or asked.by, seen=seen)


@router.patch("/jobs/{tag}/returned")
def edit_returned(
    asked: Asked,
    tag: Tag,
    fields: Annotated[Fields, fields_of(ReturnEntry)],
    by: By = None,
    seen: Seen = None,
) -> JobSheet:
    """Change how the box goes out."""
    return returning.record_return(asked.shop, tag, fields, by or asked.by, seen=seen)


@router.get("/jobs/{tag}/odometer")
def odometer(asked: Asked, tag: Tag) -> OdometerState:
    """Whether the odometer's outcome lets the job be returned."""
    return returning.odometer_state(asked.shop, tag)


@router.post("/jobs/{tag}/waits")
def wait_for(asked: Asked, tag: Tag, body: WaitsBody, by: By = None) -> JobSheet:
    """Say what a job waits for."""
    return jobs.wait_for(asked.shop, tag, body.what, by or asked.by)


@router.post("/jobs/{tag}/notes")
def add_note(asked: Asked, tag: Tag, body: NoteBody, by: By = None) -> JobSheet:
    """Write a note."""
    return jobs.add_note(asked.shop, tag, body.text, by or asked.by)


@router.post("/jobs/{tag}/decisions")
def decide(asked: Asked, tag: Tag, body: DecisionBody, by: By = None) -> JobSheet:
    """Write a decision and its reason."""
    return jobs.decide(asked.shop, tag, body.text, body.why, by or asked.by, kind=body.kind)


@router.put("/jobs/{tag}/instruments")
def use_instruments(asked: Asked, tag: Tag, body: InstrumentsBody, by: By = None) -> JobSheet:
    """Say which instruments a job is done with."""
    return jobs.use_instruments(asked.shop, tag, body.numbers, by or asked.by)


@router.get("/jobs/{tag}/stages/{stage}/missing")
def missing(asked: Asked, tag: Tag, stage: Stage) -> tuple[str, ...]:
    """Why a part of the work cannot be finished yet; empty where it can."""
    return stages.what_is_missing(asked.shop, tag, stage)


@router.post("/jobs/{tag}/stages/{stage}/{step}")
def move(asked: Asked, tag: Tag, stage: Stage, step: Step, by: By = None) -> JobSheet:
    """Start a part of the work, finish it, or take it up again."""
    return _STEPS[step](asked.shop, tag, stage, by or asked.by)


@router.get("/jobs/{tag}/history")
def history(
    asked: Asked, tag: Tag, limit: Annotated[int, Query(ge=1, le=MOST_LINES)] = 50
) -> tuple[EditView, ...]:
    """Who saved what, newest first."""
    return undoing.history(asked.shop, tag, limit)


@router.post("/jobs/{tag}/undo")
def undo_last(asked: Asked, tag: Tag, by: By = None) -> Undone:
    """Take back the last thing that was saved."""
    return undoing.undo_last(asked.shop, tag, by or asked.by)
