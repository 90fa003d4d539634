"""The shelf: every cluster in the house, one line each."""

from typing import Annotated, Final, cast, get_args

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, Response

from needlewright.records.families import families
from needlewright.records.shelf import shelf
from needlewright.records.words import STAGES, WaitsFor
from needlewright.web.pages import Asked

LINES: Final = 50
"""Lines of one page of the shelf."""
FARTHEST_PAGE: Final = 1_000_000

router = APIRouter()


class LookedFor(BaseModel):
    """What a person looks for on the shelf."""

    words: Annotated[str, Field(max_length=200)] = ""
    waits: str = ""
    stage: str = ""
    returned: bool = False
    page: Annotated[int, Field(ge=1, le=FARTHEST_PAGE)] = 1


@router.get("/", response_class=HTMLResponse)
def show(asked: Asked, looked_for: Annotated[LookedFor, Query()]) -> Response:
    """The shelf, or the part of it that is looked for."""
    words, waits, stage = looked_for.words, looked_for.waits, looked_for.stage
    returned, page = looked_for.returned, looked_for.page
    part = shelf(
        asked.shop,
        words,
        waits_for=cast("WaitsFor", waits) if waits in get_args(WaitsFor) else None,
        stage=stage if stage in STAGES else None,
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
        is_searched=bool(words or waits or stage or returned),
        today=asked.shop.now().astimezone().date(),
        has_families=bool(part.count) or bool(families(asked.shop)),
    )
