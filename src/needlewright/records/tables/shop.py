"""The shop itself: settings, people, instruments, cluster designs, and the originals it keeps."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.words import Law, MileageUnit, one_of


class ShopSettings(Base):
    """One row: who the shop is and what it works by."""

    __tablename__ = "shop"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(default="")
    place: Mapped[str] = mapped_column(default="")
    law: Mapped[str] = mapped_column(String(8), default="us")
    local_law: Mapped[str] = mapped_column(default="")
    odometer_unit: Mapped[str] = mapped_column(String(4), default="km")
    authorised_by: Mapped[str] = mapped_column(default="")
    supply: Mapped[str] = mapped_column(default="")
    battery_wait: Mapped[str] = mapped_column(default="")
    invented: Mapped[bool] = mapped_column(default=False)
    version: Mapped[int] = mapped_column(default=1)

    __table_args__ = (
        check("id = 1", "only_one"),
        check(one_of("law", Law), "law"),
        check(one_of("odometer_unit", MileageUnit), "odometer_unit"),
    )


class Person(Base):
    """Somebody who works in the shop; one who has left stays named on what they did."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    name_key: Mapped[str] = mapped_column(unique=True)
    """The name without regard to case, by which it is found."""
    has_left: Mapped[bool] = mapped_column(default=False)

    __table_args__ = (check("name <> ''", "name"),)


class Instrument(Base):
    """An instrument of the bench, with the number of its certificate."""

    __tablename__ = "instrument"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    number: Mapped[str] = mapped_column(unique=True)
    due: Mapped[date | None]
    traceable_to: Mapped[str | None]
    retired: Mapped[bool] = mapped_column(default=False)

    __table_args__ = (check("name <> ''", "name"), check("number <> ''", "number"))


class Original(Base):
    """A file that never changes, by its content."""

    __tablename__ = "original"

    sha256: Mapped[str] = mapped_column(Sha, primary_key=True)
    extension: Mapped[str] = mapped_column(String(8))
    size: Mapped[int]
    stored_at: Mapped[datetime]

    __table_args__ = (check("length(sha256) = 64", "sha256"), check("size >= 0", "size"))


class FamilyVersion(Base):
    """A family folder as it was at one time; jobs name the version they were worked by."""

    __tablename__ = "family_version"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(index=True)
    name_key: Mapped[str] = mapped_column(server_default="")
    """The name without regard to case: versions of one family share it."""
    number: Mapped[int] = mapped_column(server_default="0")
    """Counts the versions of one family, from 1."""
    content_hash: Mapped[str] = mapped_column(Sha, unique=True)
    stored_at: Mapped[datetime]
    chosen_at: Mapped[datetime]
    """When it was last put in; the version chosen last is the one new jobs are worked by."""
    kept_by: Mapped[str | None]
    """Who put it in; None: not said."""
    note: Mapped[str] = mapped_column(server_default="")
    """Why, in words."""
    files: Mapped[list["FamilyFile"]] = relationship(order_by="FamilyFile.path")

    __table_args__ = (Index("uq_family_version_number", "name_key", "number", unique=True),)


class FamilyFile(Base):
    """One file of a family version."""

    __tablename__ = "family_file"

    version_id: Mapped[int] = mapped_column(ForeignKey("family_version.id"), primary_key=True)
    path: Mapped[str] = mapped_column(primary_key=True)
    sha256: Mapped[str] = mapped_column(ForeignKey("original.sha256"))

    __table_args__ = (UniqueConstraint("version_id", "path"),)
