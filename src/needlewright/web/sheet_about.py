"""What is said about a job at any time: its facts, what it waits for, notes, decisions, undo."""

from typing import Any, Final, cast

from fastapi import APIRouter
from starlette.responses import Response

from needlewright.composing.undoing import undo_last
from needlewright.records.jobs import (
    EDITABLE,
    add_note,
    decide,
    edit_job,
    use_instruments,
    wait_for,
)
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import finish_stage, reopen_stage
from needlewright.records.views import JobSheet
from needlewright.records.words import DecisionKind, Stage, WaitsFor
from needlewright.web.pages import Asked, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.sheet_saving import plain_numbers, saving, seen
from needlewright.web.sheet_view import SheetView

NUMBERS: Final = ("max_speed", "odometer_in")
LISTS: Final = ("work_done", "remarks")
router = APIRouter()


@router.post("/jobs/{tag}/facts")
def facts(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Save facts of the job, from whichever part of the sheet they were typed in."""
    form = sent.text("form") or "about"
    return saving(
        asked,
        sent,
        tag,
        form,
        lambda: edit_job(asked.shop, tag, _changes(sent), asked.by, seen=seen(sent)),
    )


def _changes(sent: SentForm) -> dict[str, Any]:
    stated: dict[str, Any] = plain_numbers(sent.stated(*EDITABLE), NUMBERS)
    for name in LISTS:
        if name in stated:
            stated[name] = [line for line in str(stated[name]).splitlines() if line.strip()]
    return stated


@router.post("/jobs/{tag}/waits")
def waits(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Say what the job waits for."""
    what = cast("WaitsFor", sent.text("waits_for"))
    return saving(asked, sent, tag, "waits", lambda: wait_for(asked.shop, tag, what, asked.by))


@router.post("/jobs/{tag}/instruments")
def used(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Say which instruments the job is done with."""
    numbers = sent.every("number")
    return saving(
        asked, sent, tag, "instruments", lambda: use_instruments(asked.shop, tag, numbers, asked.by)
    )


@router.post("/jobs/{tag}/notes")
def note(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Write a note."""
    return saving(
        asked, sent, tag, "note", lambda: add_note(asked.shop, tag, sent.text("text"), asked.by)
    )


@router.post("/jobs/{tag}/decisions")
def decision(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Write a decision and its reason."""
    form = sent.text("form") or "decision"
    kind = cast("DecisionKind", sent.text("kind") or "other")
    return saving(
        asked,
        sent,
        tag,
        form,
        lambda: decide(asked.shop, tag, sent.text("text"), sent.text("why"), asked.by, kind=kind),
    )


@router.post("/jobs/{tag}/parts/{stage}/finish")
def finish(asked: Asked, sent: Sent, tag: Tag, stage: str) -> Response:
    """Finish a part of the work."""
    part = cast("Stage", stage)
    return saving(
        asked,
        sent,
        tag,
        f"part-{stage}",
        lambda: finish_stage(asked.shop, tag, part, asked.by),
        anchor="main",
    )


@router.post("/jobs/{tag}/parts/{stage}/reopen")
def reopen(asked: Asked, sent: Sent, tag: Tag, stage: str) -> Response:
    """Take a finished part up again."""
    part = cast("Stage", stage)
    return saving(
        asked,
        sent,
        tag,
        f"part-{stage}",
        lambda: reopen_stage(asked.shop, tag, part, asked.by),
    )


@router.post("/jobs/{tag}/undo")
def undo(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take back the last thing that was saved."""

    def take_back() -> JobSheet:
        before = job_sheet(asked.shop, tag)
        last = SheetView(asked.shop, asked.texts, before.tag).undoable
        undo_last(asked.shop, tag, asked.by)
        renamed = [] if last is None else [old for name, old, _ in last.changes if name == "tag"]
        return job_sheet(asked.shop, renamed[0] if renamed else before.tag)

    return saving(asked, sent, tag, "history", take_back, anchor="main")
