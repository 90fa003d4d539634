"""The law by which a movement fails in the cold, and how likely moves are under it.

    P(a move fails at T) = e + (1 - 2 e) / (1 + exp((T - T50) / s))

T50 is the temperature at which every second move fails, s how sharply it begins, e the share of
moves that is simply misread. A temperature is known with an error made of parts, and a part of one
name is one error of all moves that name it: the law is averaged over them, each move's temperature
shifted by all its parts (errors in the variables). s is log-normal beforehand, which also holds it
where cold and warm moves part wholly and no maximum of the likelihood exists.

Source: logistic regression, any textbook of generalised linear models; errors in variables:
R. J. Carroll, D. Ruppert, L. A. Stefanski and C. M. Crainiceanu, Measurement Error in Nonlinear
Models, 2nd ed., chapter 8 (integrated likelihood; from memory); derivation in
docs/decisions/0052-where-the-cold-begins.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, qmc

from needlewright.findings.cold.moves import Move

Array = NDArray[np.float64]

WIDTH_C: Final = 1.0
"""Median of s beforehand, degC: one movement begins and ceases to slip within a few degrees
(common practice, no source)."""
WIDTH_LN: Final = 0.8
"""Standard deviation of ln s beforehand (common practice, no source)."""
MISREAD: Final = 0.01
"""Share of moves that is misread (common practice, no source)."""
COARSE_C: Final = 1.0
"""Step of T50 where it is looked for first."""
FEW_DRAWS: Final = 16
"""Of what temperatures may be off by, where it is looked for first."""
_DRAWS: Final = 64
_WIDTH_LN: Final = 0.2


@dataclass(frozen=True, slots=True)
class Prior:
    """What is taken to be known beforehand of how sharply a movement fails."""

    width_c: float = WIDTH_C
    width_ln: float = WIDTH_LN
    misread: float = MISREAD


USUAL: Final = Prior()


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
    widths, share = widths_of(prior)
    grid = np.arange(low_c, high_c + COARSE_C / 2, COARSE_C)
    level = log_likelihood(moves, grid, widths, prior.misread, FEW_DRAWS)
    return log_average(log_mean(level, share))


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


def widths_of(prior: Prior) -> tuple[Array, Array]:
    """Values of s, evenly in its logarithm, and the share of each beforehand."""
    z = np.linspace(-2.6, 2.6, 2 * max(4, round(2.6 * prior.width_ln / _WIDTH_LN)) + 1)
    share = np.exp(-(z**2) / 2)
    return prior.width_c * np.exp(prior.width_ln * z), share / share.sum()


def log_mean(level: Array, share: Array) -> Array:
    """Average over s, at each T50."""
    return np.asarray(np.logaddexp.reduce(level + np.log(share), axis=1), dtype=np.float64)


def log_average(mean: Array) -> float:
    """Average over T50, each value as likely."""
    return float(np.logaddexp.reduce(mean) - np.log(len(mean)))
