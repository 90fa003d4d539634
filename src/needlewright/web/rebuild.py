"""The work of a job's plan as it is done: boxes to tick, notes, parts to pull."""

from collections.abc import Callable
from typing import Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.rebuild import job_rebuild, rebuild_line
from needlewright.composing.undoing import undo_last
from needlewright.errors import ConflictError, NeedlewrightError, UnusableInput
from needlewright.papers.plan_sheet import MILEAGE, SAFETY
from needlewright.records.sheet import job_sheet
from needlewright.records.stock import use_part
from needlewright.records.tick_lines import is_of_plans
from needlewright.records.ticks import tick, untick, withdraw_note, write_note
from needlewright.records.views import JobSheet
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.rebuild_view import RebuildPage
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import NOTHING_WRONG, SheetView, WrongAt
from needlewright.web.stock_jobs import line_seen
from needlewright.web.stock_view import is_of_stock
from needlewright.web.work_places import place_of_step

STEPS: Final = "steps"
router = APIRouter(include_in_schema=False)


@router.get("/jobs/{tag}/rebuild", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag) -> Response:
    """The steps of the plan, in their order."""
    return _page(asked, tag)


@router.post("/jobs/{tag}/rebuild/tick")
def mark(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Tick a step or a part, or take its tick off."""
    key = sent.text("tick") or sent.text("untick")

    def save() -> None:
        if not key:
            raise UnusableInput(asked.texts("rebuild.wrong.no_key"))
        line = rebuild_line(asked.shop, tag, key)
        if sent.text("tick"):
            tick(asked.shop, tag, line, asked.by)
        else:
            untick(asked.shop, tag, line, asked.by)

    return _saving(asked, sent, tag, STEPS, save)


@router.post("/jobs/{tag}/rebuild/note")
def note(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Note what was found at a step."""

    def save() -> None:
        line = rebuild_line(asked.shop, tag, sent.text("key"))
        if not sent.text("note").strip():
            raise UnusableInput(asked.texts("rebuild.notes.empty"))
        write_note(asked.shop, tag, line, sent.text("note"), asked.by)

    return _saving(asked, sent, tag, sent.text("form")[:40] or STEPS, save)


@router.post("/jobs/{tag}/rebuild/notes/{note_id}/off")
def note_off(asked: Asked, sent: Sent, tag: Tag, note_id: int) -> Response:
    """Take a note off; undo brings it back."""
    return _saving(
        asked, sent, tag, STEPS, lambda: withdraw_note(asked.shop, tag, note_id, asked.by)
    )


@router.post("/jobs/{tag}/rebuild/use")
def use(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take a part of the plan out of stock, as many as are still to be fitted."""

    def save() -> None:
        part, count = sent.text("part"), sent.text("count")
        why, line = asked.texts("rebuild.parts.why"), line_seen(sent)
        use_part(asked.shop, tag, part, count, asked.by, why=why, seen=line)

    return _saving(asked, sent, tag, "parts", save)


@router.post("/jobs/{tag}/rebuild/undo")
def undo(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take back what was saved last, where it is of the rebuild, and stay here."""

    def save() -> None:
        last = SheetView(asked.shop, asked.texts, tag).undoable
        if last is None or not (is_of_plans(last.what) or is_of_stock(last.what)):
            what = "" if last is None else last.what
            raise ConflictError(asked.texts("rebuild.undo.other", what=what))
        undo_last(asked.shop, tag, asked.by)

    return _saving(asked, sent, tag, "undo", save)


def _page(
    asked: Asking, tag: str, wrong: WrongAt = NOTHING_WRONG, status: int = 200
) -> HTMLResponse:
    view = SheetView(asked.shop, asked.texts, tag)
    work = job_rebuild(asked.shop, view.job.tag, view.family)
    last = view.undoable
    return asked.page(
        "rebuild.html",
        status,
        view=view,
        job=view.job,
        work=work,
        shown=None if work is None else RebuildPage(asked.shop, work),
        wrong=wrong,
        safety=(SAFETY, MILEAGE),
        place_of_step=place_of_step,
        undoes_rebuild=last is not None and (is_of_plans(last.what) or is_of_stock(last.what)),
    )


def _saving(
    asked: Asking, sent: SentForm, tag: str, form: str, save: Callable[[], None]
) -> Response:
    """Save, and answer: with the work as it then is, or with what is wrong."""
    try:
        save()
        job: JobSheet = job_sheet(asked.shop, tag)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(form, wrong_of(error), dict(sent.fields))
        return _page(asked, tag, wrong, status_of(error))
    where = asked.at("/jobs", job.tag, "rebuild")
    place = sent.text("place") or form
    return asked.saved(f"{where}#{place}", version=job.version)
