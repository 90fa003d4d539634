"""Photos of a board's two sides, and the pins that people set on them."""

from datetime import datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.findings.board_pins import BoardMoment, BoardSide, PinPart, PinState, PinWhat
from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.tables.shop import Person
from needlewright.records.words import one_of


class BoardPhoto(Base):
    """One photo of one side, from before the work or after it."""

    __tablename__ = "board_photo"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    sha256: Mapped[str] = mapped_column(Sha, ForeignKey("original.sha256"))
    name: Mapped[str]
    """As the camera or the person called it."""
    side: Mapped[str] = mapped_column(String(8))
    moment: Mapped[str] = mapped_column(String(8))
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()

    __table_args__ = (
        check(one_of("side", BoardSide), "side"),
        check(one_of("moment", BoardMoment), "moment"),
    )


class BoardPin(Base):
    """One place on such a photo, or all of one kind on its side."""

    __tablename__ = "board_pin"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    photo_id: Mapped[int] = mapped_column(ForeignKey("board_photo.id"))
    number: Mapped[int]
    """From 1 in each job, never given twice."""
    what: Mapped[str] = mapped_column(String(16))
    state: Mapped[str] = mapped_column(String(16))
    x: Mapped[float | None]
    """Share of the photo's width; none: all of its kind on this side."""
    y: Mapped[float | None]
    part: Mapped[str | None] = mapped_column(String(16))
    dial: Mapped[str | None]
    """Which dial's movement."""
    note: Mapped[str] = mapped_column(default="")
    of: Mapped[int | None]
    """Number of the earlier pin of the same place that this one answers."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()
    photo: Mapped[BoardPhoto] = relationship()

    __table_args__ = (
        check(one_of("what", PinWhat), "what"),
        check(one_of("state", PinState), "state"),
        check(one_of("part", PinPart), "part"),
        check("x IS NULL OR (x >= 0 AND x <= 1)", "x"),
        check("y IS NULL OR (y >= 0 AND y <= 1)", "y"),
        check("(x IS NULL) = (y IS NULL)", "place"),
        check("what = 'coating' OR state NOT IN ('removed', 'restored')", "coating"),
        check("COALESCE(part, '') = 'movement' OR dial IS NULL", "dial"),
    )
