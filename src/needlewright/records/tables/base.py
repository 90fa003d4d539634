"""What every table has in common: names of constraints, moments in UTC, JSON, required words."""

from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import JSON, CheckConstraint, DateTime, MetaData, String, TypeDecorator
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase

NAMES: Final = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
"""Every constraint has a name, so that a later migration can change it."""


class Moment(TypeDecorator[datetime]):
    """A moment, kept in UTC and given back as such; a time without a zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn to UTC; SQLite keeps no zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Say that it is UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


Json: Final = JSON(none_as_null=True)
Sha: Final = String(64)


class Base(DeclarativeBase):
    """The base of every table."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map = {  # noqa: RUF012
        datetime: Moment(),
        dict[str, Any]: Json,
        list[Any]: Json,
    }


def check(clause: str, name: str) -> CheckConstraint:
    """A CHECK constraint of that name."""
    return CheckConstraint(clause, name=name)
