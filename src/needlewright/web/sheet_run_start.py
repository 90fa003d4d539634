"""Starting a run: with a table of commands, with steps typed on the page, or without a camera."""

from collections.abc import Sequence
from typing import Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.run_reading import reader_settings
from needlewright.composing.steps import proposed_steps
from needlewright.errors import NeedlewrightError, RunError
from needlewright.families.model import Family
from needlewright.papers.wording import unit_words
from needlewright.records.opening import Shop
from needlewright.records.run_photos import add_run_photo
from needlewright.records.runs import run_sheet, start_run, tell_run, type_run
from needlewright.records.sheet import job_sheet
from needlewright.records.told import Told
from needlewright.records.views import JobSheet, RunSheet
from needlewright.records.words import RUN_NAMES, RunSide
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentFile
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_measured import family_version
from needlewright.web.sheet_reading import wake
from needlewright.web.sheet_run_forms import (
    APPROACHES,
    StepRow,
    approach_of,
    commands_in,
    plain,
    run_in,
    step_rows,
    typed_run,
    typed_steps,
)
from needlewright.web.sheet_saving import saving
from needlewright.web.sheet_view import NOTHING_WRONG, WrongAt

SIDES: Final[tuple[RunSide, ...]] = ("found", "left", "other")
router = APIRouter()


@router.post("/jobs/{tag}/runs/{side}/files")
def with_files(asked: Asked, sent: Sent, tag: Tag, side: str) -> Response:
    """Start a run with a table, and with the photos that came along."""
    which = _side(side)
    started: list[int] = []
    steps: dict[str, int] = {}

    def start() -> JobSheet:
        family = _family(asked.shop, tag)
        tables = [file for file in sent.files("files") if _is_table(file)]
        photos = [file for file in sent.files("files") if not _is_table(file)]
        if len(tables) != 1:
            raise RunError(asked.texts("runs.start.one_table", n=len(tables)))
        typed = run_in(tables[0], RUN_NAMES[which])
        if typed is not None:
            type_run(asked.shop, tag, which, typed, asked.by)
            return job_sheet(asked.shop, tag)
        rows, named = commands_in(tables[0], family)
        steps.update(named)
        run = start_run(asked.shop, tag, which, rows, asked.by, reader=reader_settings())
        started.append(run.id)
        _put_photos(asked, run, photos, named)
        return job_sheet(asked.shop, tag)

    answer = saving(asked, sent, tag, f"{side}-start", start, anchor=f"{side}-run")
    wake(asked)
    if asked.is_script and started:
        where = f"{asked.at('/jobs', tag)}#{side}-run"
        return asked.saved(where, run=started[0], steps=steps)
    return answer


@router.post("/jobs/{tag}/runs/{side}/steps")
def with_steps(asked: Asked, sent: Sent, tag: Tag, side: str) -> Response:
    """Start a run with steps typed on the page, or type it in whole."""
    which = _side(side)

    def start() -> JobSheet:
        family = _family(asked.shop, tag)
        if sent.ticked("no_camera"):
            type_run(asked.shop, tag, which, typed_run(sent, family, RUN_NAMES[which]), asked.by)
        else:
            rows = typed_steps(sent, family)
            start_run(asked.shop, tag, which, rows, asked.by, reader=reader_settings())
        return job_sheet(asked.shop, tag)

    try:
        job = start()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt("steps", wrong_of(error), dict(sent.fields))
        return _steps_page(asked, tag, which, wrong, status_of(error))
    return asked.saved(f"{asked.at('/jobs', job.tag)}#{side}-run", version=job.version)


@router.get("/jobs/{tag}/runs/{side}/steps", response_class=HTMLResponse)
def steps(asked: Asked, tag: Tag, side: str, no_camera: bool = False) -> Response:
    """The table of steps, filled with the rule's check points or the run as found."""
    typed = {"no_camera": "yes"} if no_camera else {}
    return _steps_page(asked, tag, _side(side), NOTHING_WRONG, typed=typed)


@router.post("/jobs/{tag}/run/{run_id}/steps")
def tell(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """State the steps of a run anew; its photos stay at their steps."""
    run = run_sheet(asked.shop, run_id)
    family = family_version(asked.shop, run.family_version_id)

    try:
        tell_run(asked.shop, run_id, typed_steps(sent, family), asked.by)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt("steps", wrong_of(error), dict(sent.fields))
        return _steps_page(asked, tag, run.side, wrong, status_of(error), run=run)
    job = job_sheet(asked.shop, run.tag)
    return asked.saved(f"{asked.at('/jobs', job.tag)}#{run.side}-run", version=job.version)


@router.get("/jobs/{tag}/run/{run_id}/steps", response_class=HTMLResponse)
def told(asked: Asked, tag: Tag, run_id: int) -> Response:
    """The steps of a run, to be corrected."""
    run = run_sheet(asked.shop, run_id)
    return _steps_page(asked, tag, run.side, NOTHING_WRONG, run=run)


def _steps_page(
    asked: Asking,
    tag: str,
    side: RunSide,
    wrong: WrongAt,
    status: int = 200,
    *,
    run: RunSheet | None = None,
    typed: dict[str, str] | None = None,
) -> HTMLResponse:
    job = job_sheet(asked.shop, tag)
    family = _family(asked.shop, tag)
    rows = run.told if run is not None else _proposed(asked.shop, job, side, family)
    temperature = next((row.temperature_c for row in rows if row.temperature_c is not None), None)
    lines = list(step_rows(rows))
    following = max((line.number for line in lines), default=-1) + 1
    lines += [StepRow(following + i, APPROACHES[1], {}) for i in range(0 if run is None else 2)]
    return asked.page(
        "sheet/steps.html",
        status,
        job=job,
        side=side,
        family=family,
        run=run,
        lines=lines,
        blank=following,
        temperature=temperature,
        approaches=APPROACHES,
        wrong=wrong,
        typed=typed or dict(wrong.typed),
        unit_words=unit_words,
        plain=plain,
    )


def _proposed(shop: Shop, job: JobSheet, side: RunSide, family: Family) -> Sequence[Told]:
    """The check points; for the run as left what the run as found was told."""
    if side == "left":
        found = [r for r in job.runs if r.side == "found" and r.set_aside_at is None]
        if found:
            told_then = run_sheet(shop, found[-1].id).told
            return [
                Told(r.step, r.dial, r.unit, approach_of(r.approach), r.commanded, r.temperature_c)
                for r in told_then
            ]
    return proposed_steps(family, max_speed=job.max_speed)


def _put_photos(
    asked: Asking, run: RunSheet, photos: Sequence[SentFile], named: dict[str, int]
) -> None:
    """Each photo at the step its name has in the table; a name it does not have is refused."""
    by_name = {name.rpartition("/")[2].casefold(): step for name, step in named.items()}
    unknown = [photo.name for photo in photos if photo.name.casefold() not in by_name]
    for photo in photos:
        step = by_name.get(photo.name.casefold())
        if step is not None:
            add_run_photo(asked.shop, run.id, photo.content(), photo.name, asked.by, step=step)
    if unknown:
        raise RunError(asked.texts("runs.start.not_in_table", names=", ".join(unknown[:5])))


def _family(shop: Shop, tag: str) -> Family:
    return family_version(shop, job_sheet(shop, tag).family_version_id)


def _side(side: str) -> RunSide:
    found = next((one for one in SIDES if one == side), None)
    if found is None:
        raise RunError(f"there is no run '{side[:20]}' on the sheet; open the job again")
    return found


def _is_table(file: SentFile) -> bool:
    return file.name.casefold().endswith((".csv", ".tsv", ".txt"))
