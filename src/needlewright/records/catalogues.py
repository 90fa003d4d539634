"""Which catalogue of operations a shop plans with: every text it ever had stays, by its hash.

What a catalogue says is not known here.
"""

from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import RecordError
from needlewright.records.entries import Entry, Name, checked
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.people import person_named
from needlewright.records.tables import ShopCatalogue
from needlewright.records.views.plans import CatalogueView

KIND: Final = "toml"
SHIPPED: Final = "the one that comes with the program"


class _Named(Entry):
    name: Name


def set_catalogue(shop: Shop, name: str, content: bytes, by: str | None = None) -> CatalogueView:
    """Have a shop plan with a catalogue from now on.

    Parameters
    ----------
    shop
        The shop.
    name
        As its file is called.
    content
        Its text, checked by whoever calls.
    by
        Who sets it.

    Returns
    -------
    CatalogueView
        The one that counts now; where it has this text already, as it was set then.

    Raises
    ------
    JobError
        If the name cannot be used.
    RecordError
        If there is no such person, or it cannot be stored.
    """
    name = checked(_Named, {"name": name}, "catalogue").name
    file = shop.originals.put(content, KIND)
    with shop.writing("setting the catalogue") as session:
        person = person_named(session, by)
        last = _last(session)
        if last is None or last.sha256 != file.sha256:
            sha256 = keep(shop, session, file)
            last = ShopCatalogue(sha256=sha256, name=name, at=shop.now(), person=person)
            session.add(last)
        return _view(last)


def reset_catalogue(shop: Shop, by: str | None = None) -> CatalogueView:
    """Have a shop plan with what comes with the program again.

    Parameters
    ----------
    shop
        The shop.
    by
        Who says so.

    Returns
    -------
    CatalogueView
        Without a hash.

    Raises
    ------
    RecordError
        If it has none of its own, or there is no such person.
    """
    with shop.writing("taking the catalogue away") as session:
        person = person_named(session, by)
        last = _last(session)
        if last is None or last.sha256 is None:
            raise RecordError(f"the shop has no catalogue of its own; it plans with {SHIPPED}")
        row = ShopCatalogue(sha256=None, name=SHIPPED, at=shop.now(), person=person)
        session.add(row)
        return _view(row)


def catalogues(shop: Shop) -> tuple[CatalogueView, ...]:
    """Every catalogue that was set, and when it was taken away, newest first; the first counts."""
    with shop.reading() as session:
        query = select(ShopCatalogue).order_by(ShopCatalogue.id.desc())
        found = session.scalars(query.options(joinedload(ShopCatalogue.person)))
        return tuple(_view(row) for row in found)


def own_catalogue(shop: Shop) -> tuple[CatalogueView, bytes] | None:
    """The shop's own catalogue and its text.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    tuple or None
        None: it plans with what comes with the program.

    Raises
    ------
    RecordError
        If the text is damaged or gone.
    """
    with shop.reading() as session:
        last = _last(session)
        view = None if last is None else _view(last)
    if view is None or view.sha256 is None:
        return None
    return view, shop.originals.read(view.sha256)


def _last(session: Session) -> ShopCatalogue | None:
    query = select(ShopCatalogue).order_by(ShopCatalogue.id.desc()).limit(1)
    return session.scalars(query.options(joinedload(ShopCatalogue.person))).first()


def _view(row: ShopCatalogue) -> CatalogueView:
    return CatalogueView(row.sha256, row.name, row.person.name, row.at)
