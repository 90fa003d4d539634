"""Models that make every row a chance of its own: friction that lets go anywhere, a bad contact."""

from math import log

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from needlewright.findings.signatures.knowledge import FaultCode, Members, Wild
from needlewright.findings.signatures.noise import LOG_2PI, log_sum
from needlewright.findings.signatures.rows import Array
from needlewright.findings.signatures.steady import completed
from needlewright.findings.signatures.weighed import (
    Size,
    Weighed,
    cell_widths,
    log_lognormal,
    log_normal_density,
)
from needlewright.findings.signatures.weighing import Weigher

_FAR = 7.0
"""Scatter and drag are named where they are far above the uncertainty of a row: their sizes are
taken to lie about so many of it, at least (common practice, no source)."""
_PLAIN = 3.0
"""Uncertainties from which on a row is plainly off."""
_HARDLY = 0.02
"""Where no more rows are plainly off than may be wild, a bad contact is hardly to be named."""
_QUARTILES = 1.349
"""Between the quartiles of a normal law, in its standard deviations."""
_LAGS = 9
_NEAR_LAGS = np.linspace(0.85, 1.6, 9)
"""Lags are weighed more closely about the two largest that were seen."""
_LEAST_LAG_DEG = 0.05
_SEATS = 5
_SHARES = (0.3, 0.5, 0.75, 1.0)
_SCATTERS = 21
_STARTS = (0.0, 0.25, 0.5, 0.75)


def dragging(weigher: Weigher, *, seated_wrong: bool = False) -> Weighed:
    """The needle lags: anywhere between nothing and the largest lag, or by all of it.

    Parameters
    ----------
    weigher
        The rows.
    seated_wrong
        Whether its seat is off as well, by any size.

    Returns
    -------
    Weighed
        A lag anywhere is what friction with a stick and a jump leaves; without gears the needle
        stays behind the field by nearly the same lag everywhere past where friction begins.
    """
    sizes = weigher.knowledge.sizes
    gears = weigher.rows.dial.movement.kind == "stepper"
    constant = sizes.lag_constant_with_gears if gears else sizes.lag_constant_without_gears
    anywhere = _lag_anywhere(weigher, seated_wrong)
    steady = _lag_constant(weigher, seated_wrong)
    values = (anywhere.log_evidence + log(1 - constant), steady.log_evidence + log(constant))
    best = anywhere if values[0] >= values[1] else steady
    return Weighed(
        best.members, float(np.logaddexp(*values)), best.model_deg, best.sizes,
        best.effects_deg, best.wild,
    )  # fmt: skip


def _members(seated_wrong: bool) -> Members:
    return ("needle_offset", "dragging") if seated_wrong else ("dragging",)


def _lag_anywhere(weigher: Weigher, seated_wrong: bool) -> Weighed:
    rows, sizes = weigher.rows, weigher.knowledge.sizes
    free = rows.free
    error, way, u = weigher.error_deg[free], rows.way[free], weigher.row_u_deg[free]
    seats, seat_weights = _seats(weigher, error, way, seated_wrong)
    median = max(sizes.lag_deg, _FAR * float(np.median(u))) if len(u) else sizes.lag_deg
    lags = _lags(median, sizes.lag_factor, np.abs(error))
    lag_weights = log_lognormal(lags, median, sizes.lag_factor) + np.log(cell_widths(lags))
    lag_weights = lag_weights - log_sum(lag_weights)
    lag, seat = (grid.ravel() for grid in np.meshgrid(lags, seats, indexing="ij"))
    weight = (lag_weights[:, np.newaxis] + seat_weights).ravel()
    behind = -way * (error - seat[:, np.newaxis]) / u
    lower = behind - lag[:, np.newaxis] / u
    density = _log_between(lower, behind) - np.log(lag)[:, np.newaxis]
    evidence = independent(density, weigher.knowledge.wild) + weigher.stops
    mass = weight + evidence
    total = float(log_sum(mass))
    share = np.exp(mass - total)
    size = float(share @ lag)
    seat_size = float(share @ seat)
    model = seat_size - rows.way * size / 2
    u_size = float(np.sqrt(share @ (lag - size) ** 2))
    found: dict[FaultCode, Size] = {"dragging": Size(size, u_size)}
    effects: dict[FaultCode, float] = {"dragging": size}
    if seated_wrong:
        found["needle_offset"] = Size(seat_size, float(np.sqrt(share @ (seat - seat_size) ** 2)))
        effects["needle_offset"] = abs(seat_size)
    return Weighed(_members(seated_wrong), total, model, found, effects)


def _lags(median: float, factor: float, off: Array) -> Array:
    """Lags to try: some anywhere, and more about the largest that rows show."""
    anywhere = np.exp(log(median) + np.linspace(-2.5, 2.5, _LAGS) * log(factor))
    largest = np.sort(off)[-2:]
    near = np.outer(largest[largest > _LEAST_LAG_DEG], _NEAR_LAGS).ravel()
    return np.unique(np.concatenate([anywhere, near]))


def _seats(weigher: Weigher, error: Array, way: Array, seated_wrong: bool) -> tuple[Array, Array]:
    """Seats to try, and their prior weights."""
    sound = weigher.knowledge.sound.seat_deg
    if not seated_wrong or not len(error):
        steps = np.linspace(-2.0, 2.0, _SEATS)
        weights = log_normal_density(steps, 1.0)
        return sound * steps, weights - log_sum(weights)
    sides = [error[way == one] for one in (1.0, -1.0) if (way == one).any()]
    ends = [float(np.percentile(side, q)) for side in sides for q in (5, 95)]
    seats = np.linspace(min(ends) - 0.5, max(ends) + 0.5, 41)
    weights = log_normal_density(seats, weigher.knowledge.sizes.offset_deg)
    return seats, weights + log(seats[1] - seats[0])


def _lag_constant(weigher: Weigher, seated_wrong: bool) -> Weighed:
    rows, sizes = weigher.rows, weigher.knowledge.sizes
    law = "offset" if seated_wrong else ""
    low, high = float(rows.told_deg.min()), float(rows.told_deg.max())
    begins = low + np.array(_STARTS)[:, np.newaxis] * (high - low) - 1e-6
    there = rows.told_deg >= begins

    def means(start: NDArray[np.int_], lags: Array) -> Array:
        return np.asarray(there[start] * rows.behind(2 * lags))

    zoomed = weigher.zoom_sizes(
        means,
        -rows.way * there,
        lambda lag: log_lognormal(lag, sizes.lag_deg, sizes.lag_factor),
        law,
    )
    evidence = float(log_sum(np.array([one.log_evidence for one in zoomed]))) - log(len(zoomed))
    chosen = int(np.argmax([one.log_evidence for one in zoomed]))
    best = zoomed[chosen]
    mean = means(np.array([chosen]), np.array([best.best]))[0]
    size = _uneven(best.size(), (-rows.way * weigher.error_deg)[rows.free & there[chosen]])
    return completed(
        weigher, _members(seated_wrong), evidence, mean, law,
        sizes={"dragging": size}, effects_deg={"dragging": size.size},
    )  # fmt: skip


def _uneven(size: Size, lags: Array) -> Size:
    """The size, as unsure as the lags of the rows differ: no friction is the same everywhere."""
    if len(lags) < 2:
        return size
    quarter, three = np.percentile(lags, (25.0, 75.0))
    return Size(size.size, float(np.hypot(size.u_size, (three - quarter) / _QUARTILES)))


def erratic(weigher: Weigher) -> Weighed:
    """Some rows or all scatter far beyond their uncertainty, more of them than may be wild."""
    rows, sizes = weigher.rows, weigher.knowledge.sizes
    error, u = weigher.error_deg[rows.free], weigher.row_u_deg[rows.free]
    own = u**2 + weigher.knowledge.sound.seat_deg**2
    steps = np.linspace(-2.3, 4.0, _SCATTERS)
    median = max(sizes.erratic_deg, _FAR * float(np.median(u))) if len(u) else sizes.erratic_deg
    scatters = np.exp(log(median) + steps * log(sizes.erratic_factor))
    weights = log_normal_density(steps, 1.0)
    weights = weights - log_sum(weights) - log(len(_SHARES))
    calm = -0.5 * (LOG_2PI + np.log(own) + error**2 / own)
    most_wild = max(1, len(error) // 10)
    masses, sds = [], []
    for share in _SHARES:
        wide = own + scatters[:, np.newaxis] ** 2
        off = -0.5 * (LOG_2PI + np.log(wide) + error**2 / wide) + log(share)
        quiet = calm + log(1 - share) if share < 1 else np.full_like(calm, -np.inf)
        either = np.logaddexp(off, quiet)
        enough = _more_than(np.exp(off - either), most_wild)
        rows_say = independent(either, weigher.knowledge.wild)
        masses.append(weights + rows_say + np.log(np.maximum(enough, 1e-300)))
        sds.append(np.sqrt(share) * scatters)
    mass, sd = np.concatenate(masses), np.concatenate(sds)
    total = float(log_sum(mass)) + weigher.stops
    if int((np.abs(error) > _PLAIN * np.sqrt(own)).sum()) <= most_wild:
        total += log(_HARDLY)
    shares = np.exp(mass - log_sum(mass))
    size = float(shares @ sd)
    found = Size(size, float(np.sqrt(shares @ (sd - size) ** 2)))
    none = np.zeros(weigher.count)
    return Weighed(("erratic",), total, none, {"erratic": found}, {"erratic": size})


def independent(log_density: Array, wild: Wild) -> Array:
    """Logarithm of the likelihood of rows that are chances of their own, wild ones allowed.

    Parameters
    ----------
    log_density
        Places x rows.
    wild
        How often a row is wild, and how far.

    Returns
    -------
    Array
        One for each place.
    """
    groups, count = log_density.shape
    if count == 0:
        return np.zeros(groups)
    whole = log_density.sum(axis=1)
    gain = -log(wild.within_deg) - log_density
    two = wild.share_of_runs_two if count >= 20 else 0.0
    one = wild.share_of_runs
    terms = [
        whole + log(1.0 - one - two),
        whole + log_sum(gain, axis=1) + log(one / count),
    ]
    if two:
        first = np.max(gain, axis=1)
        rest = gain.copy()
        rest[np.arange(groups), np.argmax(gain, axis=1)] = -np.inf
        terms.append(whole + first + log_sum(rest, axis=1) + log(two / count**2))
    return np.asarray(log_sum(np.stack(terms), axis=0))


def _log_between(low: Array, high: Array) -> Array:
    """Logarithm of the normal chance between two places, accurate in the tails."""
    flip = low > 0
    a, b = np.where(flip, -high, low), np.where(flip, -low, high)
    upper, lower = log_ndtr(b), log_ndtr(a)
    return np.asarray(upper + np.log1p(-np.exp(np.minimum(lower - upper, -1e-15))))


def _more_than(chances: Array, most: int) -> NDArray[np.float64]:
    """Chance that more than `most` of independent rows are affected; places x rows."""
    none = np.zeros((chances.shape[0], most + 1))
    none[:, 0] = 1.0
    for chance in chances.T:
        none[:, 1:] = none[:, 1:] * (1 - chance)[:, None] + none[:, :-1] * chance[:, None]
        none[:, 0] *= 1 - chance
    return np.asarray(np.clip(1.0 - none.sum(axis=1), 0.0, 1.0))
