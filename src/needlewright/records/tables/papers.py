"""Papers that left the house. Triggers keep them from being changed or removed."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.tables.shop import Person
from needlewright.records.words import PaperKind, one_of


class Paper(Base):
    """One version of one paper; a correction is a new version that names the older."""

    __tablename__ = "paper"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    kind: Mapped[str] = mapped_column(String(32))
    number: Mapped[str]
    version: Mapped[int]
    name: Mapped[str]
    replaces_id: Mapped[int | None] = mapped_column(ForeignKey("paper.id"))
    replaces_because: Mapped[str | None]
    pdf_sha256: Mapped[str] = mapped_column(Sha, ForeignKey("original.sha256"))
    json_sha256: Mapped[str] = mapped_column(Sha, ForeignKey("original.sha256"))
    label_sha256: Mapped[str | None] = mapped_column(Sha, ForeignKey("original.sha256"))
    issued: Mapped[date]
    issued_at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    person: Mapped[Person] = relationship()

    __table_args__ = (
        UniqueConstraint("number", "version"),
        check(one_of("kind", PaperKind), "kind"),
        check("version >= 1", "version"),
        check(
            "(version = 1 AND replaces_id IS NULL) OR "
            "(version > 1 AND replaces_id IS NOT NULL AND replaces_because IS NOT NULL AND "
            "replaces_because <> '')",
            "replaces",
        ),
    )
