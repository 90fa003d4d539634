"""Clusters, their jobs, and what is said and done in each."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, Sha, check
from needlewright.records.tables.shop import FamilyVersion, Person
from needlewright.records.words import (
    DecisionKind,
    Law,
    MileageUnit,
    PhotoKind,
    PhotoStage,
    Stage,
    StageStep,
    WaitsFor,
    one_of,
)


class Cluster(Base):
    """One instrument cluster; one that carries no serial has none, and is known by its job."""

    __tablename__ = "cluster"

    id: Mapped[int] = mapped_column(primary_key=True)
    family: Mapped[str]
    serial: Mapped[str | None]
    variant: Mapped[str | None]
    built: Mapped[str | None] = mapped_column(String(10))
    """When, as exactly as it is known: `2012`, `2012-05` or `2012-05-17`."""

    __table_args__ = (
        UniqueConstraint("family", "serial"),
        check("serial IS NULL OR serial <> ''", "serial"),
    )


class Job(Base):
    """One visit of one cluster."""

    __tablename__ = "job"

    id: Mapped[int] = mapped_column(primary_key=True)
    tag: Mapped[str] = mapped_column(String(40))
    tag_key: Mapped[str] = mapped_column(String(80), unique=True)
    """The tag without regard to case, by which it is found."""
    cluster_id: Mapped[int] = mapped_column(ForeignKey("cluster.id"), index=True)
    family_version_id: Mapped[int] = mapped_column(ForeignKey("family_version.id"))
    return_of_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"))
    owner: Mapped[str] = mapped_column(default="")
    owner_contact: Mapped[str] = mapped_column(default="")
    vehicle: Mapped[str] = mapped_column(default="")
    max_speed: Mapped[float | None]
    """The vehicle's maximum design speed, in the speedometer's unit."""
    complaint: Mapped[str] = mapped_column(default="")
    """In the owner's words."""
    promised: Mapped[date | None]
    odometer_unit: Mapped[str] = mapped_column(String(4), default="km")
    odometer_in: Mapped[float | None]
    odometer_out: Mapped[float | None]
    odometer_none: Mapped[str | None]
    """Why the cluster has no odometer, where it has none."""
    work_done: Mapped[list[Any]] = mapped_column(default=list)
    remarks: Mapped[list[Any]] = mapped_column(default=list)
    instruments: Mapped[list[Any]] = mapped_column(default=list)
    """Ids of the instruments the job is done with."""
    deviations: Mapped[str | None]
    external_results: Mapped[str | None]
    temperature: Mapped[str | None]
    """Conditions in words, where the runs do not state them."""
    stage: Mapped[str] = mapped_column(String(16), default="received")
    """The part in hand: the first one not finished, the last when all are."""
    waits_for: Mapped[str] = mapped_column(String(16), default="cluster")
    opened_at: Mapped[datetime]
    closed_at: Mapped[datetime | None]
    search: Mapped[str] = mapped_column(default="")
    """What the shelf's search looks through, without regard to case."""
    version: Mapped[int] = mapped_column(default=1)
    """Counts what was saved, so that two people saving the same job notice each other."""

    cluster: Mapped[Cluster] = relationship()
    family_version: Mapped[FamilyVersion] = relationship()

    __table_args__ = (
        Index("ix_job_shelf", "closed_at", "promised", "id"),
        Index("ix_job_waits_for", "waits_for", "closed_at"),
        check("tag <> ''", "tag"),
        check(one_of("stage", Stage), "stage"),
        check(one_of("waits_for", WaitsFor), "waits_for"),
        check(one_of("odometer_unit", MileageUnit), "odometer_unit"),
        check("odometer_in >= 0", "odometer_in"),
        check("odometer_out >= 0", "odometer_out"),
        check(
            "odometer_none IS NULL OR (odometer_in IS NULL AND odometer_out IS NULL)",
            "odometer_none",
        ),
        check("return_of_id <> id", "return_of"),
        check("max_speed > 0", "max_speed"),
    )


class StageEvent(Base):
    """A part of the work was started, finished or taken up again; never changed or removed."""

    __tablename__ = "stage_event"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    stage: Mapped[str] = mapped_column(String(16))
    step: Mapped[str] = mapped_column(String(16))
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    person: Mapped[Person] = relationship()

    __table_args__ = (
        check(one_of("stage", Stage), "stage"),
        check(one_of("step", StageStep), "step"),
    )


class Received(Base):
    """How a cluster came in; a row stands with every job from its first day."""

    __tablename__ = "received"

    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), primary_key=True)
    day: Mapped[date | None]
    sender: Mapped[str] = mapped_column(default="")
    contents: Mapped[list[Any]] = mapped_column(default=list)
    """`{"what", "ticked", "note"}` for each thing that should be in the box."""
    packing: Mapped[str] = mapped_column(default="")
    damage: Mapped[str] = mapped_column(default="")
    """Transit damage in words; empty: none was seen."""
    condition: Mapped[str] = mapped_column(default="")
    odometer_unreadable: Mapped[str] = mapped_column(default="")
    """Why the mileage cannot be read yet, as with a dead display."""
    family_ok: Mapped[bool | None]
    family_note: Mapped[str] = mapped_column(default="")
    variant_ok: Mapped[bool | None]
    variant_note: Mapped[str] = mapped_column(default="")
    face_ok: Mapped[bool | None]
    face_note: Mapped[str] = mapped_column(default="")
    connector_ok: Mapped[bool | None]
    connector_note: Mapped[str] = mapped_column(default="")

    __table_args__ = tuple(
        check(f"{what}_ok IS NULL OR {what}_ok OR {what}_note <> ''", f"{what}_note")
        for what in ("family", "variant", "face", "connector")
    )


class Returned(Base):
    """How a cluster went out; a row stands with every job from its first day."""

    __tablename__ = "returned"

    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), primary_key=True)
    day: Mapped[date | None]
    contents: Mapped[list[Any]] = mapped_column(default=list)
    packing: Mapped[str] = mapped_column(default="")
    carrier: Mapped[str] = mapped_column(default="")
    law: Mapped[str | None] = mapped_column(String(8))
    """Which law's procedure was followed for the odometer; None: it was not needed."""
    procedure: Mapped[str] = mapped_column(default="")
    """What was done under the local law, in words."""
    notice_mileage_before: Mapped[float | None]
    notice_day: Mapped[date | None]
    notice_attached_to: Mapped[str] = mapped_column(default="")

    __table_args__ = (
        check(one_of("law", Law), "law"),
        check(
            "law IS NULL OR (notice_mileage_before IS NOT NULL AND notice_day IS NOT NULL)",
            "notice",
        ),
        check("law IS NULL OR law <> 'local' OR procedure <> ''", "procedure"),
        check("notice_mileage_before >= 0", "notice_mileage_before"),
    )


class JobPhoto(Base):
    """A photo of a box, its packing, a damage, an odometer."""

    __tablename__ = "job_photo"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    stage: Mapped[str] = mapped_column(String(16))
    kind: Mapped[str] = mapped_column(String(16))
    sha256: Mapped[str] = mapped_column(Sha, ForeignKey("original.sha256"))
    name: Mapped[str]
    """As the camera or the person called it."""
    note: Mapped[str] = mapped_column(default="")
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()

    __table_args__ = (
        check(one_of("stage", PhotoStage), "stage"),
        check(one_of("kind", PhotoKind), "kind"),
    )


class Decision(Base):
    """What was decided, and why."""

    __tablename__ = "decision"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    kind: Mapped[str] = mapped_column(String(16))
    text: Mapped[str]
    why: Mapped[str]
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()

    __table_args__ = (check(one_of("kind", DecisionKind), "kind"), check("why <> ''", "why"))


class Note(Base):
    """Anything worth writing down."""

    __tablename__ = "note"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    text: Mapped[str]
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None]
    person: Mapped[Person] = relationship()

    __table_args__ = (check("text <> ''", "text"),)
