"""What became of a shop's rebuilt clusters, as a table: one row for each."""

from pathlib import Path
from typing import Final

from needlewright.errors import PlanError
from needlewright.plans.burn_in.early import PARTS, Clock
from needlewright.plans.wear.fit import Lives
from needlewright.plans.wear.lives_csv import age_in, rows_of_table, text_of_table

COLUMNS: Final = ("hours", "sweeps", "failed")
_FAILED: Final = ("no", *PARTS.values())


def read_history(path: Path) -> dict[Clock, Lives]:
    """Read what became of rebuilt clusters.

    Parameters
    ----------
    path
        CSV with the columns `hours,sweeps,failed`: hours of power and sweeps since the rebuild,
        burn-in included, when it failed or was last heard of; what is not known is empty. `failed`
        is `no`, `electronics` or `movements`.

    Returns
    -------
    dict
        Lives by clock: a cluster whose movement failed has electronics that had not by then.

    Raises
    ------
    PlanError
        If the table cannot be read, or a row cannot be used.
    """
    ages: dict[Clock, tuple[list[float], list[float]]] = {clock: ([], []) for clock in PARTS}
    for place, row in rows_of_table(str(path), text_of_table(path), COLUMNS):
        failed = row["failed"]
        if failed not in _FAILED:
            raise PlanError(f"{place}, failed: expected {', '.join(_FAILED)}, found '{failed}'")
        for clock, part in PARTS.items():
            has_failed = failed == part
            if row[clock] or has_failed:
                age = age_in(f"{place}, {clock}", row[clock])
                ages[clock][0 if has_failed else 1].append(age)
    return {clock: Lives(tuple(one[0]), tuple(one[1])) for clock, one in ages.items()}
