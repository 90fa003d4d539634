"""What of a job's plan goes to the bench or leaves the house: the sheet of the work, the quote."""

from typing import Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.job_plan import quote_of_plan, sender, sheet_of_plan, stored_plan
from needlewright.composing.plan_reading import read_document
from needlewright.errors import NotThereError
from needlewright.papers.quote_text import quote_text
from needlewright.papers.unfinished import unfinished_dials
from needlewright.records.plan_quotes import send_quote as record_sent
from needlewright.records.plans import plan_of_job
from needlewright.records.sheet import job_sheet
from needlewright.records.views.plans import PlanView
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.plan_view import PlanPage
from needlewright.web.posted import Sent

FRESH: Final = {"Cache-Control": "no-store"}
router = APIRouter(include_in_schema=False)


@router.get("/jobs/{tag}/plan/sheet.pdf", response_class=Response)
def sheet(asked: Asked, tag: Tag, option: str = "") -> Response:
    """The sheet the work follows, of one option."""
    plan = plan_there(asked, tag)
    pdf = sheet_of_plan(plan, PlanPage(plan, asked.texts, option=option).followed["id"])
    return _file(pdf, "application/pdf", f"plan-{plan.number}.pdf", inline=True)


@router.get("/jobs/{tag}/plan/quote", response_class=HTMLResponse)
def look_at_quote(asked: Asked, tag: Tag) -> Response:
    """What the quote says, before it leaves the house."""
    job, plan = job_sheet(asked.shop, tag), plan_there(asked, tag)
    return asked.page(
        "plan_quote.html",
        job=job,
        plan=plan,
        shown=PlanPage(plan, asked.texts),
        sent_by=sender(asked.shop),
        unfinished_dials=unfinished_dials,
        message=quote_text(read_document(plan.document), sender(asked.shop)),
    )


@router.post("/jobs/{tag}/plan/quote", response_class=Response)
def send_quote(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """The quote as a file; the job waits for the owner from then on, where that is ticked."""
    plan = plan_there(asked, tag)
    content = quote_of_plan(plan, sender(asked.shop))
    if sent.ticked("waits"):
        record_sent(asked.shop, plan.tag, plan.number, asked.by)
    name = f"quote-{plan.number}.html"
    return _file(content, "text/html; charset=utf-8", name, inline=False)


def plan_there(asked: Asking, tag: str) -> PlanView:
    """The job's plan, which is what its number says."""
    if plan_of_job(asked.shop, tag) is None:
        raise NotThereError(f"job {tag}: {asked.texts('plan.wrong.no_plan')}")
    return stored_plan(asked.shop, tag)


def _file(content: bytes, kind: str, name: str, *, inline: bool) -> Response:
    way = "inline" if inline else "attachment"
    headers = {"Content-Disposition": f'{way}; filename="{name}"', **FRESH}
    return Response(content, media_type=kind, headers=headers)
