"""Papers: issued, listed, fetched."""

from typing import Annotated, cast

from fastapi import APIRouter
from fastapi import Path as InPath
from starlette.responses import Response

from needlewright.composing.issuing import issue, issue_notice
from needlewright.records import papers
from needlewright.records.papers import Asked as PaperAsked
from needlewright.records.papers import Part
from needlewright.records.views import PaperView
from needlewright.web.api.bodies import By, NoticeBody, PaperBody
from needlewright.web.pages import Asked, Tag

KINDS = {"pdf": "application/pdf", "label": "application/pdf", "json": "application/json"}
router = APIRouter(tags=["papers"])


@router.post("/jobs/{tag}/papers", status_code=201)
def issue_paper(asked: Asked, tag: Tag, body: PaperBody, by: By = None) -> PaperView:
    """Issue the certificate, or the report as found, of what is stored; it is kept for good."""
    paper, _ = issue(
        asked.shop,
        tag,
        cast("PaperAsked", body.asked),
        by or asked.by,
        authorised_by=body.authorised_by,
        because=body.because,
    )
    return paper


@router.post("/jobs/{tag}/notice", status_code=201)
def print_notice(asked: Asked, tag: Tag, body: NoticeBody, by: By = None) -> PaperView:
    """Make the notice of an odometer that could not keep its mileage; it is kept for good."""
    paper, _ = issue_notice(asked.shop, tag, by or asked.by, because=body.because)
    return paper


@router.get("/papers/{name}")
def read_paper(asked: Asked, name: Tag) -> PaperView:
    """A paper by the name that stands on it."""
    return papers.paper(asked.shop, name)


@router.get("/papers/{name}/{part}", response_class=Response)
def fetch(
    asked: Asked, name: Tag, part: Annotated[str, InPath(pattern="^(pdf|json|label)$")]
) -> Response:
    """A paper's file, as it was kept."""
    content = papers.paper_bytes(asked.shop, name, cast("Part", part))
    return Response(content, media_type=KINDS[part])
