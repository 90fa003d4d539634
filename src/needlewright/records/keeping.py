"""Keeping a file: its content in the store, its row beside whatever names it."""

from sqlalchemy.orm import Session

from needlewright.records.opening import Shop
from needlewright.records.originals import StoredFile
from needlewright.records.tables import Original


def keep(shop: Shop, session: Session, file: StoredFile) -> str:
    """Name a stored file in the database.

    Parameters
    ----------
    shop
        The shop.
    session
        Of the change that names it.
    file
        Already in the store: the file is whole before anything names it.

    Returns
    -------
    str
        Its SHA-256.
    """
    if session.get(Original, file.sha256) is None:
        session.add(
            Original(
                sha256=file.sha256,
                extension=file.extension,
                size=file.size,
                stored_at=shop.now(),
            )
        )
        session.flush()
    return file.sha256
