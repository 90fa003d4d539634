"""What stands behind a sheet's numbers: families, runs and verdicts, worked out once."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, cast

from needlewright.composing.explained_runs import run_mark
from needlewright.composing.judged import JudgedDial, Side, judged_dials
from needlewright.composing.needle_turn import needle_set_of
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.plans.needle_set import NeedleSet
from needlewright.proofs.certificate import MeasuredRun
from needlewright.records.families import load_version
from needlewright.records.measured import measured_and_remarks
from needlewright.records.opening import Shop
from needlewright.records.views import RunSheet


@dataclass(frozen=True, slots=True)
class Whole:
    """A run with its evidence, and what is to be looked at before it is trusted."""

    measured: MeasuredRun
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A question; it is the same one while nothing it rests on has changed."""

    mark: tuple[Any, ...]
    shop: Shop = field(compare=False, hash=False)
    runs: tuple[tuple[Side, RunSheet], ...] = field(default=(), compare=False, hash=False)
    max_speed: float | None = None


def family_version(shop: Shop, version_id: int) -> Family:
    """A stored version of a family; what is stored never changes."""
    return _family(_Wanted((shop.folder, version_id), shop))


def whole_run(shop: Shop, run: RunSheet) -> Whole:
    """A run with its evidence.

    Parameters
    ----------
    shop
        The shop.
    run
        As it now is.

    Returns
    -------
    Whole
        Steps that have not been read yet have no rows.

    Raises
    ------
    RunError
        If what was told cannot be of the family.
    """
    return _whole(_Wanted(run_mark(shop, run), shop, (("found", run),)))


def judged_runs(
    shop: Shop, runs: Mapping[Side, RunSheet], max_speed: float | None
) -> tuple[JudgedDial, ...]:
    """Every dial of some runs judged.

    Parameters
    ----------
    shop
        The shop.
    runs
        By side, as they now are; of one version of one family.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    tuple of JudgedDial
        In the family's order.

    Raises
    ------
    RunError, RuleError
        As `composing.judged.judged_dials`.
    """
    mark = tuple((side, run_mark(shop, run)) for side, run in runs.items())
    return _judged(_Wanted(mark, shop, tuple(runs.items()), max_speed))


def needle_sets(shop: Shop, run: RunSheet, max_speed: float | None) -> Mapping[str, NeedleSet]:
    """What each needle of a run needs, by dial; those nothing can be said of are left out.

    Parameters
    ----------
    shop
        The shop.
    run
        As it now is.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    Mapping
        In the family's order.
    """
    return _needles(_Wanted(run_mark(shop, run), shop, (("found", run),), max_speed))


@lru_cache(maxsize=64)
def _family(wanted: _Wanted) -> Family:
    return load_version(wanted.shop, cast("int", wanted.mark[1]))


@lru_cache(maxsize=32)
def _whole(wanted: _Wanted) -> Whole:
    ((_, run),) = wanted.runs
    family = family_version(wanted.shop, run.family_version_id)
    return Whole(*measured_and_remarks(wanted.shop, run.id, family))


@lru_cache(maxsize=32)
def _judged(wanted: _Wanted) -> tuple[JudgedDial, ...]:
    runs: dict[Side, MeasuredRun] = {
        side: whole_run(wanted.shop, run).measured for side, run in wanted.runs
    }
    (_, newest) = wanted.runs[-1]
    family = family_version(wanted.shop, newest.family_version_id)
    return judged_dials(family, runs, max_speed=wanted.max_speed)


@lru_cache(maxsize=32)
def _needles(wanted: _Wanted) -> Mapping[str, NeedleSet]:
    ((_, run),) = wanted.runs
    family = family_version(wanted.shop, run.family_version_id)
    rows = whole_run(wanted.shop, run).measured.run
    sets = {}
    for dial in family.dials:
        try:
            one = needle_set_of(family, rows, dial, max_speed=wanted.max_speed)
        except NeedlewrightError:
            continue
        if one is not None:
            sets[dial.id] = one
    return sets
