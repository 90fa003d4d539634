"""The journal: who changed what, from what to what, and what was taken back."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from needlewright.records.tables.base import Base, Json
from needlewright.records.tables.shop import Person


class Edit(Base):
    """One thing that was saved."""

    __tablename__ = "edit"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    job_version: Mapped[int]
    """The job's version this made."""
    what: Mapped[str]
    """In a few words, for people."""
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    undoable: Mapped[bool]
    undoes_id: Mapped[int | None] = mapped_column(ForeignKey("edit.id"), unique=True)
    """The earlier one this took back."""
    person: Mapped[Person] = relationship()
    values: Mapped[list["EditValue"]] = relationship(order_by="EditValue.id")


class EditValue(Base):
    """One field of one row, before and after."""

    __tablename__ = "edit_value"

    id: Mapped[int] = mapped_column(primary_key=True)
    edit_id: Mapped[int] = mapped_column(ForeignKey("edit.id"), index=True)
    entity: Mapped[str]
    entity_id: Mapped[int]
    field: Mapped[str]
    old: Mapped[Any | None] = mapped_column(Json)
    new: Mapped[Any | None] = mapped_column(Json)
