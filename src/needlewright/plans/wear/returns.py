"""A shop's lives of weak points as a table: one row for each that failed, or still runs."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

from needlewright.errors import PlanError
from needlewright.plans.catalogue.model import Catalogue, WeakPoint
from needlewright.plans.wear.fit import Lives, WeibullFit, fit_scale, learned_law
from needlewright.plans.wear.interval import interval_of, interval_words
from needlewright.plans.wear.lives_csv import age_in, rows_of_table, text_of_table

COLUMNS: Final = ("weak_point", "age_years", "age_km", "failed")


def read_returns(path: Path, catalogue: Catalogue) -> Catalogue:
    """Take the laws of weak points from a shop's returns.

    Parameters
    ----------
    path
        CSV with the columns `weak_point,age_years,age_km,failed`; an age that is not known is
        empty, `failed` is yes or no.
    catalogue
        Whose weak points are meant.

    Returns
    -------
    Catalogue
        With the laws that were learned; the others as stated.

    Raises
    ------
    PlanError
        If the table cannot be read, or a row cannot be used.
    """
    return taught(catalogue, lives_in(str(path), text_of_table(path), catalogue))


def taught(catalogue: Catalogue, lives: Mapping[str, Lives]) -> Catalogue:
    """A catalogue with the laws that lives teach.

    Parameters
    ----------
    catalogue
        With stated laws.
    lives
        By weak point.

    Returns
    -------
    Catalogue
        As it was where nothing failed.

    Raises
    ------
    PlanError
        If the lives of a weak point tell no law.
    """
    points = dict(catalogue.weak_points)
    for code, seen in lives.items():
        try:
            points[code] = _learned(points[code], seen)
        except PlanError as error:
            raise PlanError(f"returns of '{code}': {error}") from error
    return replace(catalogue, weak_points=points)


def taught_by_visits(catalogue: Catalogue, lives: Mapping[str, Lives]) -> Catalogue:
    """A catalogue with the laws that a shop's own visits teach.

    Parameters
    ----------
    catalogue
        With stated laws.
    lives
        By weak point, as `follow_up.lives_of` gathers them.

    Returns
    -------
    Catalogue
        Where lives tell no shape, the stated one stays and the scale is taken from them; where
        nothing failed, the law stays and the lives are counted beside it.
    """
    points = dict(catalogue.weak_points)
    for code, seen in lives.items():
        point = points[code]
        try:
            points[code] = _learned(point, seen)
        except PlanError:
            points[code] = _with_law(point, seen, fit_scale(seen, point.law.shape))
    return replace(catalogue, weak_points=points)


def _learned(point: WeakPoint, lives: Lives) -> WeakPoint:
    fit = learned_law(point.law, lives)
    if fit is None:
        return replace(point, lives=(0, len(lives.running)))
    return _with_law(point, lives, fit)


def _with_law(point: WeakPoint, lives: Lives, fit: WeibullFit) -> WeakPoint:
    what = "shape and scale" if fit.is_shape_fitted else "scale, shape as stated,"
    came = "failure" if len(lives.failed) == 1 else "failures"
    words = f"{what} from {len(lives.failed)} {came} and {len(lives.running)} that still run; "
    words += interval_words(interval_of(lives, fit), point.clock)
    counts = len(lives.failed), len(lives.running)
    return replace(point, law=fit.law, learned=words, lives=counts)


def lives_in(name: str, text: str, catalogue: Catalogue) -> dict[str, Lives]:
    """The lives of a table, by weak point; raises PlanError with the row that is wrong."""
    gathered: dict[str, tuple[list[float], list[float]]] = {}
    for code, age, has_failed in _rows(name, text, catalogue):
        gathered.setdefault(code, ([], []))[0 if has_failed else 1].append(age)
    return {code: Lives(tuple(one[0]), tuple(one[1])) for code, one in gathered.items()}


def _rows(name: str, text: str, catalogue: Catalogue) -> Iterator[tuple[str, float, bool]]:
    for place, row in rows_of_table(name, text, COLUMNS):
        point = catalogue.weak_points.get(row["weak_point"])
        if point is None:
            known = ", ".join(sorted(catalogue.weak_points)) or "none"
            raise PlanError(
                f"{place}: there is no weak point '{row['weak_point']}'; known: {known}"
            )
        column = f"age_{point.clock}"
        age = age_in(f"{place}, {column}", row[column])
        failed = row["failed"]
        if failed not in ("yes", "no"):
            raise PlanError(f"{place}, failed: expected yes or no, found '{failed}'")
        yield point.id, age, failed == "yes"
