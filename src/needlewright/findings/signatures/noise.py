"""Marginal likelihood of errors under a normal law, with rows that may be simply wrong.

Everything linear in a model (a seat, play of a sound train, a smooth shape) is part of the
covariance and so integrated out exactly. A wild row is left out of the normal law and weighed by a
flat one; leaving one out of a normal law needs no second inverse.
"""

from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from needlewright.findings.signatures.knowledge import Wild
from needlewright.findings.signatures.rows import Array

LOG_2PI = log(2.0 * pi)
_STOP_SLACK_DEG = 0.3
_STRAY = 0.005
"""Chance that a row on a stop says nothing: the stop was taken for one wrongly."""


@dataclass(frozen=True, slots=True, eq=False)
class Noise:
    """A normal law of the errors of all rows, split into free rows and rows on a stop."""

    covariance: Array
    """Of all rows."""
    free: NDArray[np.bool_]
    inverse: Array
    """Of the free rows' covariance."""
    log_determinant: float

    @classmethod
    def of(cls, covariance: Array, free: NDArray[np.bool_]) -> "Noise":
        """Prepare a covariance of all rows, square degrees."""
        inside = covariance[np.ix_(free, free)]
        lower = np.linalg.cholesky(inside) if len(inside) else inside
        half = np.linalg.inv(lower) if len(inside) else inside
        return cls(covariance, free, half.T @ half, float(2.0 * np.sum(np.log(np.diag(lower)))))


def log_normal(noise: Noise, residuals_deg: Array) -> Array:
    """Logarithm of the normal density of the free rows.

    Parameters
    ----------
    noise
        The law.
    residuals_deg
        Hypotheses x free rows.

    Returns
    -------
    Array
        One for each hypothesis.
    """
    return _log_normal(noise, residuals_deg, residuals_deg @ noise.inverse)


def _log_normal(noise: Noise, residuals_deg: Array, pulled: Array) -> Array:
    count = residuals_deg.shape[1]
    square = (residuals_deg * pulled).sum(axis=1)
    return np.asarray(-0.5 * (count * LOG_2PI + noise.log_determinant + square))


def log_sum(logs: Array, axis: int = -1) -> Array:
    """Logarithm of a sum of exponentials along an axis; of nothing but -inf, -inf.

    Parameters
    ----------
    logs
        Logarithms.
    axis
        Along which.

    Returns
    -------
    Array
        Without that axis. SciPy's own does the same and takes ten times as long for small arrays.
    """
    top = logs.max(axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.exp(logs - top).sum(axis=axis)) + top.squeeze(axis))


def log_marginal(noise: Noise, residuals_deg: Array, wild: Wild) -> tuple[Array, NDArray[np.int_]]:
    """Logarithm of the density of the free rows when some of them may be wild.

    Parameters
    ----------
    noise
        The law of rows that are not.
    residuals_deg
        Hypotheses x free rows.
    wild
        How often, and how far.

    Returns
    -------
    tuple
        For each hypothesis the logarithm, and the row most probably wild, or -1.

    Notes
    -----
    At most one row is wild, or a tenth of them (of two, the second beside the most probable
    first). Leaving row i out divides the density by that of row i given all others, which is
    normal with precision [K^-1]_ii and mean deviation [K^-1 r]_i / [K^-1]_ii. **Source** any
    textbook of Gaussian processes, leave-one-out; derivation: docs/findings.md.
    """
    groups, count = residuals_deg.shape
    if count == 0:
        return np.zeros(groups), np.full(groups, -1)
    pulled = residuals_deg @ noise.inverse
    whole = _log_normal(noise, residuals_deg, pulled)
    precision = np.diag(noise.inverse)
    alone = -0.5 * (LOG_2PI - np.log(precision) + pulled**2 / precision)
    flat = -log(wild.within_deg)
    two = wild.share_of_runs_two if count >= 20 else 0.0
    one = wild.share_of_runs
    without = whole[:, np.newaxis] - alone + flat + log(one / count)
    terms = [whole + log(1.0 - one - two), log_sum(without, axis=1)]
    first = np.argmax(without, axis=1)
    if two:
        terms.append(_second(noise, pulled, whole, first) + 2 * flat + log(two / count))
    likely = without[np.arange(groups), first] > terms[0]
    return log_sum(np.stack(terms), axis=0), np.where(likely, first, -1)


def _second(noise: Noise, pulled: Array, whole: Array, first: NDArray[np.int_]) -> Array:
    """With the most probable wild row left out, the mean over a second one."""
    groups, count = pulled.shape
    at = np.arange(groups)
    a = np.diag(noise.inverse)[first][:, np.newaxis]
    b = np.diag(noise.inverse)[np.newaxis, :]
    c = noise.inverse[first]
    p, q = pulled[at, first][:, np.newaxis], pulled
    determinant = np.maximum(a * b - c**2, 1e-300)
    square = (b * p**2 - 2 * c * p * q + a * q**2) / determinant
    both = 0.5 * np.log(determinant) - LOG_2PI - 0.5 * square
    left = whole[:, np.newaxis] - both
    left[at, first] = -np.inf
    return np.asarray(log_sum(left, axis=1) - log(count))


def log_on_stop(
    noise: Noise, residuals_deg: Array, stop_residuals_deg: Array, wild_row: NDArray[np.int_]
) -> Array:
    """Logarithm of the chance that needles on a stop would stand there or below.

    Parameters
    ----------
    noise
        The law of all rows.
    residuals_deg
        Hypotheses x free rows.
    stop_residuals_deg
        Hypotheses x rows on a stop: where the needle stands less where the model puts it.
    wild_row
        For each hypothesis the free row that is wild and tells nothing of the seat, or -1.

    Returns
    -------
    Array
        One for each hypothesis; the rows on a stop are taken as independent given the free ones.
    """
    stopped = ~noise.free
    if not stopped.any():
        return np.zeros(residuals_deg.shape[0])
    across = noise.covariance[np.ix_(stopped, noise.free)]
    pulled = residuals_deg @ noise.inverse
    some = np.flatnonzero(wild_row >= 0)
    if len(some):
        row = wild_row[some]
        share = pulled[some, row] / np.diag(noise.inverse)[row]
        pulled[some] -= share[:, np.newaxis] * noise.inverse[row]
    expected = pulled @ across.T
    own = np.diag(noise.covariance)[stopped]
    reach = across @ noise.inverse
    variance = np.maximum(own - np.einsum("ci,ci->c", reach, across), 1e-6)
    z = (stop_residuals_deg + _STOP_SLACK_DEG - expected) / np.sqrt(variance)
    chance = np.logaddexp(log_ndtr(z), log(_STRAY))
    return np.asarray(chance.sum(axis=1))
