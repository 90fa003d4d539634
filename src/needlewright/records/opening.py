"""Opening the shop: its folder, its database, its originals."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.records.database import WRITES, bring_up, make_engine
from needlewright.records.originals import Originals
from needlewright.records.place import ADDRESS, DATABASE, database_address, shop_folder
from needlewright.records.trouble import said_plainly


class Shop:
    """An open shop; safe to share between threads."""

    def __init__(self, folder: Path, engine: Engine, now: Callable[[], datetime]) -> None:
        self.folder = folder
        self.originals = Originals(folder)
        self.now = now
        self.engine = engine
        self._writing_engine = engine.execution_options(**{WRITES: True})

    @property
    def database_path(self) -> Path:
        """The database's file, where it is one."""
        return self.folder / DATABASE

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that sees one state of the records and changes nothing."""
        with (
            said_plainly("reading the records", self.database_path),
            Session(self.engine, expire_on_commit=False) as session,
        ):
            yield session

    @contextmanager
    def writing(self, doing: str) -> Iterator[Session]:
        """A session in one transaction: all of it is saved on leaving, or none.

        Parameters
        ----------
        doing
            For the sentence when the disk or the database refuses, as in "receiving EX-0412".

        Yields
        ------
        Session
            The only writer while it is open; keep it short.

        Raises
        ------
        RecordError
            If it cannot be saved.
        """
        with (
            said_plainly(doing, self.database_path),
            Session(self._writing_engine, expire_on_commit=False) as session,
            session.begin(),
        ):
            yield session

    def close(self) -> None:
        """Close the database."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def open_shop(
    folder: Path | None = None,
    *,
    database_url: str | None = None,
    now: Callable[[], datetime] | None = None,
) -> Shop:
    """Open the shop's records; the first time they are made.

    Parameters
    ----------
    folder
        Of the shop; None: where `place.shop_folder` says.
    database_url
        As SQLAlchemy reads it, for a database elsewhere; None: the one `database.txt` in the
        folder names, else a file in the folder.
    now
        Gives the present moment, with its zone; None: the clock.

    Returns
    -------
    Shop
        Its database brought to the form this program knows.

    Raises
    ------
    RecordError
        If the folder or the database cannot be used, or is of a newer version.
    """
    place = shop_folder(folder)
    if place.exists() and not place.is_dir():
        raise RecordError(f"{place}: is a file; name the folder of the shop with --shop")
    with said_plainly("opening the shop", place):
        place.mkdir(parents=True, exist_ok=True)
        (place / "originals").mkdir(exist_ok=True)
    file = place / DATABASE
    stated = database_url or database_address(place)
    if stated is not None and file.exists():
        raise RecordError(
            f"{place}: has a database of its own ({DATABASE}) and names another one ({ADDRESS}); "
            "keep one of them"
        )
    engine = make_engine(stated or f"sqlite:///{file}")
    try:
        with said_plainly("opening the shop", file):
            bring_up(engine, file)
    except BaseException:
        engine.dispose()
        raise
    shop = Shop(place, engine, now or _clock)
    shop.originals.tidy()
    return shop


def _clock() -> datetime:
    return datetime.now(UTC)
