"""The database: how it is spoken to, and brought to the form this program knows."""

from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError

from needlewright.errors import RecordError
from needlewright.records.migrations import REVISIONS

APPLICATION_ID: Final = 0x4E574831
"""Marks a SQLite file as a shop's records."""

BUSY_MS: Final = 15_000
"""How long a writer waits for another one; a save takes milliseconds."""

_DRIVER: Final = "postgresql+psycopg"
_SERVERS_LOCK: Final = APPLICATION_ID
"""Number of the lock a writer holds on a server, so that it is the only one, as on SQLite."""

WRITES: Final = "needlewright_writes"
"""Execution option of connections that will write: they take the write lock at once, so that a
transaction that has read never finds it must not write."""


def make_engine(url: str) -> Engine:
    """Make the engine of a shop's database.

    Parameters
    ----------
    url
        As SQLAlchemy reads it.

    Returns
    -------
    Engine
        On SQLite: write-ahead log, foreign keys on, flushed to the disk at every commit. On
        PostgreSQL: one writer at a time, and readers that see one state, as on SQLite.

    Raises
    ------
    RecordError
        If it is no address of a database that can be spoken to.
    """
    parsed = _parsed(url)
    if parsed.get_backend_name() != "sqlite":
        engine = _server_engine(parsed)
        event.listen(engine, "begin", _begin_on_server)
        return engine
    engine = create_engine(parsed, pool_size=8, max_overflow=40)
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _parsed(url: str) -> URL:
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise RecordError(
            "the address of the shop's database cannot be understood; expected one such as "
            "postgresql://name@host/database"
        ) from error
    known = ("sqlite", "postgresql")
    if parsed.get_backend_name() not in known:
        raise RecordError(
            f"{parsed.render_as_string()}: a shop's database is one of {', '.join(known)}; "
            "give the address of such a one"
        )
    return parsed.set(drivername=_DRIVER) if parsed.drivername == "postgresql" else parsed


def _server_engine(url: URL) -> Engine:
    try:
        return create_engine(url, pool_size=8, max_overflow=40, pool_pre_ping=True)
    except (ModuleNotFoundError, NoSuchModuleError) as error:
        raise RecordError(
            f"{url.render_as_string()}: the driver that speaks to this database is not installed; "
            "install the Python package psycopg"
        ) from error


def bring_up(engine: Engine, place: Path) -> None:
    """Bring the database to the form this program knows, or refuse it.

    Parameters
    ----------
    engine
        Of the database; an empty one is filled.
    place
        Named in sentences.

    Raises
    ------
    RecordError
        If it is of a newer version, or not a shop's database.
    """
    with engine.connect() as connection:
        if _revision(connection, place) == REVISIONS[-1]:
            return
    with engine.execution_options(**{WRITES: True}).begin() as connection:
        if _revision(connection, place) != REVISIONS[-1]:  # another process may have been quicker
            _upgrade(connection)


def _revision(connection: Connection, place: Path) -> str | None:
    """Which form the database has; None: it is empty."""
    tables = inspect(connection).get_table_names()
    if not tables:
        return None
    if "alembic_version" not in tables or not _is_ours(connection):
        raise RecordError(
            f"{place}: is a database, but not a shop's records; name another folder with --shop"
        )
    revision = connection.scalar(text("SELECT version_num FROM alembic_version"))
    if revision not in REVISIONS:
        raise RecordError(
            f"{place}: was made by a newer version of this program (its form is '{revision}', this "
            f"program knows forms up to '{REVISIONS[-1]}'); it was not touched; use the newer "
            "program"
        )
    return str(revision)


def _is_ours(connection: Connection) -> bool:
    if connection.dialect.name != "sqlite":
        return {"job", "original", "shop"} <= set(inspect(connection).get_table_names())
    return bool(connection.scalar(text("PRAGMA application_id")) == APPLICATION_ID)


def _upgrade(connection: Connection) -> None:
    from alembic import command  # noqa: PLC0415 - slow to import, and needed once in a version

    from needlewright.records.migrations.setting import migration_config  # noqa: PLC0415

    command.upgrade(migration_config(connection), "head")
    if connection.dialect.name == "sqlite":
        connection.execute(text(f"PRAGMA application_id = {APPLICATION_ID}"))


def _prepare(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # transactions are begun by `_begin`, also those of DDL
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
    if cursor.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.execute("PRAGMA recursive_triggers = ON")  # REPLACE meets the triggers on DELETE too
    cursor.close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _begin_on_server(connection: Connection) -> None:
    if connection.get_execution_options().get(WRITES, False):
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = {BUSY_MS}")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_SERVERS_LOCK})")
    else:
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
