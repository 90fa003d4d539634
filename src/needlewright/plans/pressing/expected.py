"""What the rows of a movement's own run say of its final check: less of their scatter than shows.

A row stands off the rigid turn by the movement's own pull and by what did not repeat or was
misread, which will not come again. How much is whose is told by all rows together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from needlewright.plans.pressing.windows import Kept
from needlewright.plans.seat import SeatFit, SeatRow
from needlewright.readings.runs import RunRow


def pull_variance(fit: SeatFit) -> float:
    """Variance of the movement's own pull about the rigid turn, degrees squared.

    Parameters
    ----------
    fit
        The run about its best rigid turn.

    Returns
    -------
    float
        0 where the rows scatter no more than their uncertainties say.

    Notes
    -----
    Method of moments: (Q - (n - 1)) / (sum w - sum w^2 / sum w) with w = 1 / u^2 and Q the sum of
    w times the squared residuals, not below 0. **Source** DerSimonian and Laird, Meta-analysis in
    clinical trials (1986), the estimator of the variance between; from memory.
    """
    free = [
        (1 / row.u_deg**2, residual)
        for row, residual in zip(fit.used, fit.residuals_deg, strict=True)
        if not row.on_stop
    ]
    weights = [weight for weight, _ in free]
    whole = sum(weights)
    room = whole - sum(weight**2 for weight in weights) / whole if free else 0.0
    if len(free) < 2 or room <= 0:
        return 0.0
    scatter = sum(weight * residual**2 for weight, residual in free)
    return max(0.0, (scatter - (len(free) - 1)) / room)


@dataclass(frozen=True, slots=True)
class ExpectedCheck:
    """The rows of the final check, where they are expected."""

    rows: tuple[RunRow, ...]
    errors: tuple[SeatRow, ...]
    """Of the commanded ones."""
    kept: Kept


def expected_check(
    rows: Sequence[RunRow], errors: Sequence[SeatRow], fit: SeatFit
) -> ExpectedCheck:
    """Say where the final check is expected to find the rows of a movement's own run.

    Parameters
    ----------
    rows
        Completed ones.
    errors
        Of the commanded ones.
    fit
        The run about its best rigid turn.

    Returns
    -------
    ExpectedCheck
        Rows that hang free are moved toward the rigid turn by what is not the movement's own.

    Notes
    -----
    The mean of a normal posterior: with t^2 the variance of the pull and u that of a row,
    t^2 / (t^2 + u^2) of what shows is kept, and the rest will not come again.
    """
    variance = pull_variance(fit)
    by_row: dict[int, RunRow] = {}
    moved: list[SeatRow] = []
    kept: dict[int, float] = {}
    for one in errors:
        if one.on_stop:
            moved.append(one)
            continue
        share = variance / (variance + one.u_deg**2)
        shift_deg = (1 - share) * (fit.seat_deg - one.error_deg)
        angle_deg = one.angle_deg + shift_deg
        row = replace(one.row, angle_deg=angle_deg)
        there = replace(one, row=row, angle_deg=angle_deg, error_deg=one.error_deg + shift_deg)
        by_row[id(one.row)] = row
        moved.append(there)
        kept[id(there)] = kept[id(row)] = share
    return ExpectedCheck(
        tuple(by_row.get(id(row), row) for row in rows), tuple(moved), MappingProxyType(kept)
    )
