"""Lines of the sheets of the work, by which ticks, counts and notes are kept."""

import re
from dataclasses import dataclass
from typing import Final

from needlewright.errors import RecordError

REFIT: Final = "refit"
LONGEST_KEY: Final = 160
_PLAN: Final = re.compile(r"plan:[0-9A-F]{8}")
_GUIDE: Final = re.compile(r"guide:[A-Za-z0-9_-]{1,60}(@[^\s@]{1,60})?")
_OF_PLANS: Final = "rebuild"


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line of a sheet.

    Parameters
    ----------
    sheet
        `plan:NUMBER`, `guide:NAME`, `guide:NAME@DIAL` or `refit`.
    key
        Its own on that sheet; the same for the same step of another plan.
    words
        What it says, for the record.
    """

    sheet: str
    key: str
    words: str = ""

    @property
    def said(self) -> str:
        """What it says, or else its key."""
        return self.words or self.key


def plan_sheet(number: str) -> str:
    """The sheet of a plan's steps, by the plan's number."""
    return f"plan:{number}"


def guide_sheet(name: str, dial: str | None = None) -> str:
    """The sheet of a guide, by its name; of a dial where the work is done to one."""
    return f"guide:{name}" if dial is None else f"guide:{name}@{dial}"


def sheet_words(sheet: str) -> str:
    """A sheet as the journal calls it: `rebuild`, `guide reflow`, `refit sheet`."""
    if sheet == REFIT:
        return "refit sheet"
    kind, _, name = sheet.partition(":")
    if kind == "plan":
        return _OF_PLANS
    name, _, dial = name.partition("@")
    return f"guide {name}, {dial}" if dial else f"guide {name}"


def is_of_sheet(what: str, sheet: str) -> bool:
    """Whether a line of the journal is of a tick, count or note on that sheet."""
    return what.startswith(f"{sheet_words(sheet)}: ")


def is_of_plans(what: str) -> bool:
    """Whether a line of the journal is of a tick, count or note on the sheet of any plan."""
    return what.startswith(f"{_OF_PLANS}: ")


def where_words(tag: str, line: SheetLine) -> str:
    """Where something is wrong: `job EX-1, guide reflow`."""
    return f"job {tag}, {sheet_words(line.sheet)[:80]}"


def refuse_line(line: SheetLine, tag: str) -> None:
    """Raise RecordError for a sheet or a key that cannot be."""
    if not (line.sheet == REFIT or _PLAN.fullmatch(line.sheet) or _GUIDE.fullmatch(line.sheet)):
        raise RecordError(
            f"job {tag}: there is no sheet '{line.sheet[:60]}'; expected plan:NUMBER, guide:NAME "
            "or refit"
        )
    if not line.key or len(line.key) > LONGEST_KEY or not line.key.isprintable():
        raise RecordError(
            f"{where_words(tag, line)}: there is no line '{line.key[:60]}'; expected a key of 1 "
            f"to {LONGEST_KEY} printable characters"
        )
