"""The plan of a job: what it is made for, its options and steps, the quote, the owner's yes."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from functools import partial
from typing import Any, Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, JSONResponse, Response

from needlewright.composing.job_plan import (
    accept_text,
    keep_job_plan,
    make_job_plan,
)
from needlewright.composing.plan_making import PlanTerms
from needlewright.composing.plan_reading import read_document
from needlewright.composing.shop_catalogue import catalogue_for, text_in_use
from needlewright.composing.stock import Needed, needed_of
from needlewright.composing.undoing import undo_last
from needlewright.errors import (
    ConflictError,
    JobError,
    NeedlewrightError,
    UnusableInput,
)
from needlewright.papers.customer_side import LOOK_FIRST
from needlewright.papers.unfinished import unfinished_dials
from needlewright.plans.catalogue.model import Catalogue
from needlewright.plans.rebuild.acceptance import day_typed
from needlewright.records.jobs import wait_for
from needlewright.records.plan_acceptances import accept_plan, take_back_acceptance
from needlewright.records.plans import plan_document_of, plan_of_job
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import history
from needlewright.records.views import JobSheet
from needlewright.records.views.plans import PlanView
from needlewright.units import KM_OF
from needlewright.web import plan_papers
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.plan_next import HISTORY, next_of_plan
from needlewright.web.plan_papers import FRESH, plan_there
from needlewright.web.plan_steps import is_long, steps_shown
from needlewright.web.plan_terms import (
    NAMES,
    Said,
    Typed,
    return_words,
    terms_view,
    understood,
)
from needlewright.web.plan_view import PlanPage, is_of_plan, lapsed_of
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import Wrong, status_of, wrong_of
from needlewright.web.sheet_view import NOTHING_WRONG, SheetView, WrongAt

ACCEPT: Final = ("option", "who", "when", "how")
WRONG: Final = 422
router = APIRouter(include_in_schema=False)
router.include_router(plan_papers.router)


@router.get("/jobs/{tag}/plan", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag, option: str = "") -> Response:
    """The plan of a job, with the steps of one of its options."""
    return _page(asked, tag, option=option)


@router.post("/jobs/{tag}/plan")
def make(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Make the plan for what was typed, and keep it with what was said of the cluster."""
    job, typed = job_sheet(asked.shop, tag), {name: sent.text(name) for name in NAMES}
    try:
        said = understood(typed, job.odometer_unit, _today(asked), asked.texts)
    except JobError as error:
        beside = {name: Wrong(said) for name, said in error.fields.items()}
        return _page(asked, tag, WrongAt("terms", Wrong("")), WRONG, terms=Typed(typed, beside))

    def save() -> JobSheet:
        # where the field was not sent, or an age was typed, the record stays as it is
        was_sent = any(name == "built" for name, _ in sent.fields)
        built = said.built or "" if was_sent and said.age_years is None else None
        document = make_job_plan(asked.shop, job.tag, replace(_terms(job, said), built=built))
        keep_job_plan(asked.shop, job.tag, document, asked.by, built=built)
        return job_sheet(asked.shop, job.tag)

    return _saving(asked, sent, tag, "terms", save, terms=Typed(typed, {}))


@router.get("/jobs/{tag}/plan/fresh")
def fresh(asked: Asked, tag: Tag) -> Response:
    """Whether the plan would be another one if it was made now."""
    job, plan = job_sheet(asked.shop, tag), plan_there(asked, tag)
    if not _is_doubtful(asked, plan):
        return JSONResponse({"same": True}, headers=FRESH)
    try:
        said = _said_of(read_document(plan.document))
        made = make_job_plan(asked.shop, job.tag, _terms(job, said))
    except NeedlewrightError:
        return JSONResponse({"same": False}, headers=FRESH)
    return JSONResponse({"same": made["number"] == plan.number}, headers=FRESH)


@router.post("/jobs/{tag}/plan/accept")
def accept(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Write the owner's yes down."""
    missing = _wrong_in_yes(asked, sent)
    if missing:
        wrong = WrongAt("accept", Wrong("", fields=missing), dict(sent.fields))
        return _page(asked, tag, wrong, WRONG)

    def save() -> JobSheet:
        shown, now = sent.text("number"), plan_there(asked, tag).number
        if shown != now:
            raise ConflictError(asked.texts("plan.wrong.other_plan", shown=shown[:20], now=now))
        return accept_plan(
            asked.shop,
            tag,
            now,
            asked.by,
            option=sent.text("option"),
            who=sent.text("who"),
            when=day_typed(sent.text("when")),
            how=sent.text("how"),
        )

    return _saving(asked, sent, tag, "accept", save)


@router.post("/jobs/{tag}/plan/pasted")
def pasted(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take in the text the owner sent back."""

    def save() -> JobSheet:
        accept_text(asked.shop, tag, sent.text("text"), asked.by)
        return job_sheet(asked.shop, tag)

    return _saving(asked, sent, tag, "pasted", save)


@router.post("/jobs/{tag}/plan/take-back")
def take_back(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Write down that the owner takes the yes back."""

    def save() -> JobSheet:
        if not sent.text("why").strip():
            raise UnusableInput(asked.texts("plan.wrong.why"))
        return take_back_acceptance(asked.shop, tag, sent.text("why"), asked.by)

    return _saving(asked, sent, tag, "take-back", save)


@router.post("/jobs/{tag}/plan/bench")
def to_bench(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Say that the job waits for a hand at the bench, now that the owner said yes."""
    save = partial(wait_for, asked.shop, tag, "bench", asked.by)
    return _saving(asked, sent, tag, "bench", save)


@router.post("/jobs/{tag}/plan/undo")
def undo(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take back what was saved last, where it is of the plan, and stay here."""

    def save() -> JobSheet:
        last = SheetView(asked.shop, asked.texts, tag).undoable
        if last is None or not is_of_plan(last.what):
            what = "" if last is None else last.what
            raise ConflictError(asked.texts("plan.undo.other", what=what))
        undo_last(asked.shop, tag, asked.by)
        return job_sheet(asked.shop, tag)

    return _saving(asked, sent, tag, "undo", save)


def _page(
    asked: Asking,
    tag: str,
    wrong: WrongAt = NOTHING_WRONG,
    status: int = 200,
    *,
    terms: Typed | None = None,
    option: str = "",
) -> HTMLResponse:
    view = SheetView(asked.shop, asked.texts, tag)
    plan, t = plan_of_job(asked.shop, view.job.tag), asked.texts
    shown = None if plan is None else PlanPage(plan, t, _before(asked, plan), option)
    document, last = None if shown is None else shown.document, view.undoable
    catalogue, trouble = _catalogue(asked, view)
    has_findings = view.plan.is_wanted or bool(view.found.result)
    return asked.page(
        "plan.html",
        status,
        view=view,
        job=view.job,
        plan=plan,
        shown=shown,
        terms=terms_view(t, view.job, document, catalogue, terms) if catalogue else None,
        of_return="" if document is None else return_words(t, document, catalogue),
        trouble=trouble,
        has_findings=has_findings,
        next=next_of_plan(
            asked.shop,
            view.job,
            plan,
            has_findings=has_findings,
            can_be_made=catalogue is not None,
        ),
        wrong=wrong,
        today=_today(asked),
        on_hand=_on_hand(asked, shown),
        steps=() if shown is None else steps_shown(shown.followed),
        is_long=is_long,
        notes=() if document is None else _notes(document),
        unfinished_dials=unfinished_dials,
        undoes_plan=last is not None and is_of_plan(last.what),
    )


def _catalogue(asked: Asking, view: SheetView) -> tuple[Catalogue | None, Wrong | None]:
    """What a plan would be made with, or why none can be made; the plan there is stands."""
    try:
        return catalogue_for(asked.shop, view.job, view.family), None
    except NeedlewrightError as error:
        return None, wrong_of(error)


def _saving(
    asked: Asking,
    sent: SentForm,
    tag: str,
    form: str,
    save: Callable[[], JobSheet],
    *,
    terms: Typed | None = None,
) -> Response:
    """Save, and answer: with the plan as it then is, or with what is wrong."""
    try:
        job = save()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(form, wrong_of(error), dict(sent.fields))
        return _page(asked, tag, wrong, status_of(error), terms=terms)
    where = asked.at("/jobs", job.tag, "plan")
    return asked.saved(f"{where}#stands", version=job.version)


def _wrong_in_yes(asked: Asking, sent: SentForm) -> dict[str, str]:
    """What is missing or cannot be used, field by field."""
    t, wrong = asked.texts, dict[str, str]()
    for name in ACCEPT:
        text = sent.text(name).strip()
        if not text:
            wrong[name] = t(f"plan.wrong.{'when_missing' if name == 'when' else name}")
        elif name == "when":
            try:
                day_typed(text)
            except ValueError:
                wrong[name] = t("plan.wrong.when", given=text[:40])
    return {name: f"{words[:1].upper()}{words[1:]}." for name, words in wrong.items()}


def _is_doubtful(asked: Asking, plan: PlanView) -> bool:
    """Whether anything was saved since a plan was made that it could rest on."""
    if text_in_use(asked.shop).sha256 != read_document(plan.document)["catalogue_sha256"]:
        return True
    later = (one for one in history(asked.shop, plan.tag, HISTORY) if one.at > plan.made_at)
    return any(not is_of_plan(one.what) for one in later)


def _before(asked: Asking, plan: PlanView) -> Mapping[str, Any] | None:
    """The plan that was accepted, where it is not the job's any more."""
    lapsed = lapsed_of(plan)
    if not plan.needs_new_acceptance or lapsed is None:
        return None
    return plan_document_of(asked.shop, plan.tag, lapsed.number)


def _terms(job: JobSheet, said: Said) -> PlanTerms:
    """What is said otherwise than the records have it, as a plan takes it."""
    recorded = None if job.odometer_in is None else job.odometer_in * KM_OF[job.odometer_unit]
    return PlanTerms(
        warranty_months=said.warranty_months,
        horizon_years=said.horizon_years,
        km_per_year=said.km_per_year,
        age_years=said.age_years,
        mileage_km=None if said.mileage_km == recorded else said.mileage_km,
    )


def _said_of(document: Mapping[str, Any]) -> Said:
    """What a plan was made for; an age that was reckoned from the record is taken from it again."""
    return Said(
        age_years=None if document["built"] else document["age_years"],
        mileage_km=document["mileage_km"],
        warranty_months=document["warranty_months"],
        horizon_years=document["horizon_years"],
        km_per_year=document["km_per_year"],
    )


def _notes(document: Mapping[str, Any]) -> tuple[str, ...]:
    """What was assumed; looks before the quote are said by themselves where a plan names them."""
    notes = (str(one) for one in document["notes"])
    return tuple(one for one in notes if not (document["looks"] and one.startswith(LOOK_FIRST)))


def _on_hand(asked: Asking, shown: PlanPage | None) -> dict[str, Needed]:
    """What the option that is followed needs against the stock, by part."""
    if shown is None:
        return {}
    document, tag = shown.document, shown.plan.tag
    needed = needed_of(asked.shop, document, shown.followed["id"], tag)
    return {one.part: one for one in needed}


def _today(asked: Asking) -> date:
    return asked.shop.now().astimezone().date()
