"""The burn-ins of a job: what one would be worth, and beginning it at a bench or as a rehearsal."""

from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.amounts import work_words
from needlewright.bench.burn_in.plan import CAUTIONS, COLD_CAUTION
from needlewright.composing.bench_choice import BenchChoice, settings_of, unit_of
from needlewright.composing.bench_devices import unit_words
from needlewright.composing.burn_in_bench import DARK_NEEDS, blur_s, limit_of, rehearsal_work
from needlewright.composing.burn_in_curve import curve_svg
from needlewright.composing.burn_in_job import begin_of_job, unfinished_of
from needlewright.composing.burn_in_planned import planned_document
from needlewright.composing.burn_in_statements import batch_document
from needlewright.composing.burn_in_warranty import is_of_plan, warranty_of_job, warranty_of_shop
from needlewright.composing.rebuild import job_rebuild
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.records.burn_ins import burn_ins_of
from needlewright.records.families import load_version
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import require_received
from needlewright.records.views import JobSheet
from needlewright.records.views.burn_ins import BurnInView
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.web.bench_forms import BY_HAND, REHEARSAL, choice_in, offers
from needlewright.web.bench_order import Order
from needlewright.web.burn_in_fields import wrong_fields
from needlewright.web.burn_in_forms import CHECKS, Typed, require_unattended
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_burn_in import too_early
from needlewright.web.sheet_view import NOTHING_WRONG, WrongAt

FORM: Final = "burn-in"
BATCH_MEAN_H: Final = 1000.0
BATCH_RELIABILITY: Final = 0.95
router = APIRouter(include_in_schema=False)


@router.get("/jobs/{tag}/burn-in", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag) -> Response:
    """What a burn-in would be worth, and those there were."""
    job = job_sheet(asked.shop, tag)
    return _page(asked, job, _typed(asked, job))


@router.post("/jobs/{tag}/burn-in")
def plan_or_begin(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Work out what was typed, or begin it."""
    job = job_sheet(asked.shop, tag)
    if sent.text("act") != "begin":
        return _page(asked, job, _typed(asked, job, sent))
    try:
        view = _begun(asked, sent, job)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(FORM, wrong_of(error), dict(sent.fields))
        return _page(asked, job, _typed(asked, job, sent), wrong, status_of(error))
    return asked.saved(asked.at("/jobs", job.tag, "burn-in", view.id))


def _begun(asked: Asking, sent: SentForm, job: JobSheet) -> BurnInView:
    require_received(asked.shop, job.tag)
    choice, typed = choice_in(sent), _typed(asked, job, sent)
    settings = settings_of(asked.shop, choice.settings)
    family = _told(asked, job, choice)
    plan, known = typed.plan(family), typed.known(asked.shop)
    if not choice.is_rehearsal:
        limit_of(family)
        require_unattended(plan, family, settings, typed)
    rehearsed = unit_words(unit_of(choice, family)) if choice.is_rehearsal else None

    def start() -> BurnInView:
        return begin_of_job(
            asked.shop,
            job.tag,
            plan,
            known,
            rehearsed=rehearsed,
            by=asked.by,
            checked=typed.checked,
        )

    return asked.house.burn_ins.begin(Order(asked.shop, family, choice, asked.by), plan, start)


def _typed(asked: Asking, job: JobSheet, sent: SentForm | None = None) -> Typed:
    return Typed(sent, warranty_of_job(asked.shop, job.tag))


def _told(asked: Asking, job: JobSheet, choice: BenchChoice) -> Family:
    family = load_version(asked.shop, job.family_version_id)
    return with_signals(family) if choice.is_rehearsal else family


def _page(
    asked: Asking,
    job: JobSheet,
    typed: Typed,
    wrong: WrongAt = NOTHING_WRONG,
    status: int = 200,
) -> HTMLResponse:
    family = load_version(asked.shop, job.family_version_id)
    worth = None
    try:
        worth = _worth(asked, typed, with_signals(family))
    except NeedlewrightError as error:
        if not wrong.form:
            wrong, status = WrongAt(FORM, wrong_of(error)), status_of(error)
    fields = wrong_fields(typed, family) if wrong.form else {}
    no_limit = ""
    try:
        limit_of(family)
    except NeedlewrightError as error:
        no_limit = str(error)
    benches = [one for one in offers(asked.shop) if one.value != BY_HAND]
    views = burn_ins_of(asked.shop, job.tag)
    return asked.page(
        "burn_in.html",
        status,
        job=job,
        family=family,
        typed=typed,
        dials=typed.dials(family),
        worth=worth,
        wrong=wrong,
        fields=fields,
        more_wrong=any(one == "chamber" or one.startswith("points-") for one in fields),
        benches=benches,
        chosen=typed("bench") or (REHEARSAL if asked.invented else benches[0].value),
        rehearsal=REHEARSAL,
        work=None if worth is None else worth["work"],
        cameras=asked.house.live.cameras(),
        no_limit=no_limit,
        dark_needs=DARK_NEEDS,
        promised=typed.promised,
        of_plan=is_of_plan(typed.promised),
        driven=warranty_of_shop(asked.shop).driven_words,
        cautions=(*CAUTIONS, COLD_CAUTION),
        checks=CHECKS,
        seed=len(views),
        left=unfinished_of(asked.shop, job.tag),
        early=too_early(asked.texts, job, job_rebuild(asked.shop, job.tag, family)),
        burn_ins=views,
        is_on=asked.house.burn_ins.is_on,
    )


def _worth(asked: Asking, typed: Typed, family: Family) -> Mapping[str, Any]:
    """What is said of it before it begins, with the curve."""
    plan, known = typed.plan(family), typed.known(asked.shop)
    batch = batch_document(BATCH_MEAN_H, BATCH_RELIABILITY, known.confidence)
    work = rehearsal_work(plan, len(family.dials), _blur_s())
    return {
        **planned_document(plan, known, batch, family),
        "curve": curve_svg(known, plan),
        "work": work_words(work.whole_s),
    }


@cache
def _blur_s() -> float:
    """What this computer takes for a blur, measured once: a rehearsal's work is told in them."""
    return blur_s()
