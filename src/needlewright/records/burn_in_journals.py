"""Journals of burn-ins as the records keep them: taken over line by line, given back whole.

The journal's file is what is true while a burn-in runs. Its lines come here in their order, each
under its number, so that taking over again after whatever happened stores none of them twice.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import ConflictError
from needlewright.records.burn_ins import row_of, tag_of_burn_in, view_of
from needlewright.records.keeping import keep as keep_file
from needlewright.records.opening import Shop
from needlewright.records.tables import BurnIn, BurnInLine, BurnInPicture
from needlewright.records.views.burn_ins import BurnInJournal, BurnInView
from needlewright.records.words import BurnInState

PICTURE: Final = "jpg"


@dataclass(frozen=True, slots=True)
class TakenOver:
    """A burn-in as far as it has come.

    Parameters
    ----------
    lines
        Of the journal, from its first on.
    pictures
        Those the records have not yet, by name.
    powered_s, sweeps, key_ons
        As the last line counts them.
    state
        How far it is.
    words
        How it ended; empty while it is under way.
    said
        What came of it in few words.
    """

    lines: Sequence[str]
    pictures: Mapping[str, bytes]
    powered_s: float
    sweeps: int
    key_ons: int
    state: BurnInState
    words: str
    said: Mapping[str, Any]


def keep(shop: Shop, burn_in_id: int, taken: TakenOver) -> BurnInView:
    """Take over what a burn-in's journal has by now; again and again, as it goes on.

    Parameters
    ----------
    shop
        The shop.
    burn_in_id
        Which.
    taken
        As far as it has come; what the records have already is not stored again.

    Returns
    -------
    BurnInView
        As it now is; what comes of one that was set aside meanwhile is kept too.

    Raises
    ------
    ConflictError
        If the journal is not the one the records know the beginning of.
    RecordError
        If it cannot be saved.
    """
    files = {name: shop.originals.put(content, PICTURE) for name, content in taken.pictures.items()}
    with shop.writing(f"taking over burn-in {burn_in_id}") as session:
        row = row_of(session, burn_in_id, lock=True)
        if _is_behind(session, row, taken.lines):
            return view_of(row, tag_of_burn_in(session, row))
        for number, line in enumerate(taken.lines[row.lines :], start=row.lines + 1):
            session.add(BurnInLine(burn_in_id=row.id, number=number, line=line))
        known = set(_pictures(session, row.id))
        for name, file in files.items():
            if name not in known:
                sha256 = keep_file(shop, session, file)
                session.add(BurnInPicture(burn_in_id=row.id, name=name, sha256=sha256))
        row.lines = len(taken.lines)
        row.powered_s, row.sweeps, row.key_ons = taken.powered_s, taken.sweeps, taken.key_ons
        if row.state != taken.state:
            row.ended_at = None if taken.state == "under_way" else shop.now()
        row.state, row.words, row.said = taken.state, taken.words, dict(taken.said)
        session.flush()
        return view_of(row, tag_of_burn_in(session, row))


def journal_kept(shop: Shop, burn_in_id: int) -> BurnInJournal:
    """The journal of a burn-in, as far as the records have it.

    Parameters
    ----------
    shop
        The shop.
    burn_in_id
        Which.

    Returns
    -------
    BurnInJournal
        Line by line.

    Raises
    ------
    NotThereError
        If there is none.
    """
    with shop.reading() as session:
        row = row_of(session, burn_in_id)
        lines = session.scalars(
            select(BurnInLine.line)
            .where(BurnInLine.burn_in_id == row.id)
            .order_by(BurnInLine.number)
        ).all()
        view = view_of(row, tag_of_burn_in(session, row))
        return BurnInJournal(view, tuple(lines), _pictures(session, row.id))


def pictures_kept(shop: Shop, burn_in_id: int) -> Mapping[str, str]:
    """SHA-256 of the pictures the records have of a burn-in, by name."""
    with shop.reading() as session:
        return _pictures(session, burn_in_id)


def _is_behind(session: Session, row: BurnIn, lines: Sequence[str]) -> bool:
    """Whether the records have more of a journal already, from whoever was quicker.

    A journal that does not begin as the one that was taken over until now is refused.
    """
    if not row.lines:
        return False
    last = min(row.lines, len(lines))
    numbers = dict.fromkeys((1, last))
    known = session.scalars(
        select(BurnInLine.line)
        .where(BurnInLine.burn_in_id == row.id, BurnInLine.number.in_(numbers))
        .order_by(BurnInLine.number)
    ).all()
    if not lines or list(known) != [lines[number - 1] for number in numbers]:
        raise ConflictError(
            f"burn-in {row.id}: its journal is not the one the records have the first {row.lines} "
            "lines of; put the file back from a copy, or begin another burn-in"
        )
    return len(lines) < row.lines


def _pictures(session: Session, burn_in_id: int) -> dict[str, str]:
    found = session.execute(
        select(BurnInPicture.name, BurnInPicture.sha256).where(
            BurnInPicture.burn_in_id == burn_in_id
        )
    )
    return {row.name: row.sha256 for row in found}
