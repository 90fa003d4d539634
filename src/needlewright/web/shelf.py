"""The shelf: every cluster in the house, one line each."""

from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import Annotated, Final, cast, get_args

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, Response

from needlewright.records.families import families
from needlewright.records.shelf import shelf
from needlewright.records.views import ShelfLine
from needlewright.records.words import STAGES, WaitsFor
from needlewright.web.pages import Asked
from needlewright.web.sheet_burn_in import burn_ins_on

LINES: Final = 50
"""Lines of one page of the shelf."""
FARTHEST_PAGE: Final = 1_000_000
SOON_DAYS: Final = 7

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
    today = asked.shop.now().astimezone().date()
    return asked.page(
        "shelf.html",
        shelf=part,
        groups=grouped(part.lines, today),
        first=(page - 1) * LINES + 1,
        words=words,
        waits=waits,
        stage=stage,
        returned=returned,
        page=page,
        pages=max(1, -(-part.count // LINES)),
        all_waits=get_args(WaitsFor),
        all_stages=STAGES,
        is_searched=bool(words or waits or stage or returned),
        today=today,
        burning_in=burn_ins_on(asked.shop, asked.texts, asked.house.burn_ins),
        has_families=bool(part.count) or bool(families(asked.shop)),
    )


def grouped(lines: Sequence[ShelfLine], today: date) -> list[tuple[str, list[ShelfLine]]]:
    """Lines in their order under what their promise asks for today.

    Parameters
    ----------
    lines
        As the shelf orders them: the one promised first in front, those returned last.
    today
        Where the shop is.

    Returns
    -------
    list
        `(group, lines)`; a group is `overdue`, `today`, `soon`, `later`, `no_promise`, `returned`.
    """
    return [
        (group, list(some)) for group, some in groupby(lines, key=lambda one: _group(one, today))
    ]


def _group(line: ShelfLine, today: date) -> str:
    if line.closed_at is not None:
        return "returned"
    if line.promised is None:
        return "no_promise"
    days = (line.promised - today).days
    if days <= 0:
        return "overdue" if days else "today"
    return "soon" if days <= SOON_DAYS else "later"
