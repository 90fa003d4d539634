"""What the rows of a movement's own run say of its final check: less of their scatter than shows.

A row stands off the rigid turn by the movement's own pull and by what did not repeat or was
misread, which will not come again. How much is whose is told by all rows together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from needlewright.families.model import Dial
from needlewright.plans.pressing.aim import nearest_turn
from needlewright.plans.pressing.shared import own_deg
from needlewright.plans.pressing.windows import Kept
from needlewright.plans.seat import LEAST_U_DEG, SeatFit, SeatRow
from needlewright.readings.runs import RunRow


def own_of(row: SeatRow) -> float:
    """Standard deviation (k = 1) of a row about its run's own rigid turn, degrees."""
    return max(own_deg(row.repeatability_deg, row.u_seen_deg), LEAST_U_DEG)


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
    Method of moments: (Q - (n - 1)) / (sum w - sum w^2 / sum w) with w = 1 / u^2 of each row's own
    and Q the sum of w times the squared distances of the rows from their weighted mean, not below
    0. **Source** DerSimonian and Laird, Meta-analysis in clinical trials (1986), the estimator of
    the variance between; from memory.
    """
    free = [
        (1 / own_of(row) ** 2, residual)
        for row, residual in zip(fit.used, fit.residuals_deg, strict=True)
        if not row.on_stop
    ]
    weights = [weight for weight, _ in free]
    whole = sum(weights)
    room = whole - sum(weight**2 for weight in weights) / whole if free else 0.0
    if len(free) < 2 or room <= 0:
        return 0.0
    middle = sum(weight * residual for weight, residual in free) / whole
    scatter = sum(weight * (residual - middle) ** 2 for weight, residual in free)
    return max(0.0, (scatter - (len(free) - 1)) / room)


@dataclass(frozen=True, slots=True)
class ExpectedCheck:
    """The rows of the final check, where they are expected."""

    fit: SeatFit
    """Of the movement's own run."""
    rows: tuple[RunRow, ...]
    errors: tuple[SeatRow, ...]
    """Of the commanded ones."""
    kept: Kept
    pull_variance: float
    """Of the movement's own pull about the rigid turn, degrees squared."""

    def kept_of(self, row: SeatRow) -> float:
        """Share of a free row's residual that is expected again."""
        return self.pull_variance / (self.pull_variance + own_of(row) ** 2)


def expected_check(
    dial: Dial, rows: Sequence[RunRow], errors: Sequence[SeatRow], fit: SeatFit
) -> ExpectedCheck:
    """Say where the final check is expected to find the rows of a movement's own run.

    Parameters
    ----------
    dial
        The dial.
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
    t^2 / (t^2 + u^2) of what shows is kept, and the rest will not come again. A movement that is
    homed and rests off the rigid turn by more than its rows say has a rest of its own; then t^2
    there is what its residual has beyond its own uncertainty.
    """
    variance = pull_variance(fit)
    by_row: dict[int, RunRow] = {}
    moved: list[SeatRow] = []
    kept: dict[int, float] = {}
    for one in errors:
        if one.on_stop:
            moved.append(one)
            continue
        share = variance / (variance + own_of(one) ** 2)
        shift_deg = (1 - share) * (fit.seat_deg - one.error_deg)
        angle_deg = one.angle_deg + shift_deg
        row = replace(one.row, angle_deg=angle_deg)
        there = replace(one, row=row, angle_deg=angle_deg, error_deg=one.error_deg + shift_deg)
        by_row[id(one.row)] = row
        moved.append(there)
        kept[id(there)] = kept[id(row)] = share
    for rest, row, share in _rests(dial, rows, fit.seat_deg, variance):
        by_row[id(rest)], kept[id(row)] = row, share
    return ExpectedCheck(
        fit,
        tuple(by_row.get(id(row), row) for row in rows),
        tuple(moved),
        MappingProxyType(kept),
        variance,
    )


def _rests(
    dial: Dial, rows: Sequence[RunRow], seat_deg: float, variance: float
) -> list[tuple[RunRow, RunRow, float]]:
    """Rows at rest, where they are expected, and how much of their residual is."""
    if dial.rest_pin or dial.movement.kind != "stepper":  # on its pin, or wherever it is left
        return []
    found = []
    for rest in rows:
        if rest.commanded is not None or rest.angle_deg is None:
            continue
        own = max(own_deg(dial.movement.repeatability_deg, rest.u_angle_deg or 0.0), LEAST_U_DEG)
        off_deg = nearest_turn(rest.angle_deg - dial.rest_angle_deg - seat_deg)
        pull = max(variance, off_deg**2 - own**2)
        share = pull / (pull + own**2)
        row = replace(rest, angle_deg=rest.angle_deg - (1 - share) * off_deg)
        found.append((rest, row, share))
    return found
