"""Guides and the refit sheet on the page: a list, and one page each that prints on one sheet."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any, Final, Literal

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from needlewright.composing.guide_marks import GuideMarks, unnamed_row
from needlewright.composing.guides import (
    REFIT,
    guide_document,
    list_document,
    refit_document,
)
from needlewright.composing.job_guide import JobGuide, job_guide
from needlewright.composing.own_guides import book_in_use, keep_shop_guide, refuse_unknown_guide
from needlewright.errors import NeedlewrightError, NotThereError, UnusableInput
from needlewright.papers.guide_drawings import guide_drawing
from needlewright.papers.guide_sheet import PaperSize, guide_pdf
from needlewright.plans.guides.line_keys import line_key
from needlewright.records.families import families, load_version
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import settings
from needlewright.records.shop_guides import drop_guide, shop_guides
from needlewright.records.tick_lines import is_of_sheet
from needlewright.web.pages import Asked, Asking, Tag, address
from needlewright.web.posted import Sent
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import NOTHING_WRONG, SheetView, WrongAt
from needlewright.web.stock_view import is_of_stock
from needlewright.web.work_places import place_of_check

router = APIRouter()
SIZES: Final[tuple[PaperSize, ...]] = ("a4", "letter")
Paper = Literal["a4", "letter"]


@router.get("/guides", response_class=HTMLResponse)
def shelf_of_guides(asked: Asked, job: str | None = None) -> Response:
    """Every guide; with a job, those pages speak of its family."""
    return _list(asked, job)


@router.post("/guides/own")
def keep_own(asked: Asked, sent: Sent) -> Response:
    """Keep a guide of the shop's own, by the name of its file."""

    def save() -> None:
        files = sent.files("file")
        if not files:
            raise UnusableInput(asked.texts("guides.own.none"))
        name = files[0].name.removesuffix(".toml")
        keep_shop_guide(asked.shop, name, files[0].content(), asked.by)

    return _saving_own(asked, save)


@router.post("/guides/own/{name}/off")
def leave_out(asked: Asked, sent: Sent, name: Tag) -> Response:
    """Leave a guide of the shop's own out from now on; its text stays on record."""
    return _saving_own(asked, lambda: drop_guide(asked.shop, name, asked.by))


def _saving_own(asked: Asking, save: Callable[[], None]) -> Response:
    try:
        save()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        return _list(asked, None, WrongAt("own", wrong_of(error)), status_of(error))
    return asked.saved("/guides#own")


def _list(
    asked: Asking, job: str | None, wrong: WrongAt = NOTHING_WRONG, status: int = 200
) -> HTMLResponse:
    sheet = None if job is None else job_sheet(asked.shop, job)
    family = None if sheet is None else load_version(asked.shop, sheet.family_version_id)
    book, trouble = book_in_use(asked.shop, family)
    return asked.page(
        "guides.html",
        status,
        guides=[one for one in list_document(book)["guides"] if one["name"] != REFIT],
        job=sheet,
        families=() if sheet else families(asked.shop),
        own=() if sheet else shop_guides(asked.shop),
        trouble=trouble,
        missing=book.missing,
        wrong=wrong,
    )


@router.get("/guides/{name}", response_class=HTMLResponse)
def show(
    asked: Asked,
    name: Tag,
    job: str | None = None,
    family: int | None = None,
    dial: str | None = None,
) -> Response:
    """One guide, of a job's family, of a family the shop keeps, or of any."""
    if job is not None:
        shown = guide_in_job(asked, job, name, dial)
        return guide_page(asked, shown.guide.document, shown)
    return guide_page(asked, _document(asked, name, family), None, family=family)


@router.get("/guides/{name}/pdf", response_class=Response)
def download(
    asked: Asked, name: Tag, job: str | None = None, family: int | None = None, paper: Paper = "a4"
) -> Response:
    """The same as a PDF of one page."""
    if job is not None:
        document = job_guide(asked.shop, job, name).document
    else:
        document = _document(asked, name, family)
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


@dataclass(frozen=True, slots=True)
class GuideInJob:
    """A guide as a page of a job shows it.

    Parameters
    ----------
    guide
        With what is ticked, counted and read on it.
    view
        Of the job's sheet.
    """

    guide: JobGuide
    view: SheetView

    @property
    def marks(self) -> GuideMarks:
        """What is ticked, counted and read on it."""
        return self.guide.marks

    @property
    def tag(self) -> str:
        """Of the job."""
        return self.view.job.tag

    @property
    def here(self) -> str:
        """Address of this page."""
        name = self.guide.document["name"]
        return address("/guides", name, job=self.tag, dial=self.guide.dial)

    def at(self, what: str) -> str:
        """Where a form of this page is sent."""
        name = self.guide.document["name"]
        return address("/jobs", self.tag, "guides", name, what, dial=self.guide.dial)

    @property
    def undoes(self) -> bool:
        """Whether what was saved last is taken back here: marks of this sheet, parts of stock."""
        last = self.view.undoable
        return last is not None and (
            is_of_sheet(last.what, self.marks.sheet) or is_of_stock(last.what)
        )


def guide_in_job(asked: Asking, tag: str, name: str, dial: str | None) -> GuideInJob:
    """A guide of a job with its marks; raises NotThereError if job, guide or dial is not there."""
    guide = job_guide(asked.shop, tag, name, dial)
    return GuideInJob(guide, SheetView(asked.shop, asked.texts, tag))


def guide_page(
    asked: Asking,
    document: dict[str, Any],
    shown: GuideInJob | None,
    wrong: WrongAt = NOTHING_WRONG,
    status: int = 200,
    *,
    family: int | None = None,
) -> HTMLResponse:
    """The page of a guide: in a job its boxes are kept there."""
    return asked.page(
        "guide.html",
        status,
        guide=document,
        shown=shown,
        key_of=line_key,
        unnamed_row=unnamed_row,
        drawing=drawing,
        place_of_check=place_of_check,
        job=None if shown is None else shown.tag,
        family=family,
        sizes=SIZES,
        wrong=wrong,
    )


@lru_cache(maxsize=64)
def drawing(name: str) -> Markup:
    """A drawing, to stand in a page."""
    return Markup(guide_drawing(name))


def _document(asked: Asking, name: str, version_id: int | None) -> dict[str, Any]:
    """A guide or a refit sheet of no job."""
    cluster = None if version_id is None else load_version(asked.shop, version_id)
    if name != REFIT:
        book, trouble = book_in_use(asked.shop, cluster)
        refuse_unknown_guide(name, book, trouble)
        return guide_document(name, cluster, book)
    if cluster is None:
        raise NotThereError("the refit sheet is of a family: open it from a job, or choose one")
    return refit_document(cluster, wait=settings(asked.shop).battery_wait or None)
