"""Burn-ins of a job: what was planned, every line of their journals, the pictures they name."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.tables.shop import Person
from needlewright.records.words import BurnInState, one_of


class BurnIn(Base):
    """One burn-in of a job; one that was set aside stays, with the reason."""

    __tablename__ = "burn_in"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    family_version_id: Mapped[int] = mapped_column(ForeignKey("family_version.id"))
    unit: Mapped[str]
    """Which cluster, as people tell it from others."""
    rehearsed: Mapped[str | None]
    """What stood on the bench in place of a cluster, in words; None: a real one."""
    plan: Mapped[dict[str, Any]]
    """What is to be done."""
    known: Mapped[dict[str, Any]]
    """What was known beforehand: laws, warranty, costs."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    state: Mapped[str] = mapped_column(String(10))
    words: Mapped[str]
    """How it ended; empty: it has not."""
    powered_s: Mapped[float]
    sweeps: Mapped[int]
    key_ons: Mapped[int]
    lines: Mapped[int]
    """So many lines of its journal are here."""
    said: Mapped[dict[str, Any]]
    """What came of it in few words, as its report has it; empty: nothing yet."""
    ended_at: Mapped[datetime | None]
    set_aside_at: Mapped[datetime | None]
    set_aside_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    set_aside_why: Mapped[str]
    person: Mapped[Person] = relationship(foreign_keys=person_id)

    __table_args__ = (
        check(one_of("state", BurnInState), "state"),
        check("unit <> ''", "unit"),
        check("powered_s >= 0 AND sweeps >= 0 AND key_ons >= 0 AND lines >= 0", "counts"),
        check("(state = 'under_way') = (ended_at IS NULL)", "ended"),
        check(
            "(set_aside_at IS NULL) = (set_aside_by_id IS NULL) AND "
            "(set_aside_at IS NULL OR set_aside_why <> '')",
            "set_aside",
        ),
    )


class BurnInLine(Base):
    """One line of a burn-in's journal, as it stands in the file."""

    __tablename__ = "burn_in_line"

    burn_in_id: Mapped[int] = mapped_column(ForeignKey("burn_in.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    """From 1 on; a line is stored once, whoever brings it."""
    line: Mapped[str]

    __table_args__ = (check("number > 0 AND line <> ''", "line"),)


class BurnInPicture(Base):
    """One picture that a journal names."""

    __tablename__ = "burn_in_picture"

    burn_in_id: Mapped[int] = mapped_column(ForeignKey("burn_in.id"), primary_key=True)
    name: Mapped[str] = mapped_column(primary_key=True)
    """As the journal calls it: a file in its folder."""
    sha256: Mapped[str] = mapped_column(Sha, ForeignKey("original.sha256"))
