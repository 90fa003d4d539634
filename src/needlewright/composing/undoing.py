"""Taking back the last thing saved on a job, past what is under way at the bench."""

from needlewright.bench.burn_in.alone import is_on
from needlewright.composing.burn_in_job import folder_of
from needlewright.records import undo
from needlewright.records.opening import Shop
from needlewright.records.views import EditView, Undone


def undo_last(shop: Shop, tag: str, by: str | None = None) -> Undone:
    """Take back the last thing saved, as `records.undo.undo_last`, past what the bench is at.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    by
        Who does it.

    Returns
    -------
    Undone
        What was taken back.

    Raises
    ------
    ConflictError
        If there is nothing but a burn-in that is on.
    RecordError
        If there is nothing, or it cannot be taken back.
    """
    return undo.undo_last(shop, tag, by, is_on=lambda number: burn_in_is_on(shop, number))


def history(shop: Shop, tag: str, limit: int = 50) -> tuple[EditView, ...]:
    """Who saved what, as `records.undo.history`, with what is on at the bench marked so.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    limit
        How many at most.

    Returns
    -------
    tuple of EditView
        Newest first.
    """
    return undo.history(shop, tag, limit, is_on=lambda number: burn_in_is_on(shop, number))


def burn_in_is_on(shop: Shop, burn_in_id: int) -> bool:
    """Whether a burn-in is on now, in whatever program of this computer.

    Parameters
    ----------
    shop
        The shop.
    burn_in_id
        Which.

    Returns
    -------
    bool
        By its lock, which the system lets go of however a program ends.
    """
    return is_on(folder_of(shop, burn_in_id))
