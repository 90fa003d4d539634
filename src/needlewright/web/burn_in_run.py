"""One burn-in: watched while it is on, gone on with after whatever ended it, and its report."""

from typing import Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, JSONResponse, Response

from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.burn_in_bench import refuse_on_real_bench
from needlewright.composing.burn_in_drawn import drift_svg
from needlewright.composing.burn_in_job import family_of
from needlewright.composing.burn_in_known import known_in
from needlewright.composing.burn_in_pictures import pictures_of
from needlewright.composing.burn_in_report import drift_charts, report_document
from needlewright.composing.undoing import burn_in_is_on
from needlewright.errors import ConflictError, NeedlewrightError, NotThereError, RunError
from needlewright.papers import ink
from needlewright.records.burn_ins import burn_ins_of, set_aside_burn_in
from needlewright.records.sheet import job_sheet
from needlewright.records.views.burn_ins import BurnInView
from needlewright.web.bench_forms import BY_HAND, choice_in, offers
from needlewright.web.bench_order import Order
from needlewright.web.burn_in_desk import choice_of, require_here
from needlewright.web.burn_in_view import (
    Look,
    events_shown,
    first_shown,
    look_at,
    now_document,
    require_written,
)
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import NOTHING_WRONG, WrongAt

FORM: Final = "burn-in-run"
NOTHING_KEPT: Final = {"Cache-Control": "no-store"}
router = APIRouter(include_in_schema=False)


@router.get("/jobs/{tag}/burn-in/{burn_in_id}", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag, burn_in_id: int) -> Response:
    """The burn-in: its running view, or what it gave."""
    return _page(asked, _view(asked, tag, burn_in_id))


@router.get("/jobs/{tag}/burn-in/{burn_in_id}/now")
def now(asked: Asked, tag: Tag, burn_in_id: int) -> Response:
    """Where it stands, for the page's script to ask again and again."""
    look = _look(asked, _view(asked, tag, burn_in_id))
    return JSONResponse(now_document(asked.shop, look), headers=NOTHING_KEPT)


@router.get("/jobs/{tag}/burn-in/{burn_in_id}/picture.jpg")
def picture(asked: Asked, tag: Tag, burn_in_id: int) -> Response:
    """The newest picture of the camera."""
    session = asked.house.burn_ins.at(_view(asked, tag, burn_in_id).id)
    content = None if session is None else session.picture[1]
    if content is None:
        raise NotThereError("there is no picture of this burn-in now; look where it stands")
    return Response(content, media_type="image/jpeg", headers=NOTHING_KEPT)


@router.get("/jobs/{tag}/burn-in/{burn_in_id}/drift.svg")
def drift(asked: Asked, tag: Tag, burn_in_id: int, *, paper: bool = False) -> Response:
    """The drift of its check points, drawn."""
    look = _look(asked, _view(asked, tag, burn_in_id))
    journal, family = require_written(look), family_of(asked.shop, look.view)
    report = report_document(journal, family, known_in(look.view.known))
    stack = ink.SERIF_STACK if paper else ink.SANS_STACK
    svg = drift_svg(report, drift_charts(journal, family, report), stack)
    if svg is None:
        raise NotThereError("no check point was read yet, so there is no chart; wait for the first")
    return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "no-cache"})


@router.get("/jobs/{tag}/burn-in/{burn_in_id}/report.pdf")
def paper(asked: Asked, tag: Tag, burn_in_id: int) -> Response:
    """Its report as a paper."""
    from needlewright.papers.burn_in_paper import burn_in_pdf  # noqa: PLC0415 - slow to import

    look = _look(asked, _view(asked, tag, burn_in_id))
    journal, family = require_written(look), family_of(asked.shop, look.view)
    report = report_document(journal, family, known_in(look.view.known))
    chart = drift_svg(report, drift_charts(journal, family, report), ground=False)
    content = burn_in_pdf(report, chart, pictures_of(asked.shop, look.view, report))
    name = f'inline; filename="burn-in-{look.view.id}.pdf"'
    return Response(
        content,
        media_type="application/pdf",
        headers={"Content-Disposition": name, "Cache-Control": "no-cache"},
    )


@router.post("/jobs/{tag}/burn-in/{burn_in_id}/stop")
def stop(asked: Asked, tag: Tag, burn_in_id: int) -> Response:
    """Stop it, from whatever window: the power goes off first; it can be gone on with.

    One that has ended already is shown as it ended: whoever asks wants it off, and it is.
    """
    view = _view(asked, tag, burn_in_id)
    session = asked.house.burn_ins.at(view.id)
    if session is not None and session.is_on:
        session.stop()
    elif burn_in_is_on(asked.shop, view.id):
        raise ConflictError(
            f"job {view.tag}: this burn-in is on in another program of this computer; stop it "
            "there, or switch the supply off at once by hand"
        )
    return asked.saved(_place(asked, view))


@router.post("/jobs/{tag}/burn-in/{burn_in_id}/done")
def done(asked: Asked, sent: Sent, tag: Tag, burn_in_id: int) -> Response:
    """What was asked of the person at the bench is done, or cannot be."""
    view = _view(asked, tag, burn_in_id)
    number = sent.text("asked")
    asked_for = int(number) if number.isdecimal() and len(number) < 10 else -1
    person = require_here(asked.house.burn_ins, view).bench.person
    person.say(asked_for, is_done=not sent.ticked("cannot"))
    return asked.saved(_place(asked, view))


@router.post("/jobs/{tag}/burn-in/{burn_in_id}/go-on")
def go_on(asked: Asked, sent: Sent, tag: Tag, burn_in_id: int) -> Response:
    """Go on from where its journal stands; at another bench, where one was chosen."""
    view = _view(asked, tag, burn_in_id)
    try:
        _require_left(view)
        choice = _choice(asked, sent, view)
        family = family_of(asked.shop, view)
        if not choice.is_rehearsal:
            refuse_on_real_bench(BurnInPlan.model_validate(view.plan))
        order = Order(asked.shop, family, choice, asked.by or view.by)
        asked.house.burn_ins.go_on(order, view)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(FORM, wrong_of(error), dict(sent.fields))
        return _page(asked, view, wrong, status_of(error))
    return asked.saved(_place(asked, view))


@router.post("/jobs/{tag}/burn-in/{burn_in_id}/set-aside")
def set_aside(asked: Asked, sent: Sent, tag: Tag, burn_in_id: int) -> Response:
    """Let it count no more, with the reason; one that is on is stopped."""
    view = _view(asked, tag, burn_in_id)
    try:
        set_aside_burn_in(asked.shop, view.id, sent.text("why"), asked.by)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt("burn-in-aside", wrong_of(error), dict(sent.fields))
        return _page(asked, view, wrong, status_of(error))
    session = asked.house.burn_ins.at(view.id)
    if session is not None:
        session.stop()
    return asked.saved(asked.at("/jobs", view.tag, "burn-in"))


def _require_left(view: BurnInView) -> None:
    """Refuse to go on with what is over, before a bench is opened for it."""
    if not view.counts:
        raise ConflictError(f"job {view.tag}: this burn-in is set aside; begin another one")
    if view.state == "finished":
        raise ConflictError(
            f"job {view.tag}: this burn-in is finished, and nothing of it is left to do; begin "
            "another one for more hours"
        )


def _choice(asked: Asking, sent: SentForm, view: BurnInView) -> BenchChoice:
    """The bench it goes on at: the one before, or the one that was chosen now."""
    if view.rehearsed is not None or not sent.text("bench"):
        return choice_of(asked.shop, view)
    choice = choice_in(sent)
    if choice.is_rehearsal:
        raise RunError(
            "bench: a burn-in of a real cluster goes on on that cluster; begin another one for a "
            "rehearsal"
        )
    return choice


def _view(asked: Asking, tag: str, burn_in_id: int) -> BurnInView:
    job = job_sheet(asked.shop, tag)
    views = {one.id: one for one in burn_ins_of(asked.shop, job.tag)}
    if burn_in_id not in views:
        known = ", ".join(map(str, views)) or "none"
        raise NotThereError(f"job {job.tag}: has no burn-in {burn_in_id}; its burn-ins: {known}")
    return views[burn_in_id]


def _look(asked: Asking, view: BurnInView) -> Look:
    return look_at(asked.shop, asked.house.burn_ins, view)


def _page(
    asked: Asking, view: BurnInView, wrong: WrongAt = NOTHING_WRONG, status: int = 200
) -> HTMLResponse:
    look = _look(asked, view)
    job = job_sheet(asked.shop, view.tag)
    here = ("/jobs", view.tag, "burn-in", view.id)
    names = ("now", "stop", "done", "go-on", "picture.jpg", "drift.svg")
    now_is = now_document(asked.shop, look)
    facts = {name: asked.at(*here, name) for name in names} | {"now_is": now_is}
    shared = {
        "job": job,
        "view": look.view,
        "look": look,
        "now_is": now_is,
        "facts": facts,
        "wrong": wrong,
        "kept": dict(wrong.typed),
        "benches": [one for one in offers(asked.shop)[:-1] if one.value != BY_HAND],
        "cameras": asked.house.live.cameras(),
    }
    if look.is_on:
        return asked.page("burn_in_on.html", status, **shared)
    report, events, first = None, [], []
    if look.journal is not None:
        known = known_in(look.view.known)
        report = report_document(look.journal, family_of(asked.shop, look.view), known)
        events = events_shown(asked.shop, look.view, look.happened)
        first = first_shown(report["from_start"])
    return asked.page(
        "burn_in_report.html", status, report=report, events=events, first=first, **shared
    )


def _place(asked: Asking, view: BurnInView) -> str:
    return asked.at("/jobs", view.tag, "burn-in", view.id)
