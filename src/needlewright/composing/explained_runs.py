"""Stored runs explained, each state of one only once."""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from needlewright.composing.explaining import Explained, explain_run
from needlewright.families.model import Family
from needlewright.readings.runs import Run
from needlewright.records.measured import joined
from needlewright.records.opening import Shop
from needlewright.records.views import RunSheet


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A question; it is the same one while nothing it rests on has changed."""

    mark: tuple[Any, ...]
    shop: Shop = field(compare=False, hash=False)
    family: Family = field(compare=False, hash=False)


def explained_run(shop: Shop, run: RunSheet, family: Family) -> Explained:
    """Explain every dial of a stored run.

    Parameters
    ----------
    shop
        The shop.
    run
        As it now is.
    family
        In the run's version.

    Returns
    -------
    Mapping
        Dial to what its rows say.

    Raises
    ------
    RunError
        If no row says anything, or what was told cannot be of the family.
    """
    return _explained(_Wanted(_mark(shop, run), shop, family))


def run_rows(shop: Shop, run: RunSheet, family: Family) -> Run:
    """The rows of a stored run, completed with its family.

    Parameters
    ----------
    shop
        The shop.
    run
        As it now is.
    family
        In the run's version.

    Returns
    -------
    Run
        Steps that have not been read yet have no rows.

    Raises
    ------
    RunError
        If what was told cannot be of the family.
    """
    return _rows(_Wanted(_mark(shop, run), shop, family))


def _mark(shop: Shop, run: RunSheet) -> tuple[Any, ...]:
    """What tells two states of a run apart."""
    return (
        shop.folder,
        run.id,
        run.told,
        tuple((photo.id, photo.read_at, photo.rejected_at) for photo in run.photos),
        tuple(r.id for photo in run.photos for r in photo.readings if r.rejected_at is not None),
    )


@lru_cache(maxsize=32)
def _rows(wanted: _Wanted) -> Run:
    run_id: int = wanted.mark[1]
    return joined(wanted.shop, run_id, wanted.family).run


@lru_cache(maxsize=32)
def _explained(wanted: _Wanted) -> Explained:
    return explain_run(wanted.family, _rows(wanted))
