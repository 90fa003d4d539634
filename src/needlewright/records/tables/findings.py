"""What was answered about a job's causes, and what a person said of them in the end."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, check
from needlewright.records.tables.shop import Person
from needlewright.records.words import AnswerSource, one_of


class FindingAnswer(Base):
    """A question or test of the knowledge file was answered with yes, no, or not known."""

    __tablename__ = "finding_answer"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    finding: Mapped[str] = mapped_column(String(80))
    """Its id in the knowledge file."""
    dial: Mapped[str | None]
    """Of which dial; none: of the whole."""
    yes: Mapped[bool | None]
    """None: it is not known, and need not be asked again."""
    source: Mapped[str] = mapped_column(String(8))
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    """It was answered anew, or taken back."""
    person: Mapped[Person] = relationship()

    __table_args__ = (
        check("finding <> ''", "finding"),
        check("dial IS NULL OR dial <> ''", "dial"),
        check(one_of("source", AnswerSource), "source"),
    )


class Analysis(Base):
    """What an analysis of files outside the records saw: photos of lamps, a log of the vehicle."""

    __tablename__ = "analysis"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    name: Mapped[str]
    """Of its document, as the person called it."""
    pieces: Mapped[list[Any]]
    """Pieces of evidence, as their documents."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    """It was made anew, or taken back."""
    person: Mapped[Person] = relationship()

    __table_args__ = (check("name <> ''", "name"),)


class Opinion(Base):
    """What a person decided a dial or a system has, beside what the program said of it.

    A later one of the same subject counts in its place; both stay.
    """

    __tablename__ = "opinion"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    dial: Mapped[str | None]
    """Of which dial; none: of a system of the whole."""
    system: Mapped[str | None]
    """Such as `lamps` or `supply`."""
    said: Mapped[dict[str, Any]]
    """Cause to probability, as the program had it at that moment."""
    decided: Mapped[list[Any]]
    """Codes of the causes there are, at most one of a dial; none: it is sound."""
    part: Mapped[str | None]
    """The part inside, where one is named."""
    why: Mapped[str]
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()

    __table_args__ = (
        check("(dial IS NULL) <> (system IS NULL)", "subject"),
        check("part IS NULL OR part <> ''", "part"),
        check("why <> ''", "why"),
    )
