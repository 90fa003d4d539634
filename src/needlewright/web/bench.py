"""A run at the bench: laid out, begun, watched, held, stopped and gone on with."""

from typing import Final, cast, get_args

from fastapi import APIRouter
from starlette.responses import JSONResponse, RedirectResponse, Response

from needlewright.bench.steps import RunPlan, with_checks
from needlewright.composing.bench_choice import BenchChoice, settings_of, unit_of
from needlewright.composing.bench_devices import unit_words
from needlewright.composing.bench_folder import unfinished
from needlewright.composing.bench_kept import told_of
from needlewright.composing.bench_plan import plan_as_found, require_told
from needlewright.composing.run_reading import reader_settings
from needlewright.errors import NeedlewrightError, RunError
from needlewright.families.model import Family
from needlewright.records.families import load_version
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet, RunSheet
from needlewright.records.words import RunSide
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.signals.words import BENCH_CAUTION
from needlewright.web.bench_forms import (
    BY_HAND,
    REHEARSAL,
    BenchOffer,
    choice_in,
    degc_in,
    dial_offers,
    key_ons_text,
    offers,
    plan_in,
)
from needlewright.web.bench_look import gone, look_at
from needlewright.web.bench_order import Order, temperature_of
from needlewright.web.bench_session import Act
from needlewright.web.pages import SEE_OTHER, Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import NOTHING_WRONG, WrongAt

FORM: Final = "bench"
SIDES: Final[tuple[RunSide, ...]] = ("found", "left", "other")
router = APIRouter()


@router.get("/jobs/{tag}/bench/{side}")
def lay_out(asked: Asked, tag: Tag, side: str) -> Response:
    """Which bench, and which check points."""
    return _lay_out(asked, tag, _side(side))


@router.post("/jobs/{tag}/bench/{side}")
def begin(asked: Asked, sent: Sent, tag: Tag, side: str) -> Response:
    """Begin the run."""
    which = _side(side)
    try:
        run_id = _begun(asked, sent, tag, which)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(FORM, wrong_of(error), dict(sent.fields))
        return _lay_out(asked, tag, which, sent=sent, wrong=wrong, status=status_of(error))
    return asked.saved(asked.at("/jobs", job_sheet(asked.shop, tag).tag, "run", run_id, "bench"))


@router.get("/jobs/{tag}/run/{run_id}/bench")
def show(asked: Asked, tag: Tag, run_id: int) -> Response:
    """The bench screen of a run."""
    return _show(asked, run_sheet(asked.shop, run_id))


@router.get("/jobs/{tag}/run/{run_id}/bench/now")
def now(asked: Asked, tag: Tag, run_id: int) -> Response:
    """Where the run stands, for the page's script while no line is open."""
    run = run_sheet(asked.shop, run_id)
    look = look_at(asked, run)
    return JSONResponse(look.document, headers={"Cache-Control": "no-store"})


@router.get("/jobs/{tag}/run/{run_id}/bench/progress")
def progress(asked: Asked, tag: Tag, run_id: int) -> Response:
    """How far the run is, for the job sheet to ask again and again."""
    run = run_sheet(asked.shop, run_id)
    stand = asked.house.bench.stand(asked.shop, run_id)
    return JSONResponse(
        {
            "read": 0 if stand is None else stand.done,
            "of": 0 if stand is None else stand.of,
            "left_s": None if stand is None else stand.left_s,
            "ahead": 0,
            "trouble": None,
            "ended": stand is None or not stand.is_on,
            "version": job_sheet(asked.shop, run.tag).version,
        },
        headers={"Cache-Control": "no-store"},
    )


@router.post("/jobs/{tag}/run/{run_id}/bench/act")
def act(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Hold the run, let it go on, leave this point out, take the last one again."""
    run = run_sheet(asked.shop, run_id)
    wanted = sent.text("act")
    if wanted not in get_args(Act):
        raise RunError(f"bench: '{wanted[:20]}' is nothing a run can do; load the page again")
    at = sent.text("at")
    session = asked.house.bench.at(run_id) or gone()
    session.act(cast("Act", wanted), int(at) if at.isdecimal() and len(at) < 7 else -1)
    return asked.saved(_place(asked, run))


@router.post("/jobs/{tag}/run/{run_id}/bench/done")
def done(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """What was asked of the person at the bench is done, or cannot be."""
    run = run_sheet(asked.shop, run_id)
    number = sent.text("asked")
    session = asked.house.bench.at(run_id) or gone()
    asked_for = int(number) if number.isdecimal() and len(number) < 10 else -1
    session.person.say(asked_for, is_done=not sent.ticked("cannot"))
    return asked.saved(_place(asked, run))


@router.post("/jobs/{tag}/run/{run_id}/bench/stop")
def stop(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Stop the run, from whatever window; it can be gone on with."""
    run = run_sheet(asked.shop, run_id)
    session = asked.house.bench.at(run_id)
    if session is not None:
        session.stop()
    where = asked.at("/jobs", run.tag) + f"#{run.side}-run"
    return asked.saved(where if sent.text("back") == "sheet" else _place(asked, run))


@router.post("/jobs/{tag}/run/{run_id}/bench/go-on")
def go_on(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Go on from where the run stands; at another bench, where one was chosen."""
    run = run_sheet(asked.shop, run_id)
    try:
        _require_whole(run)
        choice = unfinished(asked.shop, run_id).choice
        if sent.text("bench"):
            typed = choice_in(sent)
            update = {"kind": typed.kind, "settings": typed.settings, "camera": typed.camera}
            choice = choice.model_copy(update=update)
        if not choice.is_rehearsal:
            # a cluster that waited overnight is as warm as whoever goes on says, or nobody knows
            degc = degc_in(sent.text("temperature_c"))
            choice = choice.model_copy(update={"temperature_c": degc})
        family = _family(asked, run.family_version_id, choice)
        order = Order(asked.shop, family, choice, asked.by or run.by)
        asked.house.bench.go_on(order, run_id)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(FORM, wrong_of(error), dict(sent.fields))
        return _show(asked, run, wrong, status_of(error))
    return asked.saved(_place(asked, run))


def _begun(asked: Asking, sent: SentForm, tag: str, side: RunSide) -> int:
    job = job_sheet(asked.shop, tag)
    choice = choice_in(sent)
    family = _family(asked, job.family_version_id, choice)
    plan = _plan(asked, sent, job, side, family)
    require_told(plan, family, settings_of(asked.shop, choice.settings).instruments())
    rehearsed = unit_words(unit_of(choice, family)) if choice.is_rehearsal else None

    def start() -> int:
        rows = told_of(plan, family, temperature_of(choice))
        settings = reader_settings()
        return start_run(
            asked.shop, job.tag, side, rows, asked.by, reader=settings, rehearsed=rehearsed
        ).id

    return asked.house.bench.begin(Order(asked.shop, family, choice, asked.by), plan, start)


def _plan(asked: Asking, sent: SentForm, job: JobSheet, side: RunSide, family: Family) -> RunPlan:
    looks = plan_as_found(asked.shop, job.tag, family) if side == "left" else plan_in(sent, family)
    return with_checks(looks, family, sweep=sent.ticked("sweep"), lamps=False)


def _family(asked: Asking, version_id: int, choice: BenchChoice) -> Family:
    """The family as it is told at a bench: a rehearsed dial without a signal gets a sender."""
    family = load_version(asked.shop, version_id)
    return with_signals(family) if choice.is_rehearsal else family


def _lay_out(
    asked: Asking,
    tag: str,
    side: RunSide,
    *,
    sent: SentForm | None = None,
    wrong: WrongAt = NOTHING_WRONG,
    status: int = 200,
) -> Response:
    job = job_sheet(asked.shop, tag)
    family = load_version(asked.shop, job.family_version_id)
    repeated, why_not = 0, ""
    if side == "left":
        try:
            repeated = len(plan_as_found(asked.shop, tag, family).steps)
        except NeedlewrightError as error:
            why_not = str(error)
    benches = offers(asked.shop)
    return asked.page(
        "bench_plan.html",
        status,
        job=job,
        side=side,
        family=family,
        benches=benches,
        chosen=_proposed(asked, benches[0]) if sent is None else sent.text("bench"),
        cameras=asked.house.live.cameras(),
        dials=dial_offers(family, sent, job.max_speed),
        key_ons=key_ons_text(sent),
        repeated=repeated,
        why_not=why_not,
        caution=BENCH_CAUTION,
        by_hand=BY_HAND,
        rehearsal=REHEARSAL,
        seed=len(job.runs),
        wrong=wrong,
        typed=dict(wrong.typed),
    )


def _proposed(asked: Asking, first: BenchOffer) -> str:
    """The bench that is proposed: the shop's own, in an invented shop the rehearsal."""
    if asked.invented:
        return REHEARSAL
    return BY_HAND if first.wrong else first.value


def _show(
    asked: Asking, run: RunSheet, wrong: WrongAt = NOTHING_WRONG, status: int = 200
) -> Response:
    look = look_at(asked, run)
    if look.is_nothing_left:
        return RedirectResponse(f"{asked.at('/jobs', run.tag)}#{run.side}-run", SEE_OTHER)
    here = ("/jobs", run.tag, "run", run.id, "bench")
    return asked.page(
        "bench.html",
        status,
        job=job_sheet(asked.shop, run.tag),
        run=run,
        look=look,
        family=look.family,
        benches=[] if run.rehearsed else offers(asked.shop)[:-1],
        cameras=asked.house.live.cameras(),
        by_hand=BY_HAND,
        wrong=wrong,
        typed=dict(wrong.typed),
        bench={
            name: asked.at(*here, name) for name in ("line", "now", "act", "done", "stop", "go-on")
        }
        | {"is_on": look.is_on, "now_is": look.document},
    )


def _require_whole(run: RunSheet) -> None:
    if run.set_aside_at is not None:
        raise RunError(
            f"job {run.tag}, run {run.name}: is set aside and takes no more readings; begin "
            "another run on the job sheet"
        )


def _place(asked: Asking, run: RunSheet) -> str:
    return asked.at("/jobs", run.tag, "run", run.id, "bench")


def _side(side: str) -> RunSide:
    found = next((one for one in SIDES if one == side), None)
    if found is None:
        raise RunError(f"there is no run '{side[:20]}' on the sheet; open the job again")
    return found
