"""The burn-in of a job as its sheet folds it: state and result in one line, and the way to it."""

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from needlewright.composing.rebuild_model import JobRebuild
from needlewright.composing.undoing import burn_in_is_on
from needlewright.records.burn_ins import burn_ins_of
from needlewright.records.burn_ins_under_way import burn_ins_under_way
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import settings
from needlewright.records.views import JobSheet, StageState
from needlewright.records.views.burn_ins import BurnInView
from needlewright.web.burn_in_desk import BurnInDesk
from needlewright.web.pages import Asked, Tag
from needlewright.web.texts import Texts

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class BurnInOnSheet:
    """What the sheet says of it.

    Parameters
    ----------
    last
        The newest burn-in that counts; None: there is none.
    texts
        Of the page.
    invented
        Whether everything in the shop is: only there a rehearsed one is a burn-in that is done.
    on_h
        Hours it has been on for so far; None: it is not on.
    """

    last: BurnInView | None
    texts: Texts
    invented: bool = False
    on_h: float | None = None

    @property
    def state(self) -> StageState:
        """As of a part of the work: it never keeps a job from being returned."""
        if self.last is None:
            return "to_do"
        proves = self.invented or self.last.rehearsed is None
        return "finished" if self.last.state == "finished" and proves else "in_hand"

    @property
    def result(self) -> str:
        """In one line; empty where nothing was done."""
        last = self.last
        if last is None:
            return ""
        if self.on_h is not None:
            return on_words(self.texts, last, self.on_h)
        line: str = last.said.get("line") or self.texts("burn_in.nothing_yet")
        if last.rehearsed is not None:
            line = self.texts("burn_in.sheet.rehearsed", line=line)
        return line if last.state == "finished" else self.texts("burn_in.sheet.left", line=line)

    @property
    def is_on(self) -> bool:
        """Whether it is on now, here or in another program."""
        return self.on_h is not None

    @property
    def is_left(self) -> bool:
        """Whether one waits to go on, or is on."""
        return self.last is not None and self.last.state != "finished"


def burn_in_on_sheet(
    shop: Shop, tag: str, texts: Texts, desk: BurnInDesk | None = None
) -> BurnInOnSheet:
    """Gather what the sheet says of a job's burn-in.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    texts
        Of the page.
    desk
        Where it may be on; None: only asked whether any program is at it.

    Returns
    -------
    BurnInOnSheet
        As the records have it; what a file has more is taken over when its own page is opened.
    """
    counting = [one for one in burn_ins_of(shop, tag) if one.counts]
    last = counting[-1] if counting else None
    on_h = None if last is None else hours_on(shop, desk, last)
    return BurnInOnSheet(last, texts, settings(shop).invented, on_h)


def hours_on(shop: Shop, desk: BurnInDesk | None, view: BurnInView) -> float | None:
    """Hours a burn-in has had the power on for, while it is on.

    Parameters
    ----------
    shop
        The shop.
    desk
        Where it may be on; None: not asked.
    view
        The burn-in.

    Returns
    -------
    float or None
        In another program's hands, as the records have it; None: it is not on.
    """
    session = None if desk is None else desk.at(view.id)
    if session is not None:
        return session.journal.counts.hours if session.is_on else None
    if view.state == "finished" or not burn_in_is_on(shop, view.id):
        return None
    return view.hours


def on_words(texts: Texts, view: BurnInView, hours: float) -> str:
    """That it is on now, and how far: `On now, 3.20 of 48 h`."""
    of = f"{float(view.plan['hours']):g}"
    return texts("burn_in.sheet.on", hours=f"{hours:.2f}", of=of)


def burn_ins_on(shop: Shop, texts: Texts, desk: BurnInDesk) -> Mapping[str, tuple[int, str]]:
    """The burn-ins that are on now: their numbers and how far they are, by the job's tag."""
    found = {}
    for view in burn_ins_under_way(shop):
        hours = hours_on(shop, desk, view)
        if hours is not None:
            found[view.tag] = (view.id, on_words(texts, view, hours))
    return found


def too_early(texts: Texts, job: JobSheet, work: JobRebuild | None) -> str:
    """Why a burn-in begun now comes before other work; only that it is not received holds it up.

    Parameters
    ----------
    texts
        Of the page.
    job
        Its sheet.
    work
        Of its plan; None: it has none.

    Returns
    -------
    str
        One sentence; empty where nothing speaks against it.
    """
    reasons = []
    if job.stage_of("received").state != "finished":
        reasons.append(texts("burn_in.early.not_received"))
    elif job.stage_of("bench_check").state != "finished":
        reasons.append(texts("burn_in.early.bench_check"))
    elif work is not None and work.acceptance is not None and work.now is not None:
        reasons.append(texts("burn_in.early.rebuild", n=work.now.number, of=len(work.steps)))
    if job.stage_of("needles").state != "finished":
        reasons.append(texts("burn_in.early.needles"))
    return texts("burn_in.early.before", reasons="; ".join(reasons)) if reasons else ""


@router.get("/jobs/{tag}/burn-in/{burn_in_id}/progress")
def progress(asked: Asked, tag: Tag, burn_in_id: int) -> Response:
    """How far the burn-in is, for the job sheet to ask again and again."""
    job = job_sheet(asked.shop, tag)
    now = burn_in_on_sheet(asked.shop, job.tag, asked.texts, asked.house.burn_ins)
    is_on = now.is_on and now.last is not None and now.last.id == burn_in_id
    return JSONResponse(
        {
            "read": 0,
            "of": 0,
            "left_s": None,
            "ahead": 0,
            "trouble": now.result if is_on else None,
            "ended": not is_on,
            "version": job.version,
        },
        headers={"Cache-Control": "no-store"},
    )
