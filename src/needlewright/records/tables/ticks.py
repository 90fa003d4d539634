"""What is ticked, counted and noted on the sheets of the work."""

from datetime import datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, check
from needlewright.records.tables.shop import Person
from needlewright.records.words import SheetMark, one_of


class Tick(Base):
    """A box ticked, a number written or a note made at one line of a sheet."""

    __tablename__ = "tick"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    sheet: Mapped[str] = mapped_column(String(160))
    """`plan:NUMBER`, `guide:NAME`, `guide:NAME@DIAL` or `refit`."""
    key: Mapped[str] = mapped_column(String(160))
    """Of the line; the same for the same step of another plan."""
    mark: Mapped[str] = mapped_column(String(8))
    value: Mapped[float | None]
    """A count or a reading."""
    words: Mapped[str] = mapped_column(default="")
    """Of the line, as the sheet had them at that moment."""
    note: Mapped[str] = mapped_column(default="")
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    """It was taken off, or written anew."""
    person: Mapped[Person] = relationship()

    __table_args__ = (
        check(one_of("mark", SheetMark), "mark"),
        check("sheet <> '' AND key <> ''", "place"),
        check("(mark IN ('done', 'note')) = (value IS NULL)", "value"),
        check("mark <> 'note' OR note <> ''", "note"),
        check("mark NOT IN ('out', 'in') OR (value >= 0 AND value <= 999)", "count"),
    )
