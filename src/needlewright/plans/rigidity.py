"""Whether the rows of a dial are one rigid turn away from their programme, and how they are not.

Five tests share one chance in a hundred of a false alarm. Which pattern the rows follow is told by
what leaves least of them unexplained; it is described, never named as a fault.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt
from statistics import NormalDist
from typing import Final

import numpy as np
from scipy.special import chdtri

from needlewright.families.model import Dial
from needlewright.plans.line_fit import LineFit, fit_line
from needlewright.plans.seat import SeatFit, SeatRow

FALSE_ALARM: Final = 0.01
"""Chance of calling a rigid run not rigid, for all tests together."""
_TESTS: Final = 5
_SAME_COMMAND_OF_SPAN: Final = 0.01
"""Two commands this near to each other in the dial's span are one point from two sides."""
_NAMED_ROWS: Final = 4


@dataclass(frozen=True, slots=True)
class Approaches:
    """Rising less falling at the same commands."""

    difference_deg: float
    """Mean over the pairs, positive where the rising needle stands further clockwise."""
    u_deg: float
    pairs: tuple[tuple[SeatRow, SeatRow], ...]

    @property
    def widest(self) -> tuple[SeatRow, SeatRow]:
        """The pair that differs most, rising one first."""
        return max(self.pairs, key=lambda pair: abs(pair[0].error_deg - pair[1].error_deg))


@dataclass(frozen=True, slots=True)
class Jump:
    """Between two rows that follow each other in time."""

    before: SeatRow
    after: SeatRow

    @property
    def size_deg(self) -> float:
        """Error after less error before."""
        return self.after.error_deg - self.before.error_deg

    @property
    def score(self) -> float:
        """Size over its standard uncertainty."""
        return abs(self.size_deg) / hypot(self.before.u_deg, self.after.u_deg)


@dataclass(frozen=True, slots=True)
class Rigidity:
    """What the tests found; None where there are too few rows for one."""

    approaches: Approaches | None
    trend: LineFit | None
    """Error over needle angle, deg per deg."""
    jumps: tuple[Jump, ...]
    """Those beyond what chance allows."""
    outlying: tuple[SeatRow, ...]
    """Rows beyond what chance allows, furthest first."""
    too_wide: bool
    """Whether the rows as a whole scatter more than they may."""
    approaches_differ: bool
    leans: bool
    """Whether the error grows or falls along the scale."""

    @property
    def rigid(self) -> bool:
        """Whether the rows are one rigid turn away from the programme."""
        return not (
            self.too_wide or self.approaches_differ or self.leans or self.jumps or self.outlying
        )


def check_rigidity(dial: Dial, fit: SeatFit) -> Rigidity:
    """Test whether one rigid turn explains the rows.

    Parameters
    ----------
    dial
        The dial.
    fit
        The best rigid turn.

    Returns
    -------
    Rigidity
        The result of every test.

    Notes
    -----
    Chi-square of the residuals with one degree of freedom less than rows; largest row, largest
    step from row to row, each two-sided after Bonferroni; mean of rising less falling, where the
    repeatability of the movement is taken as common to an approach; slope of the error over the
    angle (JCGM 100:2008, H.3). Each at a fifth of 1 %. **Source** derivation: docs/needle-set.md.
    """
    level = FALSE_ALARM / _TESTS
    free = [row for row in fit.used if not row.on_stop]
    freedom = len(fit.used) - 1
    approaches = _approaches(dial, free)
    trend = _trend(free)
    steps = [Jump(before, after) for before, after in pairwise(free)]
    return Rigidity(
        approaches=approaches,
        trend=trend,
        jumps=tuple(step for step in steps if step.score > _bound(level, len(steps))),
        outlying=_outlying(fit, level) if freedom > 0 else (),
        too_wide=freedom > 0 and fit.chi_square > float(chdtri(freedom, level)),
        approaches_differ=approaches is not None
        and abs(approaches.difference_deg) > _bound(level, 1) * approaches.u_deg,
        leans=trend is not None and abs(trend.slope) > _bound(level, 1) * trend.u_slope,
    )


def _bound(level: float, trials: int) -> float:
    """Two-sided normal bound that `trials` values all keep with probability 1 - level."""
    return NormalDist().inv_cdf(1 - level / (2 * max(trials, 1)))


def _outlying(fit: SeatFit, level: float) -> tuple[SeatRow, ...]:
    found = []
    for row, left, weight in zip(fit.used, fit.residuals_deg, fit.weights, strict=True):
        score = abs(left) / (row.u_deg * sqrt(1 - weight))
        if score > _bound(level, len(fit.used)):
            found.append((score, row))
    return tuple(row for _, row in sorted(found, key=lambda pair: -pair[0]))


def _approaches(dial: Dial, free: Sequence[SeatRow]) -> Approaches | None:
    same = _SAME_COMMAND_OF_SPAN * dial.scale.span
    pairs: list[tuple[SeatRow, SeatRow]] = []
    falling = [row for row in free if row.row.approach == "down"]
    for up in (row for row in free if row.row.approach == "up"):
        near = [row for row in falling if abs(row.told - up.told) <= same]
        if near:
            pairs.append((up, min(near, key=lambda row: abs(row.told - up.told))))
            falling.remove(pairs[-1][1])
    if not pairs:
        return None
    differences = [up.error_deg - down.error_deg for up, down in pairs]
    seen = [hypot(up.u_seen_deg, down.u_seen_deg) for up, down in pairs]
    u_mean_seen = hypot(*seen) / len(pairs)
    u_deg = max(hypot(u_mean_seen, sqrt(2) * dial.movement.repeatability_deg), 1e-9)
    return Approaches(sum(differences) / len(pairs), u_deg, tuple(pairs))


def _trend(free: Sequence[SeatRow]) -> LineFit | None:
    angles = [row.angle_deg for row in free]
    if len(free) < 3 or len(set(angles)) < 2:
        return None
    return fit_line(
        angles,
        [row.error_deg for row in free],
        [row.u_deg for row in free],
        x_zero=sum(angles) / len(angles),
    )


def describe(fit: SeatFit, found: Rigidity) -> str:
    """Say how the rows differ from one rigid turn, naming rows.

    Parameters
    ----------
    fit
        The best rigid turn.
    found
        What the tests found; not rigid.

    Returns
    -------
    str
        A clause for people, of the pattern that explains the rows best.
    """
    free = [row for row in fit.used if not row.on_stop]
    patterns: list[tuple[float, str]] = [(fit.chi_square, _say_scatter(fit, found))]
    if found.approaches is not None and found.approaches_differ:
        # One more parameter than the rigid turn, and a split in time has two more (where, and
        # how much): each must save two in chi-square, as Akaike's criterion weighs them.
        cost = 2.0 + _within([r for r in free if r.row.approach == "up"])
        cost += _within([r for r in free if r.row.approach == "down"])
        patterns.append((cost, _say_approaches(found.approaches)))
    if found.trend is not None and found.leans:
        line = found.trend
        left = sum(((r.error_deg - line.value_at(r.angle_deg)) / r.u_deg) ** 2 for r in free)
        patterns.append((2.0 + left, _say_trend(free, line)))
    if found.jumps:
        cost = 4.0 + min(_within(free[:i]) + _within(free[i:]) for i in range(1, len(free)))
        patterns.append((cost, _say_jumps(found.jumps)))
    return min(patterns, key=lambda pattern: pattern[0])[1]


def _within(rows: Sequence[SeatRow]) -> float:
    """Chi-square of rows about their own mean."""
    if not rows:
        return 0.0
    errors = np.array([row.error_deg for row in rows])
    weights = np.array([1.0 / row.u_deg**2 for row in rows])
    return float((weights * (errors - np.average(errors, weights=weights)) ** 2).sum())


def _say_approaches(found: Approaches) -> str:
    up, down = found.widest
    return (
        f"rising and falling differ by {abs(found.difference_deg):.1f} deg on average, most at "
        f"{up.told_words} ({up.error_deg:+.1f} deg up, {down.error_deg:+.1f} deg down)"
    )


def _say_jumps(jumps: Sequence[Jump]) -> str:
    said = [
        f"by {jump.size_deg:+.1f} deg between {jump.before.name} and {jump.after.name}"
        for jump in jumps[:_NAMED_ROWS]
    ]
    return "the error jumps " + " and ".join(said)


def _say_trend(free: Sequence[SeatRow], line: LineFit) -> str:
    low = min(free, key=lambda row: row.told)
    high = max(free, key=lambda row: row.told)
    return (
        f"the error runs from {line.value_at(low.angle_deg):+.1f} deg at {low.told:g} to "
        f"{line.value_at(high.angle_deg):+.1f} deg at {high.told_words}"
    )


def _say_scatter(fit: SeatFit, found: Rigidity) -> str:
    left = sorted(
        zip(fit.used, fit.residuals_deg, strict=True), key=lambda of: -abs(of[1] / of[0].u_deg)
    )
    count = min(max(len(found.outlying), 2), _NAMED_ROWS)
    said = [f"{row.name} ({off:+.1f} deg)" for row, off in left[:count]]
    return "rows scatter about any one turn, furthest " + ", ".join(said)
