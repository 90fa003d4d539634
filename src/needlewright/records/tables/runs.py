"""Runs on the bench: what was told in which photo, and what was read there."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.readings.model import Status
from needlewright.readings.runs import Approach
from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.tables.shop import FamilyVersion, Person
from needlewright.records.words import RunSide, one_of

_SHOWN = text("shown")


class BenchRun(Base):
    """One run of a job: as found, as left, or a look in between."""

    __tablename__ = "run"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"))
    name: Mapped[str]
    side: Mapped[str] = mapped_column(String(8))
    family_version_id: Mapped[int] = mapped_column(ForeignKey("family_version.id"))
    reader: Mapped[dict[str, Any] | None]
    """Which reader read it and by which settings; None: typed in."""
    started_at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    set_aside_at: Mapped[datetime | None]
    set_aside_why: Mapped[str] = mapped_column(default="")
    set_aside_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    reading_stopped_at: Mapped[datetime | None]
    """Photos not read by then are left so until somebody says to go on."""
    rehearsed: Mapped[str | None]
    """What stood on the bench in place of a cluster, in words; None: a real one."""
    person: Mapped[Person] = relationship(foreign_keys=person_id)
    family_version: Mapped[FamilyVersion] = relationship()

    __table_args__ = (
        UniqueConstraint("job_id", "name"),
        check(one_of("side", RunSide), "side"),
        check(
            "(set_aside_at IS NULL) = (set_aside_by_id IS NULL) AND "
            "(set_aside_at IS NULL OR set_aside_why <> '')",
            "set_aside",
        ),
    )


class RunPhoto(Base):
    """One photo of a run; one that was taken again, or taken back, is shown no more."""

    __tablename__ = "photo"

    id: Mapped[int] = mapped_column(primary_key=True)
    run_id: Mapped[int] = mapped_column(ForeignKey("run.id"), index=True)
    step: Mapped[int]
    sha256: Mapped[str] = mapped_column(Sha, ForeignKey("original.sha256"), index=True)
    name: Mapped[str]
    """As the camera or the person called it."""
    taken_at: Mapped[str | None]
    """As the camera says, in its own time."""
    added_at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    read_at: Mapped[datetime | None]
    found: Mapped[bool | None]
    reason: Mapped[str | None]
    """Why nothing was read: a word of `readings.flags`."""
    problem: Mapped[str | None]
    """The sentence that says why the file cannot be used as a picture."""
    projection: Mapped[dict[str, Any] | None]
    overlay_sha256: Mapped[str | None] = mapped_column(Sha, ForeignKey("original.sha256"))
    rejected_at: Mapped[datetime | None]
    """Since when it counts as a photo in which nothing is to be read."""
    rejected_by: Mapped[str | None]
    rejected_why: Mapped[str | None]
    shown: Mapped[bool] = mapped_column(default=True)
    replaces_id: Mapped[int | None] = mapped_column(ForeignKey("photo.id"))
    person: Mapped[Person] = relationship()

    __table_args__ = (
        Index(
            "uq_photo_once",
            "run_id",
            "sha256",
            unique=True,
            sqlite_where=_SHOWN,
            postgresql_where=_SHOWN,
        ),
        Index(
            "uq_photo_of_step",
            "run_id",
            "step",
            unique=True,
            sqlite_where=_SHOWN,
            postgresql_where=_SHOWN,
        ),
        check("step >= 0", "step"),
        check("(found IS NULL) OR (read_at IS NOT NULL)", "found"),
        check("replaces_id <> id", "replaces"),
    )


class RunRowTold(Base):
    """One dial at one step: what it was told, and for a typed run what it showed."""

    __tablename__ = "run_row"

    id: Mapped[int] = mapped_column(primary_key=True)
    run_id: Mapped[int] = mapped_column(ForeignKey("run.id"))
    position: Mapped[int]
    """Order in time."""
    step: Mapped[int]
    dial: Mapped[str]
    unit: Mapped[str]
    approach: Mapped[str] = mapped_column(String(4))
    commanded: Mapped[float | None]
    temperature_c: Mapped[float | None]
    u_commanded: Mapped[float | None]
    key_cycle: Mapped[int | None]
    supply_v: Mapped[float | None]
    time: Mapped[str | None]
    typed: Mapped[bool] = mapped_column(default=False)
    angle_deg: Mapped[float | None]
    u_angle_deg: Mapped[float | None]
    indicated: Mapped[float | None]
    u_indicated: Mapped[float | None]
    flags: Mapped[list[Any]] = mapped_column(default=list)

    __table_args__ = (
        UniqueConstraint("run_id", "position"),
        UniqueConstraint("run_id", "step", "dial"),
        check(one_of("approach", Approach), "approach"),
        check("(approach = 'rest') = (commanded IS NULL)", "commanded"),
        check("u_commanded >= 0 AND u_angle_deg >= 0 AND u_indicated >= 0", "uncertainty"),
        check("typed OR (angle_deg IS NULL AND indicated IS NULL)", "typed"),
    )


class RunReading(Base):
    """One needle in one photo, every field of `readings.model.Reading`."""

    __tablename__ = "reading"

    id: Mapped[int] = mapped_column(primary_key=True)
    photo_id: Mapped[int] = mapped_column(ForeignKey("photo.id"))
    dial: Mapped[str]
    status: Mapped[str] = mapped_column(String(8))
    unit: Mapped[str]
    reason: Mapped[str | None]
    angle_deg: Mapped[float | None]
    u_angle_deg: Mapped[float | None]
    value: Mapped[float | None]
    u_value: Mapped[float | None]
    offset_mm: Mapped[float | None]
    flags: Mapped[list[Any]] = mapped_column(default=list)
    components_deg: Mapped[list[Any]] = mapped_column(default=list)
    line_px: Mapped[list[Any] | None]
    read_at: Mapped[datetime]
    rejected_at: Mapped[datetime | None]
    rejected_why: Mapped[str | None]
    rejected_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    shown: Mapped[bool] = mapped_column(default=True)
    """False where a later look at the same photo counts instead."""
    replaces_id: Mapped[int | None] = mapped_column(ForeignKey("reading.id"))
    rejected_by: Mapped[Person | None] = relationship()

    __table_args__ = (
        Index("ix_reading_photo_id", "photo_id"),
        Index(
            "uq_reading_of_dial",
            "photo_id",
            "dial",
            unique=True,
            sqlite_where=_SHOWN,
            postgresql_where=_SHOWN,
        ),
        check(one_of("status", Status), "status"),
        check(
            "(status = 'read' AND angle_deg IS NOT NULL AND reason IS NULL) OR "
            "(status = 'refused' AND angle_deg IS NULL AND value IS NULL AND reason IS NOT NULL)",
            "read_or_reason",
        ),
        check("u_angle_deg >= 0 AND u_value >= 0", "uncertainty"),
        check(
            "(rejected_at IS NULL AND rejected_why IS NULL AND rejected_by_id IS NULL) OR "
            "(rejected_at IS NOT NULL AND rejected_why IS NOT NULL AND rejected_why <> '' AND "
            "rejected_by_id IS NOT NULL)",
            "rejected",
        ),
    )
