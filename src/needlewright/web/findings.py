"""The findings of a job: what is probably wrong, what shows it, and what to test next."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Final

from fastapi import APIRouter, HTTPException
from starlette.responses import HTMLResponse, Response

from needlewright.composing.bench_seen import lamp_photos
from needlewright.composing.explaining import signature_chart
from needlewright.composing.gauge_names import gauge_names
from needlewright.composing.job_answers import Decision, answer_question, overrule, take_answers
from needlewright.composing.job_findings import STAGES, job_findings, place_named
from needlewright.composing.kept_looks import is_looks
from needlewright.composing.kept_pieces import take_analysis
from needlewright.composing.run_pieces import explained_dial
from needlewright.composing.undoing import undo_last
from needlewright.errors import ConflictError, NeedlewrightError, UnusableInput
from needlewright.findings.troubleshooting.answers import AnswersError
from needlewright.findings.troubleshooting.model import SOUND
from needlewright.findings.troubleshooting.next_test import Stage
from needlewright.papers import ink
from needlewright.records.answers import Given
from needlewright.records.board import board_of
from needlewright.records.needle_heights import is_height
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.records.words import AnswerSource
from needlewright.web import findings_files
from needlewright.web.findings_files import begin_looking
from needlewright.web.findings_view import FindingsView, question_id
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_measured import family_version
from needlewright.web.sheet_view import NOTHING_WRONG, SheetView, WrongAt

ANSWERS: Final = {"yes": True, "no": False, "": None}
LOOKS_AHEAD: Final = 1
"""The answer is to change the ranking at once; the command line looks one test further."""
router = APIRouter(include_in_schema=False)
router.include_router(findings_files.router)


@router.get("/jobs/{tag}/findings", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag, *, at: str = "") -> Response:
    """The findings of a job, for where its cluster is said to be."""
    return _page(asked, tag, at=place_named(at) if at else None)


@router.get("/jobs/{tag}/findings/charts/{dial}.svg", response_class=Response)
def chart(asked: Asked, tag: Tag, dial: str) -> Response:
    """A dial's readings as found, with what explains them best and what comes next."""
    explained = explained_dial(asked.shop, tag, dial)
    if explained is None:
        raise HTTPException(HTTPStatus.NOT_FOUND)
    from needlewright.papers.signature_chart import (  # noqa: PLC0415 - slow to import
        signature_charts_svg,
    )

    svg = signature_charts_svg([signature_chart(dial, explained)], type_stack=ink.SANS_STACK)
    return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "no-cache"})


@router.post("/jobs/{tag}/findings/answer")
def answer(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Keep an answer to a question or a test, or that it is not known."""
    finding, dial = sent.text("finding"), sent.text("dial") or None

    def keep() -> JobSheet:
        said, shown = sent.text("yes"), sent.text("shown")
        if shown and shown != question_id(finding, dial):
            raise ConflictError(asked.texts("findings.answer.other"))
        if said not in ANSWERS:
            raise UnusableInput(asked.texts("findings.answer.unknown", said=said))
        given = Given(finding, ANSWERS[said], dial)
        place: AnswerSource = "bench" if sent.text("place") == "bench" else "typed"
        return answer_question(asked.shop, tag, given, asked.by, source=place)

    return _saving(asked, sent, tag, sent.text("form"), keep)


@router.post("/jobs/{tag}/findings/pasted")
def pasted(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Keep the answers of a text that came back."""

    def keep() -> JobSheet:
        text = sent.text("text")
        if not text.strip():
            raise UnusableInput(asked.texts("findings.pasted.none"))
        try:
            return take_answers(asked.shop, tag, text, asked.by, source="pasted")
        except AnswersError as error:
            raise UnusableInput(_unread(asked, tag, error)) from error

    return _saving(asked, sent, tag, "pasted", keep)


@router.post("/jobs/{tag}/findings/analysis")
def analysis(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take in what an analysis of files outside the records saw."""

    def keep() -> JobSheet:
        files = sent.files("file")
        if not files:
            raise UnusableInput(asked.texts("findings.analysis.none"))
        return take_analysis(asked.shop, tag, files[0].name, files[0].content(), asked.by)

    return _saving(asked, sent, tag, "analysis", keep)


@router.post("/jobs/{tag}/findings/files")
def look_at(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Have photos of lamps, or a log of the vehicle with its photos, looked at."""
    form = f"files-{sent.text('kind')}"
    return _saving(asked, sent, tag, form, lambda: begin_looking(asked, sent, tag))


@router.post("/jobs/{tag}/findings/files/stop")
def stop_looking(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Leave off looking at files; nothing was kept of them yet."""

    def stop() -> JobSheet:
        job = job_sheet(asked.shop, tag)
        asked.house.analyses.stop(job.id)
        return job

    return _saving(asked, sent, tag, "files", stop)


@router.post("/jobs/{tag}/findings/decide")
def decide(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Keep what a person decided a dial or a system has."""
    causes = tuple(one for one in sent.every("cause") if one)

    def keep() -> JobSheet:
        why = sent.text("why")
        if not causes or not why.strip():
            lacks = "none" if why.strip() else "no_why" if causes else "nothing"
            raise UnusableInput(asked.texts(f"findings.decide.{lacks}"))
        if SOUND in causes and len(set(causes)) > 1:
            raise UnusableInput(asked.texts("findings.decide.both"))
        part = sent.text("part") or None
        decision = Decision(sent.text("subject"), causes, why, part)
        return overrule(asked.shop, tag, decision, asked.by)

    return _saving(asked, sent, tag, sent.text("form"), keep)


@router.post("/jobs/{tag}/findings/undo")
def undo(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take back the answer, decision or analysis that was saved last, and stay here."""

    def take_back() -> JobSheet:
        before = job_sheet(asked.shop, tag)
        view = SheetView(asked.shop, asked.texts, before.tag)
        if not view.undoes_findings:
            what = "" if view.undoable is None else view.undoable.what
            raise ConflictError(asked.texts("findings.undo.other", what=what))
        undo_last(asked.shop, tag, asked.by)
        return job_sheet(asked.shop, before.tag)

    return _saving(asked, sent, tag, "undo", take_back)


def _unread(asked: Asking, tag: str, error: AnswersError) -> str:
    """Why a pasted text is not taken in, in the page's words: its grammar is for programs."""
    family = family_version(asked.shop, job_sheet(asked.shop, tag).family_version_id)
    words = f"findings.pasted.{error.kind}"
    gauges = ", ".join(gauge_names(family).values())
    return asked.texts(words, line=error.line, shown=error.shown, gauges=gauges, family=family.name)


def _page(
    asked: Asking,
    tag: str,
    wrong: WrongAt = NOTHING_WRONG,
    status: int = 200,
    at: Stage | None = None,
) -> HTMLResponse:
    view = SheetView(asked.shop, asked.texts, tag)
    family = family_version(asked.shop, view.job.family_version_id)
    found = job_findings(asked.shop, tag, family=family, at=at, looks_ahead=LOOKS_AHEAD)
    return asked.page(
        "findings.html",
        status,
        view=view,
        job=view.job,
        found=found,
        shown=FindingsView(found, asked.texts, board_of(asked.shop, view.job.tag)),
        wrong=wrong,
        chosen_at=at or "",
        looking=asked.house.analyses.far(view.job.id),
        unseen=asked.house.analyses.problem,
        lamp_photos=lamp_photos(view.job),
        analysed=[
            one for one in view.job.analyses if not is_height(one.name) and not is_looks(one.name)
        ],
    )


def _saving(
    asked: Asking, sent: SentForm, tag: str, form: str, save: Callable[[], JobSheet]
) -> Response:
    """Save, and answer: with the findings as they then are, or with what is wrong."""
    chosen = sent.text("at")
    at = next((one for one in STAGES if one == chosen), None)
    try:
        job = save()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        return _page(
            asked, tag, WrongAt(form, wrong_of(error), dict(sent.fields)), status_of(error), at
        )
    query = {} if at is None else {"at": at}
    where = asked.at("/jobs", job.tag, "findings", **query)
    return asked.saved(f"{where}#{form}", version=job.version)
