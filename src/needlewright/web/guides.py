"""Guides and the refit sheet on the page: a list, and one page each that prints on one sheet."""

from datetime import datetime
from functools import lru_cache
from typing import Any, Final, Literal

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from needlewright.composing.guides import (
    REFIT,
    guide_document,
    has_guide,
    list_document,
    refit_document,
)
from needlewright.errors import NotThereError
from needlewright.papers.guide_drawings import guide_drawing
from needlewright.papers.guide_sheet import PaperSize, guide_pdf
from needlewright.papers.wording import mileage
from needlewright.records.families import families, load_version
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import settings
from needlewright.records.views import JobSheet
from needlewright.web.pages import Asked, Asking, Tag

router = APIRouter()
SIZES: Final[tuple[PaperSize, ...]] = ("a4", "letter")
Paper = Literal["a4", "letter"]


@router.get("/guides", response_class=HTMLResponse)
def shelf_of_guides(asked: Asked, job: str | None = None) -> Response:
    """Every guide; with a job, those pages speak of its family."""
    sheet = None if job is None else job_sheet(asked.shop, job)
    return asked.page(
        "guides.html",
        guides=[one for one in list_document()["guides"] if one["name"] != REFIT],
        job=sheet,
        families=() if sheet else families(asked.shop),
    )


@router.get("/guides/{name}", response_class=HTMLResponse)
def show(asked: Asked, name: Tag, job: str | None = None, family: int | None = None) -> Response:
    """One guide, of a job's family, of a family the shop keeps, or of any."""
    document = _document(asked, name, job, family)
    return asked.page(
        "guide.html",
        guide=document,
        drawing=drawing,
        job=job,
        family=family,
        sizes=SIZES,
    )


@router.get("/guides/{name}/pdf", response_class=Response)
def download(
    asked: Asked, name: Tag, job: str | None = None, family: int | None = None, paper: Paper = "a4"
) -> Response:
    """The same as a PDF of one page."""
    document = _document(asked, name, job, family)
    now: datetime = asked.shop.now()
    stem = document["name"]
    return Response(
        guide_pdf(document, now.astimezone().date(), paper),
        media_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{stem}.pdf"',
            "Cache-Control": "no-store",
        },
    )


@lru_cache(maxsize=64)
def drawing(name: str) -> Markup:
    """A drawing, to stand in a page."""
    return Markup(guide_drawing(name))


def _document(asked: Asking, name: str, tag: str | None, version_id: int | None) -> dict[str, Any]:
    sheet = None if tag is None else job_sheet(asked.shop, tag)
    version_id = sheet.family_version_id if sheet else version_id
    cluster = None if version_id is None else load_version(asked.shop, version_id)
    if name != REFIT:
        if not has_guide(name):
            raise NotThereError(f"there is no guide '{name}'")
        return guide_document(name, cluster) | {"tag": sheet.tag if sheet else None}
    if cluster is None:
        raise NotThereError("the refit sheet is of a family: open it from a job, or choose one")
    wait = settings(asked.shop).battery_wait or None
    if sheet is None:
        return refit_document(cluster, wait=wait)
    return refit_document(cluster, wait=wait, mileage=_mileage(sheet), tag=sheet.tag)


def _mileage(sheet: JobSheet) -> str | None:
    """As returned, in words; None where nobody has said it."""
    if sheet.odometer_none is not None:
        return "none fitted"
    return None if sheet.odometer_out is None else mileage(sheet.odometer_out, sheet.odometer_unit)
