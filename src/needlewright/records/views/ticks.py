"""What is ticked, counted and noted on the sheets of the work, as plain values."""

from dataclasses import dataclass
from datetime import datetime

from needlewright.records.words import SheetMark


@dataclass(frozen=True, slots=True)
class TickView:
    """A box ticked, a number written or a note made at one line of a sheet."""

    id: int
    sheet: str
    """`plan:NUMBER`, `guide:NAME`, `guide:NAME@DIAL` or `refit`."""
    key: str
    """Of the line; the same for the same step of another plan."""
    mark: SheetMark
    value: float | None
    """A count or a reading; None: a tick or a note."""
    words: str
    """Of the line, as the sheet had them at that moment."""
    note: str
    by: str
    at: datetime
