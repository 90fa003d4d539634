"""Needles onto new movements: the plan with its reasons, what came of it, and needle heights."""

from typing import Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.job_press import DialSet, JobPress, job_press, movement_runs
from needlewright.composing.needle_press import CAUTIONS
from needlewright.composing.pressed_needles import PressedOnto, keep_pressed, pressed_onto_line
from needlewright.composing.pressed_read import read_by_eye
from needlewright.errors import NeedlewrightError, RecordError, UnitError
from needlewright.findings.wording import share_words
from needlewright.papers.wording import unit_words
from needlewright.plans.decimal_comma import pointed
from needlewright.records.sheet import job_sheet
from needlewright.units import unit_for_people
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent
from needlewright.web.press_view import as_set, dial_views, hand_words, press_again
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import NOTHING_WRONG, WrongAt

TYPED: Final = "press-typed"
router = APIRouter()


@router.get("/jobs/{tag}/needle-set", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag) -> Response:
    """Where every needle is pressed, and what came of those that were."""
    return press_page(asked, tag)


@router.post("/jobs/{tag}/needle-set/{dial}")
def typed(asked: Asked, sent: Sent, tag: Tag, dial: Tag) -> Response:
    """Write down what a pressed needle shows, read by eye."""
    job = job_sheet(asked.shop, tag)
    try:
        found = job_press(asked.shop, tag)
        line = pressed_onto_line(_by_eye(found, dial, sent.text("shows"), sent.text("u")),
                                 unit_for_people(_planned(found, dial).dial.unit))  # fmt: skip
        is_rehearsed = found.sheet.rehearsed is not None
        keep_pressed(asked.shop, job, line, asked.by, rehearsed=is_rehearsed)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(f"{TYPED}-{dial}", wrong_of(error), dict(sent.fields))
        return press_page(asked, tag, wrong, status_of(error))
    return asked.saved(f"{asked.at('/jobs', job.tag, 'needle-set')}#as-set")


def press_page(
    asked: Asking, tag: str, wrong: WrongAt = NOTHING_WRONG, status: int = 200
) -> Response:
    """The place of the needles of a job onto its new movements.

    Parameters
    ----------
    asked
        The request.
    tag
        Of the job.
    wrong
        What could not be saved, shown where it was typed.
    status
        Of the answer.

    Returns
    -------
    Response
        The whole page; what cannot be planned is said on it.
    """
    job = job_sheet(asked.shop, tag)
    found, trouble = None, ""
    if movement_runs(job):
        try:
            found = job_press(asked.shop, tag)
        except NeedlewrightError as error:
            trouble = str(error)
    views = () if found is None else dial_views(asked.texts, found)
    forms = {f"{TYPED}-{one.id}" for one in views if one.verdict == "press"}
    return asked.page(
        "press.html",
        status,
        job=job,
        found=found,
        trouble=trouble,
        elsewhere=wrong.wrong if wrong.form and wrong.form not in forms else None,
        dials=views,
        pressed=() if found is None else as_set(found),
        again=() if found is None else press_again(found),
        hand="" if found is None else hand_words(asked.texts, found.hand),
        cautions=CAUTIONS,
        unit_words=unit_words,
        share_words=share_words,
        wrong=wrong,
    )


def _planned(found: JobPress, dial: str) -> DialSet:
    one = next((one for one in found.dials if one.dial.id == dial), None)
    if one is None or one.planned.press is None or one.planned.press.verdict != "press":
        raise RecordError(
            f"job {found.job.tag}, dial '{dial[:40]}': there is no place to press its needle by "
            f"run {found.sheet.name}, so nothing is written down; look at the plan"
        )
    return one


def _by_eye(found: JobPress, dial: str, shows: str, u: str) -> PressedOnto:
    """What an eye read, as a pressed needle."""
    one = _planned(found, dial)
    refuse_rehearsed(found)
    value = _number(shows, f"dial '{dial}': what its needle shows")
    most = _number(u, f"dial '{dial}': how far that may be off") if u.strip() else None
    return read_by_eye(found, one, value, most)


def refuse_rehearsed(found: JobPress) -> None:
    """A needle pressed by a rehearsed run is no work done on a real cluster; RecordError."""
    if found.sheet.rehearsed is not None and not found.invented:
        raise RecordError(
            f"job {found.job.tag}, run {found.sheet.name}: was rehearsed, so nothing of it is "
            "written down as work done; set it aside and run the new movements themselves"
        )


def _number(text: str, what: str) -> float:
    try:
        value = float(pointed(text.strip().replace("−", "-")))
    except UnitError as error:
        raise RecordError(f"{what}: {error}") from error
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e12:
        raise RecordError(f"{what} must be a number, given '{text[:20]}'; type it, as 80.5")
    return value
