"""Guides and the refit sheet in a job: boxes are ticked, parts counted, readings written down."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from fastapi import APIRouter
from starlette.responses import Response

from needlewright.composing.guide_marks import GuideMarks, marked_line, typed_number
from needlewright.composing.undoing import undo_last
from needlewright.errors import ConflictError, JobError, NeedlewrightError, UnusableInput
from needlewright.records.sheet import job_sheet
from needlewright.records.tick_lines import is_of_sheet
from needlewright.records.tick_marks import Numbered, write_marks
from needlewright.records.ticks import tick, untick
from needlewright.records.words import SheetMark
from needlewright.web.guides import guide_in_job, guide_page
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import SheetView, WrongAt
from needlewright.web.stock_view import is_of_stock

MARKS: Final[dict[str, SheetMark]] = {"out": "out", "in": "in", "read": "reading"}
WAS: Final = "was|"
"""Before a field's name: what the page showed in it."""
_FIELD: Final = re.compile(r"(out|in|read)\|(.+)")
router = APIRouter()


@router.post("/jobs/{tag}/guides/{name}/tick")
def mark(asked: Asked, sent: Sent, tag: Tag, name: Tag, dial: str | None = None) -> Response:
    """Tick a line, or take its tick off."""
    key = sent.text("tick") or sent.text("untick")

    def save(marks: GuideMarks) -> None:
        if not key:
            raise UnusableInput(asked.texts("rebuild.wrong.no_key"))
        line = marked_line(marks, key)
        if sent.text("tick"):
            tick(asked.shop, tag, line, asked.by)
        else:
            untick(asked.shop, tag, line, asked.by)

    return _saving(asked, sent, (tag, name, dial), save)


@router.post("/jobs/{tag}/guides/{name}/counts")
def count(asked: Asked, sent: Sent, tag: Tag, name: Tag, dial: str | None = None) -> Response:
    """Keep how many were counted out or in, and what was read; all of it or nothing."""

    def save(marks: GuideMarks) -> None:
        write_marks(asked.shop, tag, _written(sent, marks), asked.by)

    return _saving(asked, sent, (tag, name, dial), save)


@router.post("/jobs/{tag}/guides/{name}/undo")
def undo(asked: Asked, sent: Sent, tag: Tag, name: Tag, dial: str | None = None) -> Response:
    """Take back what was saved last, where it is of this sheet, and stay here."""

    def save(marks: GuideMarks) -> None:
        last = SheetView(asked.shop, asked.texts, tag).undoable
        if last is None or not (is_of_sheet(last.what, marks.sheet) or is_of_stock(last.what)):
            what = "" if last is None else last.what
            raise ConflictError(asked.texts("guides.undo.other", what=what))
        undo_last(asked.shop, tag, asked.by)

    return _saving(asked, sent, (tag, name, dial), save)


def _written(sent: SentForm, marks: GuideMarks) -> list[Numbered]:
    """The numbers of the form, each with what the page showed in its field; all wrong ones said."""
    written: list[Numbered] = []
    wrong: dict[str, NeedlewrightError] = {}
    for name, typed in sent.fields:
        found = _FIELD.fullmatch(name)
        if found is None:
            continue
        kind = MARKS[found[1]]
        try:
            line, value = typed_number(marks, found[2], kind, typed)
        except NeedlewrightError as error:
            wrong[name] = error
        else:
            written.append(Numbered(line, kind, value, sent.maybe(f"{WAS}{name}")))
    if wrong:
        raise _all_wrong(wrong)
    return written


def _all_wrong(wrong: dict[str, NeedlewrightError]) -> JobError:
    """Every number that cannot be kept in one sentence, and each for beside its field."""
    said = {name: wrong_of(error) for name, error in wrong.items()}
    beside = {name: _without_line(one.what) for name, one in said.items()}
    if len(wrong) == 1:
        return JobError(str(*wrong.values()), beside)
    first = next(iter(said.values()))
    every = ", and ".join(one.what for one in said.values())
    return JobError(f"{first.where}: {every}; correct them and save again", beside)


def _without_line(what: str) -> str:
    """What is wrong with a number, beside whose field the line stands anyhow."""
    _, expected, found = what.partition(": expected ")
    return f"expected {found}" if expected else what


def _saving(
    asked: Asking,
    sent: SentForm,
    where: tuple[str, str, str | None],
    save: Callable[[GuideMarks], None],
) -> Response:
    """Save, and answer: with the sheet as it then is, or with what is wrong."""
    tag, name, dial = where
    shown = guide_in_job(asked, tag, name, dial)
    try:
        save(shown.marks)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        said = replace(wrong_of(error), where="")  # the page says of which sheet it is
        wrong = WrongAt("marks", said, dict(sent.fields))
        return guide_page(asked, shown.guide.document, shown, wrong, status_of(error))
    version = job_sheet(asked.shop, tag).version
    return asked.saved(f"{shown.here}#{sent.text('place') or 'sheet'}", version=version)
