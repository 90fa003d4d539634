"""Photos of a box, its packing, a damage, an odometer."""

from typing import cast

from fastapi import APIRouter
from starlette.responses import Response

from needlewright.errors import UnusableInput
from needlewright.records.intake import add_job_photo, withdraw_job_photo
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.records.words import PhotoKind, PhotoStage
from needlewright.web.pages import Asked, Tag
from needlewright.web.posted import Sent
from needlewright.web.sheet_saving import saving

router = APIRouter()


@router.post("/jobs/{tag}/photos")
def add(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Keep photos; those before one that cannot be used stay."""
    stage, kind = sent.text("stage"), sent.text("kind")
    form = f"photos-{stage}-{kind}"

    def keep() -> JobSheet:
        photos = sent.files("photo")
        if not photos:
            raise UnusableInput(asked.texts("sheet.photos.none_chosen"))
        for photo in photos:
            add_job_photo(
                asked.shop,
                tag,
                photo.content(),
                photo.name,
                asked.by,
                stage=cast("PhotoStage", stage),
                kind=cast("PhotoKind", kind),
                note=sent.text("note"),
            )
        return job_sheet(asked.shop, tag)

    return saving(asked, sent, tag, form, keep)


@router.post("/jobs/{tag}/photos/{photo_id}/off")
def take_off(asked: Asked, sent: Sent, tag: Tag, photo_id: int) -> Response:
    """Take a photo off the sheet; undo brings it back."""
    job = job_sheet(asked.shop, tag)
    photo = next((one for one in job.photos if one.id == photo_id), None)
    form = "main" if photo is None else f"photos-{photo.stage}-{photo.kind}"
    return saving(
        asked, sent, tag, form, lambda: withdraw_job_photo(asked.shop, photo_id, asked.by)
    )
