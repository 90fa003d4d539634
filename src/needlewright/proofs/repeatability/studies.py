"""Gauge repeatability and reproducibility: average-and-range, and the analysis of variance.

Both take a full table of angles, positions x people x photos. They answer the same question by two
ways of estimating, so their figures differ a little and neither is wrong.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, hypot, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from needlewright.proofs.repeatability.range_factors import printed_factor

POOL_ABOVE: Final = 0.25
"""An interaction whose chance of being none exceeds this is pooled with the repeatability.

Common practice, no source: a high level, because a real interaction that is pooled is lost."""

_ROUNDING_DEG: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations, degrees, each of what its name says."""

    repeatability: float
    """Photo to photo, by the same person with the same needle (EV)."""
    between: float
    """Person to person (AV), or camera to camera."""
    interaction: float
    """What persons differ by at some positions and not at others; 0 where it was pooled."""
    positions: float
    """Position to position (PV)."""

    @property
    def reproducibility(self) -> float:
        """Between persons, with the interaction."""
        return hypot(self.between, self.interaction)

    @property
    def grr(self) -> float:
        """Repeatability and reproducibility together: what a reading adds."""
        return hypot(self.repeatability, self.reproducibility)

    @property
    def total(self) -> float:
        """Everything together (TV)."""
        return hypot(self.grr, self.positions)

    @property
    def grr_share(self) -> float | None:
        """Reading's part of everything, 0 to 1; None where nothing varies."""
        return self.grr / self.total if self.total > 0 else None

    @property
    def ndc(self) -> int | None:
        """Distinct categories, cut to a whole number, at least one; None: without bound."""
        if self.grr == 0.0:
            return None
        return max(1, floor(sqrt(2.0) * self.positions / self.grr))


@dataclass(frozen=True, slots=True)
class AnovaRow:
    """One line of the table of an analysis of variance."""

    source: str
    """`positions`, `between`, `interaction`, `repeatability`."""
    sum_of_squares: float
    freedom: int
    f: float | None = None
    """Against the row it is tested with; None where there is nothing to test."""
    p: float | None = None
    """Chance of such an F, or a larger one, if there were no such effect."""

    @property
    def mean_square(self) -> float:
        """Sum of squares over its degrees of freedom."""
        return self.sum_of_squares / self.freedom


@dataclass(frozen=True, slots=True)
class Anova:
    """An analysis of variance of a full table, and the spreads that follow from it."""

    rows: tuple[AnovaRow, ...]
    """With the interaction of its own, before it may be pooled."""
    pooled: bool
    """Whether the interaction was pooled with the repeatability."""
    spread: Spread


def average_and_range(table_deg: NDArray[np.float64]) -> Spread:
    """Estimate by averages and ranges.

    Parameters
    ----------
    table_deg
        Angles, positions x persons x photos, at least 2 x 2 x 2.

    Returns
    -------
    Spread
        Without an interaction, which this way cannot see.

    Notes
    -----
    EV = K1 mean range; AV^2 = (K2 range of the persons' means)^2 - EV^2 / (n r), never negative;
    PV = K3 range of the positions' means. **Source** AIAG, Measurement Systems Analysis, 4th
    edition, chapter III section B (cross-read); the factors K of its appendix C by their formula.
    """
    positions, persons, photos = table_deg.shape
    mean_range = _cleared(float(np.ptp(table_deg, axis=2).mean()))
    ev = mean_range * printed_factor(photos, positions * persons)
    differ = _cleared(float(np.ptp(table_deg.mean(axis=(0, 2))))) * printed_factor(persons, 1)
    av = sqrt(max(0.0, differ**2 - ev**2 / (positions * photos)))
    pv = float(np.ptp(table_deg.mean(axis=(1, 2)))) * printed_factor(positions, 1)
    return Spread(ev, av, 0.0, pv)


def analyse_variance(table_deg: NDArray[np.float64], pool_above: float = POOL_ABOVE) -> Anova:
    """Estimate by an analysis of variance with both factors and their interaction random.

    Parameters
    ----------
    table_deg
        Angles, positions x persons x photos, at least 2 x 2 x 2.
    pool_above
        Chance above which the interaction is taken for none.

    Returns
    -------
    Anova
        Table and spreads; a negative variance counts as none.

    Notes
    -----
    Interaction tested against the repeatability; kept, persons and positions are tested against
    it, and pooled, against the pooled mean square. **Source** AIAG, Measurement Systems Analysis,
    4th edition, chapter III section B and appendix A (cross-read); expected mean squares of the
    two-way random model: any textbook of the design of experiments.
    """
    n, k, r = table_deg.shape
    squares, freedom = _sums_of_squares(table_deg), _freedoms(n, k, r)
    mean = {name: squares[name] / freedom[name] for name in squares}
    f, p = _tested(mean["interaction"], freedom["interaction"], mean["repeatability"], freedom)
    pooled = p is None or p > pool_above
    if pooled:
        within = (squares["interaction"] + squares["repeatability"]) / (
            freedom["interaction"] + freedom["repeatability"]
        )
        below, interaction = within, 0.0
        below_freedom = freedom["interaction"] + freedom["repeatability"]
    else:
        within, below = mean["repeatability"], mean["interaction"]
        interaction = (below - within) / r
        below_freedom = freedom["interaction"]
    spread = Spread(
        repeatability=sqrt(within),
        between=sqrt(max(0.0, (mean["between"] - below) / (n * r))),
        interaction=sqrt(max(0.0, interaction)),
        positions=sqrt(max(0.0, (mean["positions"] - below) / (k * r))),
    )
    rows = []
    for name in ("positions", "between"):
        against = {"repeatability": below_freedom}
        tested = _tested(mean[name], freedom[name], below, against)
        rows.append(AnovaRow(name, squares[name], freedom[name], *tested))
    rows.append(AnovaRow("interaction", squares["interaction"], freedom["interaction"], f, p))
    rows.append(AnovaRow("repeatability", squares["repeatability"], freedom["repeatability"]))
    return Anova(tuple(rows), pooled, spread)


def pooled_deviation(sums_of_squares: Sequence[float], freedoms: Sequence[int]) -> float:
    """Standard deviation of several series together.

    Parameters
    ----------
    sums_of_squares
        About each series' own means.
    freedoms
        Their degrees of freedom, together above 0.

    Returns
    -------
    float
        Root of all squares over all degrees of freedom.

    Notes
    -----
    **Source** NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.4, level-1 deviations pooled.
    """
    return sqrt(sum(sums_of_squares) / sum(freedoms))


def _sums_of_squares(table: NDArray[np.float64]) -> dict[str, float]:
    n, k, r = table.shape
    centred = table - table.mean()  # angles of 200 degrees squared would cost digits
    by_cell, by_position = centred.mean(axis=2), centred.mean(axis=(1, 2))
    by_person = centred.mean(axis=(0, 2))
    left = by_cell - by_position[:, np.newaxis] - by_person[np.newaxis, :]
    squares = {
        "positions": k * r * float(np.sum(by_position**2)),
        "between": n * r * float(np.sum(by_person**2)),
        "interaction": r * float(np.sum(left**2)),
        "repeatability": float(np.sum((centred - by_cell[:, :, np.newaxis]) ** 2)),
    }
    return {name: _cleared(sqrt(square)) ** 2 for name, square in squares.items()}


def _cleared(deg: float) -> float:
    """A difference, or none where it is only the rounding of doubles."""
    return deg if deg > _ROUNDING_DEG else 0.0


def _freedoms(n: int, k: int, r: int) -> dict[str, int]:
    return {
        "positions": n - 1,
        "between": k - 1,
        "interaction": (n - 1) * (k - 1),
        "repeatability": n * k * (r - 1),
    }


def _tested(
    mean_square: float, freedom: int, against: float, freedoms: dict[str, int]
) -> tuple[float | None, float | None]:
    """F and its chance; None where the row it is tested with is nothing."""
    if against <= 0.0:
        return (None, None) if mean_square <= 0.0 else (None, 0.0)
    f = mean_square / against
    return f, float(fdtrc(freedom, freedoms["repeatability"], f))
