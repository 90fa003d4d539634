"""The job sheet: one long page for each job, in the order of the work."""

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.web import (
    findings,
    guide_marks,
    plan,
    rebuild,
    sheet_about,
    sheet_burn_in,
    sheet_needles,
    sheet_new,
    sheet_papers,
    sheet_photos,
    sheet_pictures,
    sheet_received,
    sheet_returned,
    sheet_run_start,
    sheet_runs,
    sheet_why,
)
from needlewright.web.pages import Asked, Tag
from needlewright.web.sheet_saving import sheet_page

router = APIRouter(include_in_schema=False)
for _part in (
    sheet_new,
    sheet_about,
    sheet_received,
    sheet_photos,
    sheet_run_start,
    sheet_runs,
    sheet_pictures,
    sheet_needles,
    sheet_burn_in,
    sheet_papers,
    sheet_returned,
    sheet_why,
    findings,
    plan,
    rebuild,
    guide_marks,
):
    router.include_router(_part.router)


@router.get("/jobs/{tag}", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag) -> Response:
    """The sheet of a job."""
    return sheet_page(asked, tag)
