"""Parts in stock, the batches they came in, and the ledger of what came and went."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, check
from needlewright.records.tables.jobs import Job
from needlewright.records.tables.shop import Person
from needlewright.records.words import StockMoveKind, one_of


class StockPart(Base):
    """Something that is bought, kept in a drawer and fitted; how many there are is nowhere here."""

    __tablename__ = "stock_part"

    id: Mapped[int] = mapped_column(primary_key=True)
    code: Mapped[str] = mapped_column(String(40))
    """Its id in the catalogue of operations, or the shop's own."""
    code_key: Mapped[str] = mapped_column(String(80), unique=True)
    """The code without regard to case, by which it is found."""
    words: Mapped[str]
    unit: Mapped[str]
    """What is counted: pieces, sets."""
    reorder_point: Mapped[int | None]
    """To be ordered with so many left, or fewer; none: never by itself."""
    place: Mapped[str] = mapped_column(default="")
    price: Mapped[str | None] = mapped_column(String(24))
    """What one usually costs, as a decimal."""
    currency: Mapped[str | None] = mapped_column(String(3))
    retired: Mapped[bool] = mapped_column(default=False)
    version: Mapped[int] = mapped_column(default=1)
    """Counts changes of these fields, not what comes and goes."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))

    __table_args__ = (
        check("code <> ''", "code"),
        check("words <> ''", "words"),
        check("unit <> ''", "unit"),
        check("reorder_point >= 0", "reorder_point"),
        check("(price IS NULL) = (currency IS NULL)", "price"),
    )


class StockBatch(Base):
    """One delivery; a mark may come in more than one."""

    __tablename__ = "stock_batch"

    id: Mapped[int] = mapped_column(primary_key=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("stock_part.id"), index=True)
    mark: Mapped[str] = mapped_column(String(60))
    """The maker's batch or date code; the day it came where it carries none."""
    received_on: Mapped[date]
    note: Mapped[str] = mapped_column(default="")
    """Who supplied it, and anything else, in words."""
    price: Mapped[str | None] = mapped_column(String(24))
    """What was paid for one, as a decimal."""
    currency: Mapped[str | None] = mapped_column(String(3))
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    person: Mapped[Person] = relationship()

    __table_args__ = (
        check("mark <> ''", "mark"),
        check("(price IS NULL) = (currency IS NULL)", "price"),
    )


class StockMove(Base):
    """One line of the ledger; never changed or removed. What is on hand is the sum of them."""

    __tablename__ = "stock_move"

    id: Mapped[int] = mapped_column(primary_key=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("stock_part.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("stock_batch.id"), index=True)
    """None: the part was counted as a whole, and the count agreed."""
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"), index=True)
    kind: Mapped[str] = mapped_column(String(16))
    count: Mapped[int]
    """Below zero: it went."""
    why: Mapped[str] = mapped_column(default="")
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    undoes_id: Mapped[int | None] = mapped_column(ForeignKey("stock_move.id"), unique=True)
    """The earlier line this one takes back."""
    person: Mapped[Person] = relationship()
    batch: Mapped[StockBatch | None] = relationship()
    job: Mapped[Job | None] = relationship()

    __table_args__ = (
        check(one_of("kind", StockMoveKind), "kind"),
        check("(kind IN ('used', 'given_back')) = (job_id IS NOT NULL)", "job"),
        check("batch_id IS NOT NULL OR (kind = 'counted' AND count = 0)", "batch"),
        check(
            "undoes_id IS NOT NULL OR kind = 'counted' "
            "OR (kind IN ('received', 'given_back') AND count > 0) "
            "OR (kind IN ('used', 'scrapped') AND count < 0)",
            "count",
        ),
        check("kind NOT IN ('counted', 'scrapped') OR why <> ''", "why"),
        check("undoes_id <> id", "undoes"),
    )
