"""Sweep videos of a job: the file, and how every needle moved in it."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, deferred, mapped_column, relationship

from needlewright.records.tables.base import Base, Json, Sha, check
from needlewright.records.tables.shop import Original, Person


class Sweep(Base):
    """One video of needles that sweep; one that was taken back is shown no more."""

    __tablename__ = "sweep"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    sha256: Mapped[str] = mapped_column(Sha, ForeignKey("original.sha256"))
    name: Mapped[str] = mapped_column(String)
    """As the camera or the person called it."""
    family_version_id: Mapped[int] = mapped_column(ForeignKey("family_version.id"))
    added_at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    followed_at: Mapped[datetime | None]
    document: Mapped[dict[str, Any] | None] = deferred(mapped_column(Json))
    """What `needlewright sweep --json` says of it; long, so only where it is asked for."""
    events: Mapped[int | None]
    """How many events the document has."""
    problem: Mapped[str | None]
    """The sentence that says why no needle could be followed."""
    damaged: Mapped[str | None]
    """The sentence that says where the file broke off."""
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()
    original: Mapped[Original] = relationship()

    __table_args__ = (
        check(
            "(followed_at IS NULL AND document IS NULL AND problem IS NULL) OR "
            "(followed_at IS NOT NULL AND (document IS NULL) <> (problem IS NULL))",
            "followed",
        ),
        check("(document IS NULL) = (events IS NULL)", "events"),
    )
