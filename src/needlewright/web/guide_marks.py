"""Guides and the refit sheet in a job: boxes are ticked, parts counted, readings written down."""

import re
from collections.abc import Callable, Iterator
from typing import Final

from fastapi import APIRouter
from starlette.responses import Response

from needlewright.composing.guide_marks import GuideMarks, marked_line, typed_number
from needlewright.errors import ConflictError, NeedlewrightError, UnusableInput
from needlewright.records.sheet import job_sheet
from needlewright.records.tick_lines import SheetLine, is_of_sheet
from needlewright.records.ticks import tick, untick, write_number
from needlewright.records.undo import undo_last
from needlewright.records.words import SheetMark
from needlewright.web.guides import guide_in_job, guide_page
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import SheetView, WrongAt

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
        for line, kind, value in [
            *_written(asked, sent, marks)
        ]:  # all of it is read before any is kept
            write_number(asked.shop, tag, line, asked.by, mark=kind, value=value)

    return _saving(asked, sent, (tag, name, dial), save)


@router.post("/jobs/{tag}/guides/{name}/undo")
def undo(asked: Asked, sent: Sent, tag: Tag, name: Tag, dial: str | None = None) -> Response:
    """Take back what was saved last, where it is of this sheet, and stay here."""

    def save(marks: GuideMarks) -> None:
        last = SheetView(asked.shop, asked.texts, tag).undoable
        if last is None or not is_of_sheet(last.what, marks.sheet):
            what = "" if last is None else last.what
            raise ConflictError(asked.texts("guides.undo.other", what=what))
        undo_last(asked.shop, tag, asked.by)

    return _saving(asked, sent, (tag, name, dial), save)


def _written(
    asked: Asking, sent: SentForm, marks: GuideMarks
) -> Iterator[tuple[SheetLine, SheetMark, float | None]]:
    """The numbers of the form that say something new."""
    for name, typed in sent.fields:
        found = _FIELD.fullmatch(name)
        if found is not None:
            kind = MARKS[found[1]]
            line, value = typed_number(marks, found[2], kind, typed)
            stands = marks.keyed(line.key).number(kind)
            if value != stands:
                _refuse_overtaken(asked, line, sent.maybe(f"{WAS}{name}"), stands, typed)
                yield line, kind, value


def _refuse_overtaken(
    asked: Asking, line: SheetLine, was: str | None, stands: float | None, typed: str
) -> None:
    """Refuse a number where somebody else wrote another since the page was shown."""
    now = "" if stands is None else f"{stands:g}"
    if was is not None and was != now:
        raise ConflictError(
            asked.texts(
                "guides.overtaken", what=line.words, now=now or "-", typed=typed.strip()[:20] or "-"
            )
        )


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
        wrong = WrongAt("marks", wrong_of(error), dict(sent.fields))
        return guide_page(asked, shown.guide.document, shown, wrong, status_of(error))
    version = job_sheet(asked.shop, tag).version
    return asked.saved(f"{shown.here}#{sent.text('place') or 'sheet'}", version=version)
