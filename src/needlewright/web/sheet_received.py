"""Received: how the box came in, and whether it holds the right unit."""

from typing import Any, Final

from fastapi import APIRouter
from starlette.responses import Response

from needlewright.records.intake import FIELDS, receive
from needlewright.records.words import UNIT_CHECKS
from needlewright.web.pages import Asked, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.sheet_saving import box_items, plain_numbers, saving, seen

ANSWERS: Final = {"yes": True, "no": False}
router = APIRouter()


@router.post("/jobs/{tag}/received")
def save(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Save what was typed or ticked."""
    form = sent.text("form") or "received"
    return saving(
        asked,
        sent,
        tag,
        form,
        lambda: receive(asked.shop, tag, _changes(sent), asked.by, seen=seen(sent)),
    )


def _changes(sent: SentForm) -> dict[str, Any]:
    changes: dict[str, Any] = plain_numbers(
        sent.stated(*(name for name in FIELDS if name != "contents")), ("odometer_in",)
    )
    for what in UNIT_CHECKS:
        if f"{what}_ok" in changes:
            changes[f"{what}_ok"] = ANSWERS.get(str(changes[f"{what}_ok"]))
    items = box_items(sent)
    return changes if items is None else {**changes, "contents": items}
