"""Where a movement starts to slip or stall: a logistic law of the temperature, weighed.

    P(a move fails at T) = e + (1 - 2 e) / (1 + exp((T - T50) / s))

T50 is the temperature at which every second move fails, s how sharply it begins, e the share of
moves that is simply misread. A temperature is known with an error made of parts, and a part of one
name is one error of all moves that name it: the law is averaged over them, each move's temperature
shifted by all its parts (errors in the variables). T50 is flat beforehand over a wide range. s is
log-normal, which also holds it where cold and warm moves part wholly and no maximum of the
likelihood exists.

Source: logistic regression, any textbook of generalised linear models; errors in variables:
R. J. Carroll, D. Ruppert, L. A. Stefanski and C. M. Crainiceanu, Measurement Error in Nonlinear
Models, 2nd ed., chapter 8 (integrated likelihood; from memory); derivation in
docs/decisions/0052-where-the-cold-begins.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, qmc

from needlewright.findings.cold.moves import Move

Array = NDArray[np.float64]
Where = Literal[
    "found", "beyond_cold", "beyond_warm", "below", "above", "regardless", "one_temperature"
]
Range = tuple[float, float, float]
"""Lower end, median and upper end, degC."""

WIDTH_C: Final = 1.0
"""Median of s beforehand, degC: one movement begins and ceases to slip within a few degrees
(common practice, no source)."""
WIDTH_LN: Final = 0.8
"""Standard deviation of ln s beforehand (common practice, no source)."""
MISREAD: Final = 0.01
"""Share of moves that is misread (common practice, no source)."""
SHARE: Final = 0.95
ONE_TEMPERATURE_C: Final = 2.0
"""Moves no further apart are at one temperature."""
BEYOND_C: Final = 40.0
"""How far beyond the moves T50 may lie beforehand."""
_DRAWS: Final = 64
_FEW_DRAWS: Final = 16
_WIDTH_LN: Final = 0.2
_COARSE_C: Final = 1.0
_FINE: Final = 160
_REGARDLESS: Final = 3.0
TENTH: Final = 0.1
"""The winter rule's share of failing moves."""
_ONE_SIDED: Final = norm.ppf(SHARE) ** 2 / 2
"""By how much the logarithm of the likelihood falls to its one-sided limit (S. S. Wilks, 1938)."""
_REACHES_C: Final = 1.0
"""Beyond the coldest move, or its temperature's own U if that is more, nothing was tried."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is taken to be known beforehand of how sharply a movement fails."""

    width_c: float = WIDTH_C
    width_ln: float = WIDTH_LN
    misread: float = MISREAD


@dataclass(frozen=True, slots=True, eq=False)
class Onset:
    """Where failing begins.

    Parameters
    ----------
    where
        `found`; `beyond_cold`, `beyond_warm`: some moves fail, and the temperatures tried do not
        reach far enough to bracket T50; `below` all temperatures tried (nothing failed); `above`
        them all (everything failed); `regardless` of temperature; `one_temperature` was all that
        was tried.
    at_c
        T50, median; None unless found.
    low_c, high_c
        Found: ends of the interval that holds T50 with 95 %. Below: `high_c` alone, the highest T50
        with which seeing no failure is still as likely as 5 %. Above: `low_c` alone, likewise.
        Beyond: `high_c` or `low_c` alone, the one-sided limit of the likelihood ratio; None where
        that too lies beyond what was tried.
    width_c
        Median of s; None unless found.
    moves, failed
        How many were judged, and how many of them failed.
    at_end
        Beyond: how many failed of how many at the end that was not passed; else None.
    coldest_c, warmest_c
        Of the moves.
    grid_c, widths_c, weight
        The joint probability of T50 and s where found or beyond; else empty.
    """

    where: Where
    at_c: float | None
    low_c: float | None
    high_c: float | None
    width_c: float | None
    moves: int
    failed: int
    coldest_c: float
    warmest_c: float
    grid_c: Array
    widths_c: Array
    weight: Array
    at_end: tuple[int, int] | None = None

    @property
    def u_c(self) -> float | None:
        """Standard uncertainty (k = 1) of `at_c`; None unless found."""
        if self.where != "found":
            return None
        share = self.weight.sum(axis=1)
        mean = float(share @ self.grid_c)
        return float(np.sqrt(share @ (self.grid_c - mean) ** 2))

    def chance_of_failing(self, degc: float, share: float) -> float | None:
        """Probability that at a temperature more than a share of demanding moves fail.

        Parameters
        ----------
        degc
            The temperature.
        share
            Between 0 and 1.

        Returns
        -------
        float or None
            None where T50 has no probability: nothing or everything failed, or regardless.
        """
        if not self.weight.size:
            return None
        begins = self.grid_c[:, None] + self.widths_c[None, :] * np.log(1 / share - 1)
        return float(self.weight[begins > degc].sum())

    def where_fails(self, share: float) -> Range | None:
        """Where a share of the demanding moves fails.

        Parameters
        ----------
        share
            Between 0 and 1.

        Returns
        -------
        Range or None
            The interval holds it with 95 %; None unless found, or where an end of it lies beyond
            the temperatures tried.
        """
        if self.where != "found":
            return None
        begins = self.grid_c[:, None] + self.widths_c[None, :] * np.log(1 / share - 1)
        order = np.argsort(begins, axis=None)
        found = _quantiles(begins.ravel()[order], self.weight.ravel()[order])
        inside = self.coldest_c - _REACHES_C <= found[0] and found[2] <= self.warmest_c
        return found if inside else None


def onset_of(moves: Sequence[Move], prior: Prior = Prior()) -> Onset:
    """Find where a dial's moves start to fail.

    Parameters
    ----------
    moves
        Of one dial, one or more.
    prior
        How sharply a movement fails.

    Returns
    -------
    Onset
        With its interval; what cannot be said is None.

    Raises
    ------
    ValueError
        If there is no move.
    """
    if not moves:
        raise ValueError("no move says how warm it was and how it went")
    degc = np.array([move.degc for move in moves])
    failed = np.array([move.failed for move in moves])
    ends = (float(degc.min()), float(degc.max()))
    counts = (len(moves), int(failed.sum()))
    if not failed.any() or failed.all():
        return _one_sided(moves, prior, counts, ends)
    if ends[1] - ends[0] < ONE_TEMPERATURE_C:
        return _nothing("one_temperature", counts, ends)
    grid = np.arange(ends[0] - BEYOND_C, ends[1] + BEYOND_C, _COARSE_C)
    widths, share = _widths(prior)
    level = log_likelihood(moves, grid, widths, prior.misread, _FEW_DRAWS)
    mean = _log_mean(level, share)
    if _log_regardless(failed) - np.log(_REGARDLESS) > _log_average(mean):
        return _nothing("regardless", counts, ends)
    near = grid[mean > mean.max() - 14.0]
    fine = np.linspace(near[0] - _COARSE_C, near[-1] + _COARSE_C, _FINE)
    weight = log_likelihood(moves, fine, widths, prior.misread) + np.log(share)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    low, middle, high = _quantiles(fine, weight.sum(axis=1))
    reaches = max(_REACHES_C, 2.0 * max(hypot(*move.parts.values()) for move in moves))
    if low < ends[0] - reaches or high > ends[1] + reaches:
        law = (fine, widths, weight)
        return _beyond(moves, counts, ends, law, cold=middle < sum(ends) / 2)
    width = float(widths[np.searchsorted(np.cumsum(weight.sum(axis=0)), 0.5)])
    return Onset("found", middle, low, high, width, *counts, *ends, fine, widths, weight)


def log_likelihood(
    moves: Sequence[Move],
    grid_c: Array,
    widths_c: Array,
    misread: float = MISREAD,
    draws: int = _DRAWS,
) -> Array:
    """How likely the moves are, averaged over what the temperatures may be off by.

    Parameters
    ----------
    moves
        Of one dial.
    grid_c
        Values of T50, degC.
    widths_c
        Values of s, degC.
    misread
        Share of moves that is misread.
    draws
        Of what the temperatures may be off by; a power of two.

    Returns
    -------
    Array
        Logarithm, grid x widths.
    """
    degc = np.array([move.degc for move in moves])
    failed = np.array([move.failed for move in moves])
    found = np.full((len(grid_c), len(widths_c)), -np.inf)
    shifts = _shifts(moves, draws)
    for shift in shifts:
        apart = (degc + shift)[None, :] - grid_c[:, None]
        for place, width in enumerate(widths_c):
            fails = misread + (1 - 2 * misread) / (1 + np.exp(np.clip(apart / width, -60, 60)))
            level = np.log(np.maximum(np.where(failed, fails, 1 - fails), 1e-300)).sum(axis=1)
            found[:, place] = np.logaddexp(found[:, place], level)
    return np.asarray(found - np.log(len(shifts)), dtype=np.float64)


def log_average_over(moves: Sequence[Move], low_c: float, high_c: float, prior: Prior) -> float:
    """How likely the moves are with T50 anywhere in a range.

    Parameters
    ----------
    moves
        Of one dial.
    low_c
        Lower end of the range, degC.
    high_c
        Upper end.
    prior
        How sharply a movement fails.

    Returns
    -------
    float
        Logarithm.
    """
    widths, share = _widths(prior)
    grid = np.arange(low_c, high_c + _COARSE_C / 2, _COARSE_C)
    level = log_likelihood(moves, grid, widths, prior.misread, _FEW_DRAWS)
    return _log_average(_log_mean(level, share))


def _one_sided(
    moves: Sequence[Move], prior: Prior, counts: tuple[int, int], ends: tuple[float, float]
) -> Onset:
    """Beyond the temperatures tried: the T50 with which so much as this is still 5 % likely."""
    widths, share = _widths(prior)
    grid = np.arange(ends[0] - BEYOND_C / 2, ends[1] + BEYOND_C / 2, _COARSE_C / 5)
    # what a needle did is not to be explained by misreading here, or no limit would ever be met
    likely = np.exp(_log_mean(log_likelihood(moves, grid, widths, 1e-9), share))
    enough = grid[likely >= 1.0 - SHARE]
    empty = np.zeros(0)
    nothing_failed = counts[1] == 0
    if nothing_failed:
        high = float(enough[-1]) if len(enough) else ends[0]
        return Onset("below", None, None, high, None, *counts, *ends, empty, empty, empty)
    low = float(enough[0]) if len(enough) else ends[1]
    return Onset("above", None, low, None, None, *counts, *ends, empty, empty, empty)


def _beyond(
    moves: Sequence[Move],
    counts: tuple[int, int],
    ends: tuple[float, float],
    law: tuple[Array, Array, Array],
    *,
    cold: bool,
) -> Onset:
    """Some fail and the moves do not bracket T50: what is beyond them would be the prior's."""
    fine, _, weight = law
    level = np.log(np.maximum(weight.sum(axis=1), 1e-300))
    likely = fine[level >= level.max() - _ONE_SIDED]
    end = ends[0] if cold else ends[1]
    there = [move.failed for move in moves if abs(move.degc - end) < ONE_TEMPERATURE_C]
    low = high = None
    if cold:
        high = float(likely[-1]) if likely[-1] <= ends[1] else None
    else:
        low = float(likely[0]) if likely[0] >= ends[0] else None
    where: Where = "beyond_cold" if cold else "beyond_warm"
    at_end = (sum(there), len(there))
    return Onset(where, None, low, high, None, *counts, *ends, *law, at_end)


def _nothing(where: Where, counts: tuple[int, int], ends: tuple[float, float]) -> Onset:
    empty = np.zeros(0)
    return Onset(where, None, None, None, None, *counts, *ends, empty, empty, empty)


def _shifts(moves: Sequence[Move], draws: int) -> Array:
    """What the temperatures may be off by: draws x moves, degC; one row of zeros without parts."""
    names = sorted({name for move in moves for name, part in move.parts.items() if part})
    if not names:
        return np.zeros((1, len(moves)))
    parts = np.array([[move.parts.get(name, 0.0) for move in moves] for name in names])
    return np.asarray(_draws(len(names), draws) @ parts, dtype=np.float64)


@lru_cache(maxsize=16)
def _draws(count: int, draws: int) -> Array:
    """Standard normal draws that fill their space evenly, the same each time."""
    points = qmc.Sobol(count, seed=1).random(draws)
    return np.asarray(norm.ppf(np.clip(points, 1e-9, 1 - 1e-9)), dtype=np.float64)


def _widths(prior: Prior) -> tuple[Array, Array]:
    """Values of s, evenly in its logarithm, and the share of each beforehand."""
    z = np.linspace(-2.6, 2.6, 2 * max(4, round(2.6 * prior.width_ln / _WIDTH_LN)) + 1)
    share = np.exp(-(z**2) / 2)
    return prior.width_c * np.exp(prior.width_ln * z), share / share.sum()


def _log_mean(level: Array, share: Array) -> Array:
    """Average over s, at each T50."""
    return np.asarray(np.logaddexp.reduce(level + np.log(share), axis=1), dtype=np.float64)


def _log_average(mean: Array) -> float:
    return float(np.logaddexp.reduce(mean) - np.log(len(mean)))


def _log_regardless(failed: NDArray[np.bool_]) -> float:
    """How likely the moves are if each fails with one probability at every temperature."""
    rate = (np.arange(1000) + 0.5) / 1000
    fails, holds = int(failed.sum()), int((~failed).sum())
    return _log_average(fails * np.log(rate) + holds * np.log(1 - rate))


def _quantiles(grid: Array, share: Array) -> tuple[float, float, float]:
    """Where 2.5, 50 and 97.5 % of the probability lie below."""
    below = np.cumsum(share) - share / 2
    tail = (1.0 - SHARE) / 2
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], below, grid)
    return float(low), float(middle), float(high)
