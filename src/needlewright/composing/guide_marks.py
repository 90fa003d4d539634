"""A guide or a refit sheet in a job: its lines, and what is ticked, counted and read of each."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from needlewright.composing.counting import Counts, counts_of
from needlewright.composing.guides import REFIT
from needlewright.errors import PlanError, UnitError
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.guides.line_keys import line_key
from needlewright.records.opening import Shop
from needlewright.records.tick_lines import SheetLine, guide_sheet, sheet_words
from needlewright.records.tick_marks import refuse_number
from needlewright.records.ticks import ticks_of
from needlewright.records.views.ticks import TickView
from needlewright.records.words import SheetMark

Document = Mapping[str, Any]
LineKind = Literal["step", "row", "tool", "photo", "count", "check", "reading"]
READINGS: Final = ("reference", "shown")
READINGS_OF_EACH: Final = 3


@dataclass(frozen=True, slots=True)
class GuideLine:
    """A line of a guide, and what it is marked with.

    Parameters
    ----------
    key
        The same as long as the line says the same.
    kind
        What it is.
    words
        What it says.
    expected
        For parts that are counted: how many there should be; None: to be counted.
    done
        Who ticked it; None: nobody.
    counts
        For parts: how many were counted out and in.
    reading
        For a reading: what was read.
    notes
        Made at it.
    """

    key: str
    kind: LineKind
    words: str
    expected: int | None
    done: TickView | None
    counts: Counts | None
    reading: TickView | None
    notes: tuple[TickView, ...]


@dataclass(frozen=True, slots=True)
class GuideMarks:
    """A guide in a job.

    Parameters
    ----------
    tag
        Of the job.
    sheet
        Its name in the records.
    lines
        In the order of the sheet.
    older
        Marks at lines the sheet has no more: its words were changed since.
    """

    tag: str
    sheet: str
    lines: tuple[GuideLine, ...]
    older: tuple[TickView, ...]

    def keyed(self, key: str) -> GuideLine:
        """The line of a key, or of a number from 1; raises PlanError if there is none."""
        found = next((one for one in self.lines if one.key == key), None)
        if found is None and key.isdecimal() and 0 < int(key[:9]) <= len(self.lines):
            found = self.lines[int(key[:9]) - 1]
        if found is None:
            raise PlanError(
                f"job {self.tag}, {sheet_words(self.sheet)}: has no line '{key[:60]}'; its lines "
                f"are 1 to {len(self.lines)}"
            )
        return found

    @property
    def done(self) -> int:
        """How many steps and checks are ticked."""
        return sum(one.done is not None for one in self._work)

    @property
    def of(self) -> int:
        """How many steps and checks there are."""
        return len(self._work)

    @property
    def wrong(self) -> tuple[str, ...]:
        """What was counted and does not come out even, one sentence each."""
        counted = [(one.kind, one.counts) for one in self.lines if one.counts is not None]
        return tuple(
            one.words
            for kind, one in counted
            if one.is_wrong and (kind == "count" or one.even != "not_out")
        )

    @property
    def waiting(self) -> tuple[str, ...]:
        """What was counted out and not in yet."""
        counted = [one.counts for one in self.lines if one.counts and one.kind == "count"]
        return tuple(one.words for one in counted if one.even == "not_in")

    @property
    def _work(self) -> list[GuideLine]:
        return [one for one in self.lines if one.kind in ("step", "check")]


def sheet_of(document: Document, dial: str | None = None) -> str:
    """What a guide or a refit sheet is called in the records of a job."""
    return REFIT if document["name"] == REFIT else guide_sheet(document["name"], dial)


def guide_marks(shop: Shop, tag: str, document: Document, dial: str | None = None) -> GuideMarks:
    """Put a guide together with what is marked on it in a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    document
        Of the guide or the refit sheet.
    dial
        The work is done to; None: to the whole.

    Returns
    -------
    GuideMarks
        Line by line.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    sheet = sheet_of(document, dial)
    marks = ticks_of(shop, tag, sheet)
    by_key: dict[str, list[TickView]] = {}
    for one in marks:
        by_key.setdefault(one.key, []).append(one)
    lines = tuple(
        _line(key, kind, words, expected, by_key.get(key, []))
        for key, kind, words, expected in lines_in(document)
    )
    known = {one.key for one in lines}
    return GuideMarks(tag, sheet, lines, tuple(one for one in marks if one.key not in known))


def marked_line(marks: GuideMarks, key: str) -> SheetLine:
    """The line to be marked, as the records take it; raises PlanError if there is none."""
    line = marks.keyed(key)
    return SheetLine(marks.sheet, line.key, line.words)


def typed_number(
    marks: GuideMarks, key: str, mark: SheetMark, typed: str
) -> tuple[SheetLine, float | None]:
    """A count or reading as it was typed.

    Parameters
    ----------
    marks
        Of the sheet.
    key
        Of the line.
    mark
        `out`, `in` or `reading`.
    typed
        A number; empty: it is written no more.

    Returns
    -------
    tuple of SheetLine and float or None
        To be kept.

    Raises
    ------
    PlanError
        If there is no such line, it takes no such number, or what was typed is none.
    RecordError
        If the number cannot be counted.
    """
    line = marks.keyed(key)
    where = f"job {marks.tag}, {sheet_words(marks.sheet)}: {line.words}"
    is_reading = mark == "reading"
    takes = line.kind == "reading" if is_reading else line.kind == "count"
    if not (takes or (line.kind == "row" and mark == "in")):
        wanted = ("reading",) if is_reading else ("count", "row") if mark == "in" else ("count",)
        lines = [str(n) for n, one in enumerate(marks.lines, start=1) if one.kind in wanted]
        raise PlanError(
            f"{where}: no such number is kept of this line; tick it, or name one of the lines "
            f"{', '.join(lines) or 'of another guide'}"
        )
    text, value = " ".join(typed.split()), None
    if text:
        try:
            value = float(pointed(text)) if is_reading else float(int(text))
        except UnitError as error:
            raise PlanError(f"{where}: {error}") from None
        except (ValueError, OverflowError):
            kind = "a number" if is_reading else "a whole number"
            raise PlanError(f"{where}: expected {kind}, found '{typed[:20]}'") from None
    kept = marked_line(marks, key)
    refuse_number(marks.tag, kept, mark, value)
    return kept, value


def lines_in(document: Document) -> Iterator[tuple[str, LineKind, str, int | None]]:
    """Every line that can be marked: key, kind, words, and how many there should be.

    Parameters
    ----------
    document
        Of a guide or a refit sheet.

    Yields
    ------
    tuple
        In the order of the sheet.
    """
    for step in document["steps"]:
        yield step["key"], "step", step["words"], None
        for kind in step["rows"]:
            for row in document["lines"][kind] or [unnamed_row(kind)]:
                yield line_key(f"row:{kind}", row["what"]), "row", row["what"], row["count"]
    for words in document["tools"]:
        yield line_key("tool", words), "tool", words, None
    for words in document["photos"]:
        yield line_key("photo", words), "photo", words, None
    for row in document["counted"]:
        yield line_key("count", row["what"]), "count", row["what"], row["count"]
    for check in document["checks"]:
        yield line_key("check", check["words"]), "check", check["words"], None
    if document["readings"]:
        for name in READINGS:
            for number in range(1, READINGS_OF_EACH + 1):
                yield f"reading:{name}-{number}", "reading", f"{name} {number}", None


def unnamed_row(kind: str) -> Document:
    """The one line of a kind of part that the family says nothing of: `loose parts`, to count."""
    return {"what": kind.replace("_", " "), "count": None, "tightness": ""}


def _line(
    key: str, kind: LineKind, words: str, expected: int | None, marks: list[TickView]
) -> GuideLine:
    return GuideLine(
        key=key,
        kind=kind,
        words=words,
        expected=expected,
        done=next((one for one in marks if one.mark == "done"), None),
        counts=_counts(kind, words, expected, marks),
        reading=next((one for one in marks if one.mark == "reading"), None),
        notes=tuple(one for one in marks if one.mark == "note"),
    )


def _counts(
    kind: LineKind, words: str, expected: int | None, marks: list[TickView]
) -> Counts | None:
    """Of a part of the cluster, out and in; of one of the vehicle, in beside how many there are."""
    if kind == "count":
        return counts_of(words, marks, expected)
    if kind != "row":
        return None
    return Counts(words, expected, counts_of(words, marks).back)
