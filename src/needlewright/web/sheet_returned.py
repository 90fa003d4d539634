"""Returned: how the box goes out, and what the odometer's law asks for."""

from typing import Any

from fastapi import APIRouter
from starlette.responses import Response

from needlewright.composing.issuing import issue_notice
from needlewright.records.returning import FIELDS, record_return
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.web.pages import Asked, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.sheet_saving import box_items, plain_numbers, saving, seen

router = APIRouter()


@router.post("/jobs/{tag}/returned")
def save(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Save what was typed or ticked."""
    form = sent.text("form") or "returned"
    return saving(
        asked,
        sent,
        tag,
        form,
        lambda: record_return(asked.shop, tag, _changes(sent), asked.by, seen=seen(sent)),
    )


@router.post("/jobs/{tag}/notice")
def notice(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Make the odometer's notice and keep it."""

    def make() -> JobSheet:
        issue_notice(asked.shop, tag, asked.by, because=sent.text("because") or None)
        return job_sheet(asked.shop, tag)

    return saving(asked, sent, tag, "odometer-notice", make)


def _changes(sent: SentForm) -> dict[str, Any]:
    names = (name for name in FIELDS if name != "contents")
    changes: dict[str, Any] = plain_numbers(
        sent.stated(*names), ("odometer_out", "notice_mileage_before")
    )
    items = box_items(sent)
    return changes if items is None else {**changes, "contents": items}
