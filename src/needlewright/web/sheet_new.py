"""A new tag: the form a job begins with."""

from typing import Any, Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.errors import NeedlewrightError
from needlewright.families.model import Variant
from needlewright.records.entries import NewJob
from needlewright.records.families import families
from needlewright.records.jobs import new_job
from needlewright.web.pages import Asked, Asking
from needlewright.web.posted import Sent
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_measured import family_version
from needlewright.web.sheet_saving import plain_numbers
from needlewright.web.sheet_view import NOTHING_WRONG, WrongAt

FORM: Final = "new"
FIELDS: Final = tuple(NewJob.model_fields)
router = APIRouter()


@router.get("/jobs/new", response_class=HTMLResponse)
def blank(asked: Asked, family: str = "") -> Response:
    """The empty form."""
    return _page(asked, {"family": family}, NOTHING_WRONG)


@router.post("/jobs/new", response_class=HTMLResponse)
def add(asked: Asked, sent: Sent) -> Response:
    """Open a job."""
    typed = sent.stated(*FIELDS)
    entry: dict[str, Any] = {
        name: value
        for name, value in plain_numbers(typed, ("max_speed",)).items()
        if value != "" or name in ("tag", "family")
    }
    try:
        job = new_job(asked.shop, entry, asked.by)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        return _page(asked, typed, WrongAt(FORM, wrong_of(error), typed), status_of(error))
    return asked.saved(asked.at("/jobs", job.tag), version=job.version)


def _page(asked: Asking, typed: dict[str, str], wrong: WrongAt, status: int = 200) -> HTMLResponse:
    kept = families(asked.shop)
    variants: list[tuple[str, Variant]] = []
    for one in kept:
        try:
            family = family_version(asked.shop, one.version_id)
        except NeedlewrightError:
            continue  # the families page says what is wrong with it
        variants += [(one.name, variant) for variant in family.variants]
    return asked.page(
        "sheet/new.html", status, families=kept, variants=variants, typed=typed, wrong=wrong
    )
