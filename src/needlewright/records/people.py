"""Who does something."""

from hashlib import sha256
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.records.tables import Person

LONGEST_KEY: Final = 80
"""Letters of a tag's or a code's key."""
DIGEST: Final = 32


def name_key(name: str) -> str:
    """A name or tag as it is compared: without regard to case."""
    return name.casefold()


def tag_key(tag: str) -> str:
    """A tag or code as it is compared, no longer than its column.

    Without regard to case a letter may become three; of a key that got too long by that the end
    is told by a digest.
    """
    key = name_key(tag)
    if len(key) <= LONGEST_KEY:
        return key
    digest = sha256(key.encode("utf-8")).hexdigest()[:DIGEST]
    return f"{key[: LONGEST_KEY - DIGEST - 1]}~{digest}"


def person_named(session: Session, name: str | None) -> Person:
    """Find the person who does something.

    Parameters
    ----------
    session
        Of the shop.
    name
        As typed; None: the only person who works in the shop.

    Returns
    -------
    Person
        Who still works there.

    Raises
    ------
    RecordError
        If nobody, or nobody alone, is meant.
    """
    working = session.scalars(
        select(Person).where(Person.has_left.is_(False)).order_by(Person.name)
    ).all()
    names = ", ".join(f"'{person.name}'" for person in working)
    if name is None or not name.strip():
        if len(working) == 1:
            return working[0]
        if not working:
            raise RecordError(
                "nobody works in this shop yet; add yourself under Shop, or with "
                "needlewright shop person NAME"
            )
        raise RecordError(f"several people work in this shop; say who does this: {names}")
    key = name_key(" ".join(name.split()))
    for person in working:
        if person.name_key == key:
            return person
    raise RecordError(
        f"nobody named '{name}' works in this shop; "
        + (f"known are {names}" if names else "nobody is known yet")
        + "; add them under Shop, or with needlewright shop person NAME"
    )
