"""The shop itself: settings, people, instruments, and whether everything is still whole."""

from collections.abc import Mapping
from datetime import date
from typing import Any, cast

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from needlewright.errors import ConflictError, NotThereError, RecordError
from needlewright.records.entries import InstrumentEntry, Name, SettingsEntry, checked
from needlewright.records.opening import Shop
from needlewright.records.people import name_key
from needlewright.records.tables import Instrument, Original, Person, ShopSettings
from needlewright.records.views import InstrumentView, PersonView, Settings, ShopCheck
from needlewright.records.words import Law


class _PersonEntry(SettingsEntry):
    name: Name = ""


def settings(shop: Shop) -> Settings:
    """Who the shop is and what it works by."""
    with shop.reading() as session:
        return _settings_view(settings_row(session))


def change_settings(shop: Shop, changes: Mapping[str, Any], *, seen: int | None = None) -> Settings:
    """Save settings.

    Parameters
    ----------
    shop
        The shop.
    changes
        Fields of `entries.SettingsEntry`; what is not named stays.
    seen
        The settings' version the person was looking at; None: not compared.

    Returns
    -------
    Settings
        As they now are.

    Raises
    ------
    JobError
        If a field cannot be used.
    ConflictError
        If somebody else saved settings since.
    """
    stated = checked(SettingsEntry, changes, "settings").stated
    with shop.writing("saving the settings") as session:
        row = session.get(ShopSettings, 1) or _first(session)
        if seen is not None and seen != row.version:
            raise ConflictError(
                "the settings were saved by somebody else after you opened them; yours were not "
                "saved and theirs stand; look at them and save again"
            )
        for name, value in stated.items():
            setattr(row, name, value)
        row.version += 1
        return _settings_view(row)


def people(shop: Shop) -> tuple[PersonView, ...]:
    """Everybody, those who have left last."""
    with shop.reading() as session:
        found = session.scalars(select(Person).order_by(Person.has_left, Person.name))
        return tuple(PersonView(person.name, person.has_left) for person in found)


def add_person(shop: Shop, name: str) -> PersonView:
    """Add somebody who works in the shop; one who had left is back.

    Parameters
    ----------
    shop
        The shop.
    name
        In one line.

    Returns
    -------
    PersonView
        Who was added.

    Raises
    ------
    JobError
        If the name is empty.
    RecordError
        If there is somebody of that name.
    """
    name = checked(_PersonEntry, {"name": name}, "people").name
    with shop.writing("adding a person") as session:
        person = session.scalars(select(Person).where(Person.name_key == name_key(name))).first()
        if person is None:
            person = Person(name=name, name_key=name_key(name), has_left=False)
            session.add(person)
        elif not person.has_left:
            raise RecordError(f"'{person.name}' works in this shop already; use another name")
        person.has_left = False
        return PersonView(person.name, False)


def person_left(shop: Shop, name: str) -> PersonView:
    """Say that somebody works here no more; what they did stays theirs.

    Raises RecordError if nobody of that name works here.
    """
    with shop.writing("saying who has left") as session:
        key = name_key(" ".join(name.split()))
        person = session.scalars(select(Person).where(Person.name_key == key)).first()
        if person is None:
            raise RecordError(f"nobody named '{name}' works in this shop; look at who does")
        person.has_left = True
        return PersonView(person.name, True)


def instruments(shop: Shop) -> tuple[InstrumentView, ...]:
    """Every instrument, retired ones last."""
    with shop.reading() as session:
        found = session.scalars(
            select(Instrument).order_by(Instrument.retired, Instrument.name, Instrument.number)
        )
        return tuple(instrument_view(one) for one in found)


def add_instrument(
    shop: Shop, name: str, number: str, due: date | str | None = None, traceable_to: str = ""
) -> InstrumentView:
    """Add an instrument.

    Parameters
    ----------
    shop
        The shop.
    name
        What it is.
    number
        Of its certificate, or its own where it has none; unique in the shop.
    due
        When its own calibration is due.
    traceable_to
        Whose calibration it carries.

    Returns
    -------
    InstrumentView
        As stored.

    Raises
    ------
    JobError
        If a field cannot be used.
    RecordError
        If there is one of that number.
    """
    typed = {"name": name, "number": number, "due": due, "traceable_to": traceable_to}
    entry = checked(InstrumentEntry, typed, "instrument")
    with shop.writing("adding an instrument") as session:
        if _instrument(session, entry.number) is not None:
            raise RecordError(
                f"an instrument number '{entry.number}' is there already; change that one, or use "
                "another number"
            )
        row = Instrument(**entry.stated, retired=False)
        session.add(row)
        return instrument_view(row)


def change_instrument(shop: Shop, number: str, changes: Mapping[str, Any]) -> InstrumentView:
    """Change or retire an instrument.

    Parameters
    ----------
    shop
        The shop.
    number
        As it is now.
    changes
        Fields of `entries.InstrumentEntry`.

    Returns
    -------
    InstrumentView
        As it now is. Papers already issued keep what they say.

    Raises
    ------
    JobError
        If a field cannot be used.
    RecordError
        If there is none of that number, or another one has the new number.
    """
    stated = checked(InstrumentEntry, changes, f"instrument {number}").stated
    with shop.writing("changing an instrument") as session:
        row = instrument_numbered(session, number)
        taken = _instrument(session, stated.get("number", number))
        if taken is not None and taken is not row:
            raise RecordError(f"an instrument number '{stated['number']}' is there already")
        for name, value in stated.items():
            setattr(row, name, value)
        return instrument_view(row)


def check_shop(shop: Shop) -> ShopCheck:
    """Verify the database and every original.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    ShopCheck
        One sentence for each thing that is wrong.
    """
    problems: list[str] = []
    with shop.reading() as session:
        if session.get_bind().dialect.name == "sqlite":
            said = session.scalars(text("PRAGMA integrity_check")).all()
            problems += [f"database: {line}" for line in said if line != "ok"]
            broken = session.execute(text("PRAGMA foreign_key_check")).all()
            problems += [
                f"database: table {row[0]} names a row that is not there" for row in broken
            ]
        known = session.scalars(select(Original.sha256)).all()
    for sha256 in known:
        try:
            shop.originals.verify(sha256)
        except RecordError as error:
            problems.append(str(error))
    return ShopCheck(len(known), tuple(problems))


def settings_row(session: Session) -> ShopSettings:
    """The settings; those of an empty shop where none were saved."""
    return session.get(ShopSettings, 1) or ShopSettings(
        id=1,
        name="",
        place="",
        law="us",
        local_law="",
        odometer_unit="km",
        authorised_by="",
        supply="",
        battery_wait="",
        invented=False,
        version=1,
    )


def instrument_numbered(session: Session, number: str) -> Instrument:
    """The instrument of that number; raises RecordError if there is none."""
    row = _instrument(session, number)
    if row is None:
        known = ", ".join(session.scalars(select(Instrument.number).order_by(Instrument.number)))
        raise NotThereError(
            f"there is no instrument number '{number}'; "
            + (f"known are {known}" if known else "add it under Shop first")
        )
    return row


def instrument_view(row: Instrument) -> InstrumentView:
    """As plain values."""
    return InstrumentView(row.name, row.number, row.due, row.traceable_to, row.retired)


def _instrument(session: Session, number: str) -> Instrument | None:
    return session.scalars(select(Instrument).where(Instrument.number == number.strip())).first()


def _first(session: Session) -> ShopSettings:
    row = settings_row(session)
    session.add(row)
    return row


def _settings_view(row: ShopSettings) -> Settings:
    return Settings(
        name=row.name,
        place=row.place,
        law=cast("Law", row.law),
        local_law=row.local_law,
        odometer_unit=row.odometer_unit,
        authorised_by=row.authorised_by,
        supply=row.supply,
        battery_wait=row.battery_wait,
        invented=row.invented,
        version=row.version,
    )
