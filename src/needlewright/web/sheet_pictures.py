"""Drawings of the sheet: dial strips, and the needle in its photo."""

from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from threading import BoundedSemaphore
from typing import Final

from fastapi import APIRouter, HTTPException
from starlette.responses import Response

from needlewright.composing.overlays import dial_drawings
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.papers import ink
from needlewright.papers.crop import dial_crop
from needlewright.papers.dial_blocks import strip_data
from needlewright.papers.strip_data import StripData
from needlewright.readings.evidence import ProjectionEvidence
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.picture import open_picture
from needlewright.records.runs import run_sheet
from needlewright.records.views import ReadingView, RunPhotoView
from needlewright.rules.decision import COVERAGE_K
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.sheet_measured import family_version
from needlewright.web.sheet_run_view import DialView
from needlewright.web.sheet_view import SheetView

FOREVER: Final = {"Cache-Control": "private, max-age=31536000, immutable"}
NOT_KEPT: Final = {"Cache-Control": "no-cache"}
NOT_FOUND: Final = 404
NARROW_PX: Final = 276
"""Width of a strip's plot on a phone; with its numbers it fits a screen of 390 pixels."""
router = APIRouter()
_decoding = BoundedSemaphore(1)
"""A photo of a hundred megapixels takes a gigabyte for a moment; one at a time."""


@router.get("/jobs/{tag}/strips/{side}/{dial}.svg", response_class=Response)
def strip(
    asked: Asked, tag: Tag, side: str, dial: str, *, mark: str = "", narrow: bool = False
) -> Response:
    """A dial's strip: as found alone, or as left with as found beside it."""
    view = _dial(asked, tag, side, dial)
    if view is None:
        raise HTTPException(NOT_FOUND)
    data = strip_of(view)
    from needlewright.papers.strip import strip_svg  # noqa: PLC0415 - slow to import
    from needlewright.papers.strip_layers import WIDTH_PX  # noqa: PLC0415 - the same

    width_px = NARROW_PX if narrow else WIDTH_PX
    svg = strip_svg(
        data,
        legend=False,
        title=False,
        ground=False,
        width_px=width_px,
        type_stack=ink.SANS_STACK,
    )
    headers = FOREVER if mark == mark_of(data) else NOT_KEPT
    return Response(svg, media_type="image/svg+xml", headers=headers)


def strip_of(view: DialView) -> StripData:
    """What a dial's strip shows."""
    return strip_data(view.judged.document, COVERAGE_K)


def mark_of(data: StripData) -> str:
    """Changes with what a strip shows."""
    return sha256(repr(data).encode()).hexdigest()[:16]


def _dial(asked: Asking, tag: str, side: str, dial: str) -> DialView | None:
    run = SheetView(asked.shop, asked.texts, tag).run(side)
    if run is None:
        return None
    return next((one for one in run.dials if one.dial == dial), None)


@router.get("/jobs/{tag}/run/{run_id}/photos/{photo_id}/{dial}.jpg", response_class=Response)
def crop(asked: Asked, tag: Tag, run_id: int, photo_id: int, dial: str) -> Response:
    """One dial in one photo, with the fitted needle drawn on it."""
    run = run_sheet(asked.shop, run_id)
    photo = next((p for p in (*run.photos, *run.older_photos) if p.id == photo_id), None)
    family = family_version(asked.shop, run.family_version_id)
    if photo is None or family.dial(dial) is None or photo.projection is None:
        raise HTTPException(NOT_FOUND)
    try:
        jpeg = _crop(asked, family, photo, dial)
    except NeedlewrightError as error:
        raise HTTPException(NOT_FOUND) from error
    return Response(jpeg, media_type="image/jpeg", headers=NOT_KEPT)


def _crop(asked: Asking, family: Family, photo: RunPhotoView, dial: str) -> bytes:
    projection = ProjectionEvidence.model_validate(photo.projection).projection
    readings = tuple(_as_read(r) for r in photo.readings if r.dial == dial)
    seen = PhotoReadings(photo.name, True, None, readings, projection)
    drawings = dial_drawings(family, seen)
    if not drawings:
        raise HTTPException(NOT_FOUND)
    path: Path = asked.shop.originals.path(photo.sha256)
    with _decoding:
        return dial_crop(open_picture(path).pixels, replace(drawings[0], label=""))


def _as_read(view: ReadingView) -> Reading:
    return Reading(
        dial=view.dial,
        status="read" if view.status == "read" else "refused",
        unit=view.unit,
        reason=view.reason,
        angle_deg=view.angle_deg,
        value=view.value,
        line_px=view.line_px,
    )
