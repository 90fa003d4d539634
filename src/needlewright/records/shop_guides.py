"""Guides of the shop's own: kept whole, by name; what one says is not known here."""

import re
from collections.abc import Sequence
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import NotThereError, RecordError
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.people import person_named
from needlewright.records.tables import ShopGuide
from needlewright.records.views.shop_guides import ShopGuideView

KIND: Final = "toml"
NAME: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,59}")


def keep_guide(shop: Shop, name: str, content: bytes, by: str | None = None) -> ShopGuideView:
    """Keep a guide of the shop's own, in place of one of that name.

    Parameters
    ----------
    shop
        The shop.
    name
        Small letters, digits, `-` and `_`.
    content
        Its text, checked by whoever calls.
    by
        Who keeps it.

    Returns
    -------
    ShopGuideView
        The one that counts now; where it has this text already, as it was kept then.

    Raises
    ------
    RecordError
        If the name cannot be used, there is no such person, or it cannot be stored.
    """
    if not NAME.fullmatch(name) or name == "refit":
        raise RecordError(
            f"'{name[:60]}' is no name of a guide: use small letters, digits, - and _, at most 60, "
            "and not 'refit'"
        )
    file = shop.originals.put(content, KIND)
    with shop.writing(f"keeping the guide '{name}'") as session:
        person = person_named(session, by)
        last = next((row for row in _last(session) if row.name == name), None)
        if last is None or last.sha256 != file.sha256:
            sha256 = keep(shop, session, file)
            last = ShopGuide(name=name, sha256=sha256, at=shop.now(), person=person)
            session.add(last)
        return ShopGuideView(name, file.sha256, last.person.name, last.at)


def drop_guide(shop: Shop, name: str, by: str | None = None) -> None:
    """Leave a guide of the shop's own out from now on; its text stays on record.

    Raises NotThereError if the shop has none of that name.
    """
    with shop.writing(f"leaving the guide '{name[:60]}' out") as session:
        person = person_named(session, by)
        known = [row.name for row in _last(session) if row.sha256 is not None]
        if name not in known:
            raise NotThereError(
                f"the shop has no guide '{name[:60]}' of its own; it has: "
                f"{', '.join(known) or 'none'}"
            )
        session.add(ShopGuide(name=name, sha256=None, at=shop.now(), person=person))


def shop_guides(shop: Shop) -> tuple[ShopGuideView, ...]:
    """The guides of the shop's own, by name."""
    with shop.reading() as session:
        return tuple(
            ShopGuideView(row.name, row.sha256, row.person.name, row.at)
            for row in _last(session)
            if row.sha256 is not None
        )


def guide_text(shop: Shop, guide: ShopGuideView) -> bytes:
    """The text of one; raises RecordError if it is damaged or gone."""
    return shop.originals.read(guide.sha256)


def _last(session: Session) -> Sequence[ShopGuide]:
    """The last row of each name."""
    query = select(ShopGuide).order_by(ShopGuide.id).options(joinedload(ShopGuide.person))
    rows = {row.name: row for row in session.scalars(query)}
    return [rows[name] for name in sorted(rows)]
