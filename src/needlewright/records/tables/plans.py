"""Plans of jobs with what customers accepted of them, and the shop's own catalogues."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.tables.shop import Person


class JobPlan(Base):
    """One plan, whole, as it was made; the last one is the job's, the older stay."""

    __tablename__ = "job_plan"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    number: Mapped[str] = mapped_column(String(8))
    """Made of its content: a plan that was changed and changed back has its number again."""
    document: Mapped[dict[str, Any]]
    """All that papers are made of; money in it is decimal text."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()

    __table_args__ = (check("length(number) = 8", "number"),)


class PlanAcceptance(Base):
    """What a customer accepted, of exactly which plan; the last of a job counts."""

    __tablename__ = "plan_acceptance"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    plan_id: Mapped[int] = mapped_column(ForeignKey("job_plan.id"))
    option: Mapped[str] = mapped_column(String(16))
    price: Mapped[str]
    """As it was shown, with its currency."""
    who: Mapped[str]
    """Of the customer's side; who wrote it down is `person`."""
    day: Mapped[date]
    """On which it was accepted."""
    how: Mapped[str]
    taken_back_at: Mapped[datetime | None]
    """The customer accepts it no more; it stays written, and none before it counts either."""
    taken_back_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    taken_back_why: Mapped[str | None]
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    """Entering it was undone."""
    person: Mapped[Person] = relationship(foreign_keys=[person_id])
    taken_back_by: Mapped[Person | None] = relationship(foreign_keys=[taken_back_by_id])
    plan: Mapped[JobPlan] = relationship()

    __table_args__ = (
        check("option <> ''", "option"),
        check("price <> ''", "price"),
        check("who <> ''", "who"),
        check("how <> ''", "how"),
        check(
            "(taken_back_at IS NULL) = (taken_back_by_id IS NULL) "
            "AND (taken_back_at IS NULL) = (taken_back_why IS NULL)",
            "taken_back",
        ),
    )


class ShopCatalogue(Base):
    """Which catalogue of operations the shop plans with; the last one counts."""

    __tablename__ = "shop_catalogue"

    id: Mapped[int] = mapped_column(primary_key=True)
    sha256: Mapped[str | None] = mapped_column(Sha, ForeignKey("original.sha256"))
    """Of its text; none: the one that comes with the program, from then on."""
    name: Mapped[str]
    """As its file was called."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    person: Mapped[Person] = relationship()

    __table_args__ = (check("name <> ''", "name"),)
