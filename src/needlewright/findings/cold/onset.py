"""Where a movement starts to slip or stall: from how likely its moves are to an interval.

T50, the temperature at which every second move fails, is flat beforehand over a wide range. What
the moves do not bracket is said one-sidedly, or not at all. The law itself is in `cold.law`.

Source: as there; one-sided limits by the likelihood ratio, S. S. Wilks (1938); derivation in
docs/decisions/0052-where-the-cold-begins.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from needlewright.findings.cold.law import (
    COARSE_C,
    FEW_DRAWS,
    USUAL,
    Array,
    Prior,
    log_average,
    log_likelihood,
    log_mean,
    widths_of,
)
from needlewright.findings.cold.moves import Move

Where = Literal[
    "found", "beyond_cold", "beyond_warm", "below", "above", "regardless", "one_temperature"
]
Range = tuple[float, float, float]
"""Lower end, median and upper end, degC."""

SHARE: Final = 0.95
ONE_TEMPERATURE_C: Final = 2.0
"""Moves no further apart are at one temperature."""
BEYOND_C: Final = 40.0
"""How far beyond the moves T50 may lie beforehand."""
_FINE: Final = 160
_REGARDLESS: Final = 3.0
TENTH: Final = 0.1
"""The winter rule's share of failing moves."""
_ONE_SIDED: Final = norm.ppf(SHARE) ** 2 / 2
"""By how much the logarithm of the likelihood falls to its one-sided limit (S. S. Wilks, 1938)."""
_REACHES_C: Final = 1.0
"""Beyond the coldest move, or its temperature's own U if that is more, nothing was tried."""


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


def onset_of(moves: Sequence[Move], prior: Prior = USUAL) -> Onset:
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
    grid = np.arange(ends[0] - BEYOND_C, ends[1] + BEYOND_C, COARSE_C)
    widths, share = widths_of(prior)
    level = log_likelihood(moves, grid, widths, prior.misread, FEW_DRAWS)
    mean = log_mean(level, share)
    if _log_regardless(failed) - np.log(_REGARDLESS) > log_average(mean):
        return _nothing("regardless", counts, ends)
    near = grid[mean > mean.max() - 14.0]
    fine = np.linspace(near[0] - COARSE_C, near[-1] + COARSE_C, _FINE)
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


def _one_sided(
    moves: Sequence[Move], prior: Prior, counts: tuple[int, int], ends: tuple[float, float]
) -> Onset:
    """Beyond the temperatures tried: the T50 with which so much as this is still 5 % likely."""
    widths, share = widths_of(prior)
    grid = np.arange(ends[0] - BEYOND_C / 2, ends[1] + BEYOND_C / 2, COARSE_C / 5)
    # what a needle did is not to be explained by misreading here, or no limit would ever be met
    likely = np.exp(log_mean(log_likelihood(moves, grid, widths, 1e-9), share))
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


def _log_regardless(failed: NDArray[np.bool_]) -> float:
    """How likely the moves are if each fails with one probability at every temperature."""
    rate = (np.arange(1000) + 0.5) / 1000
    fails, holds = int(failed.sum()), int((~failed).sum())
    return log_average(fails * np.log(rate) + holds * np.log(1 - rate))


def _quantiles(grid: Array, share: Array) -> tuple[float, float, float]:
    """Where 2.5, 50 and 97.5 % of the probability lie below."""
    below = np.cumsum(share) - share / 2
    tail = (1.0 - SHARE) / 2
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], below, grid)
    return float(low), float(middle), float(high)
