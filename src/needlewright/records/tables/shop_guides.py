"""Guides of the shop's own, each text it ever had."""

from datetime import datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.tables.shop import Person


class ShopGuide(Base):
    """The text of a guide, or that it is left out from then on; the last one of a name counts."""

    __tablename__ = "shop_guide"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(60))
    sha256: Mapped[str | None] = mapped_column(Sha, ForeignKey("original.sha256"))
    """Of its text; none: the shop has no guide of that name any more."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    person: Mapped[Person] = relationship()

    __table_args__ = (check("name <> ''", "name"),)
