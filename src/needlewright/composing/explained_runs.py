"""Stored runs explained, each state of one only once."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final

from needlewright.composing.cold_series import judged_dials
from needlewright.composing.explaining import Explained, explain_run
from needlewright.families.model import Family
from needlewright.findings.cold.judged import ColdFinding
from needlewright.findings.cold.moves import RunInCold
from needlewright.readings.runs import Run
from needlewright.records.measured import joined
from needlewright.records.opening import Shop
from needlewright.records.views import RunSheet

U_DEGC: Final = 1.0
"""Standard uncertainty of a temperature a run states without one (common practice, no source)."""


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
    return _explained(_Wanted(run_mark(shop, run), shop, family))


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
    return _rows(_Wanted(run_mark(shop, run), shop, family))


@dataclass(frozen=True, slots=True)
class _Series:
    """Runs as one temperature series."""

    runs: tuple[_Wanted, ...]
    family: Family = field(compare=False, hash=False)


def runs_in_cold(
    shop: Shop, runs: Sequence[tuple[RunSheet, Family]], family: Family
) -> tuple[ColdFinding, ...]:
    """Judge the moves of stored runs whose rows say how warm they were.

    Parameters
    ----------
    shop
        The shop.
    runs
        As they now are, each with the family in its version.
    family
        In the version the job goes by.

    Returns
    -------
    tuple of ColdFinding
        One for each dial whose moves say something.

    Raises
    ------
    RunError
        If what was told cannot be of the family.
    """
    series = tuple(_Wanted(run_mark(shop, run), shop, of) for run, of in runs)
    return _in_cold(_Series(series, family))


def run_mark(shop: Shop, run: RunSheet) -> tuple[Any, ...]:
    """What tells two states of a stored run apart.

    Parameters
    ----------
    shop
        The shop.
    run
        As it now is.

    Returns
    -------
    tuple
        Equal while nothing that was told, read or rejected has changed; its second is the run's id.
    """
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


@lru_cache(maxsize=32)
def _in_cold(series: _Series) -> tuple[ColdFinding, ...]:
    runs = [RunInCold(_rows(one), common={"thermometer": U_DEGC}) for one in series.runs]
    return tuple(judged_dials(runs, series.family))
