"""The shelf: every cluster in the house, one line each."""

from typing import Final, cast, get_args

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.records.shelf import shelf
from needlewright.records.words import STAGES, Stage, WaitsFor
from needlewright.web.pages import Asked

LINES: Final = 50
"""Lines of one page of the shelf."""
FARTHEST_PAGE: Final = 1_000_000

router = APIRouter()


@router.get("/", response_class=HTMLResponse)
def show(
    asked: Asked,
    words: str = "",
    waits: str = "",
    stage: str = "",
    returned: bool = False,
    page: int = 1,
) -> Response:
    """The shelf, or the part of it that is looked for."""
    page = min(max(page, 1), FARTHEST_PAGE)
    part = shelf(
        asked.shop,
        words[:200],
        waits_for=cast("WaitsFor", waits) if waits in get_args(WaitsFor) else None,
        stage=cast("Stage", stage) if stage in STAGES else None,
        returned=returned,
        limit=LINES,
        offset=(page - 1) * LINES,
    )
    return asked.page(
        "shelf.html",
        shelf=part,
        words=words,
        waits=waits,
        stage=stage,
        returned=returned,
        page=page,
        pages=max(1, -(-part.count // LINES)),
        all_waits=get_args(WaitsFor),
        all_stages=STAGES,
    )
