"""Papers of a job: what the next one will say, and issuing it, which cannot be taken back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, cast

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.issuing import issue
from needlewright.errors import NeedlewrightError
from needlewright.papers.blocks import SIGNS
from needlewright.papers.wording import sentences_for_people
from needlewright.records.overdue import overdue_on_paper
from needlewright.records.papers import Asked as Paper
from needlewright.records.papers import paper, paper_bytes, prove
from needlewright.records.sheet import job_sheet
from needlewright.records.views import PaperView
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import Wrong, status_of, wrong_of
from needlewright.web.sheet_view import SheetView

PARTS: Final = {"pdf": "application/pdf", "json": "application/json", "label": "application/pdf"}
router = APIRouter()


@dataclass(frozen=True, slots=True)
class Preview:
    """What a paper will be."""

    document: Mapping[str, Any] | None
    reasons: tuple[str, ...]
    """Why it is no certificate, and what it excepts."""
    wrong: Wrong | None
    """Why it cannot be issued at all."""
    overdue: tuple[str, ...] = ()
    """What it will say of instruments whose own calibration was overdue."""


@router.get("/jobs/{tag}/papers/{kind}", response_class=HTMLResponse)
def look(asked: Asked, tag: Tag, kind: str, because: str = "") -> Response:
    """What the next paper will say, before it is issued."""
    return _page(asked, tag, kind, because[:2000])


@router.post("/jobs/{tag}/papers/{kind}")
def make(asked: Asked, sent: Sent, tag: Tag, kind: str) -> Response:
    """Issue it."""
    because = sent.text("because") or None
    try:
        made, _ = issue(
            asked.shop,
            tag,
            _kind(kind),
            asked.by,
            day=_day(asked, sent),
            authorised_by=sent.text("authorised_by") or None,
            because=because,
        )
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        return _page(
            asked, tag, kind, because or "", wrong=wrong_of(error), status=status_of(error)
        )
    job = job_sheet(asked.shop, tag)
    part = "found" if kind == "report" else "left"
    where = f"{asked.at('/jobs', job.tag)}#papers-{part}"
    return asked.saved(where, version=job.version, paper=made.name)


@router.get("/papers/{name}/{part}", response_class=Response)
def download(asked: Asked, name: Tag, part: str) -> Response:
    """A part of a paper, exactly as it was issued."""
    which = cast("Any", part if part in PARTS else "pdf")
    content = paper_bytes(asked.shop, name, which)
    view = paper(asked.shop, name)
    return Response(
        content,
        media_type=PARTS[which],
        headers={"Content-Disposition": f'inline; filename="{file_name(view, which)}"'},
    )


def file_name(view: PaperView, part: str) -> str:
    """Name of a paper's file; numbers hold only letters, digits and `. _ -`."""
    stem = view.number if view.version == 1 else f"{view.number}-v{view.version}"
    return f"{stem}-label.pdf" if part == "label" else f"{stem}.{part}"


def preview(asked: Asking, tag: str, kind: Paper, because: str) -> Preview:
    """What a paper will be, out of what is stored now.

    Parameters
    ----------
    asked
        The request.
    tag
        Of the job.
    kind
        Which paper.
    because
        Why it replaces the one before it, where there is one.

    Returns
    -------
    Preview
        Nothing is kept.
    """
    try:
        document = prove(asked.shop, tag, kind, because=because or None).document
    except NeedlewrightError as error:
        return Preview(None, (), wrong_of(error))
    reasons = sentences_for_people([*document["why_not"], *document["exceptions"]])
    return Preview(document, reasons, None, overdue_on_paper(document))


def _page(
    asked: Asking,
    tag: str,
    kind: str,
    because: str,
    *,
    wrong: Wrong | None = None,
    status: int = 200,
) -> HTMLResponse:
    view = SheetView(asked.shop, asked.texts, tag)
    which = _kind(kind)
    older = older_paper(view, which)
    # a reason of some kind lets the rest be looked at before the real one is typed
    seen = preview(asked, tag, which, because or ("-" if older else ""))
    return asked.page(
        "sheet/issue.html",
        status,
        view=view,
        job=view.job,
        kind=which,
        preview=seen,
        older=older,
        because=because,
        wrong=wrong,
        today=date.today(),
        sign_of=SIGNS.get,
    )


def older_paper(view: SheetView, kind: Paper) -> PaperView | None:
    """The paper a new one of the kind would replace."""
    found = [
        one
        for one in view.job.papers
        if one.replaced_by is None
        and one.kind != "odometer_notice"
        and (one.kind == "as_found_report") == (kind == "report")
    ]
    return found[-1] if found else None


def _day(asked: Asking, sent: SentForm) -> date | None:
    try:
        return date.fromisoformat(sent.text("day")) if sent.text("day") else None
    except ValueError:
        return None


def _kind(kind: str) -> Paper:
    return "report" if kind == "report" else "certificate"
