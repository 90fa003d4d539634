"""Needles that stand: dead, or kept from going on."""

from collections.abc import Callable
from math import hypot, log
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from needlewright.findings.signatures.knowledge import Members
from needlewright.findings.signatures.noise import Noise, log_marginal
from needlewright.findings.signatures.rows import Array, DialRows
from needlewright.findings.signatures.steady import completed
from needlewright.findings.signatures.weighed import (
    Size,
    Weighed,
    Zoomed,
)
from needlewright.findings.signatures.weighing import Weigher

_PLACES: Final = 33
_LEAST_WAY_DEG: Final = 1.0
_ALONE: Final = 50.0
"""A block that a single row speaks for is so much less likely than the row being wild, and one
that a needle is hardly seen to follow up to than its standing still."""
_FOLLOWED_DEG: Final = 3.0
_CAUGHT_CYCLES: Final = (1.0, 2.0)
"""A caught rotor stands within one of these many cycles, as often as within the other."""
_STRAY: Final = 0.02
_BLOCKS: Final = 161
_ALIKE: Final = 0.5
"""The share of a reading's uncertainty that is the same for readings of one place: how the eye
rounds, how the camera stands (common practice, no source)."""
_STILL_DEG: Final = 0.05
"""What a needle that stands still may move all the same: a touched bench (common practice)."""


def stalled(weigher: Weigher) -> Weighed:
    """The needle does not move at all, wherever it stands."""
    rows, count = weigher.rows, weigher.count
    every = np.ones(count, dtype=np.bool_)
    width = rows.span_deg / 2
    middle = rows.dial.scale.sense * rows.dial.scale.middle_deg
    still = rows.u_seen_deg**2 + _STILL_DEG**2
    law = Noise.of(np.diag(still) + width**2 * np.ones((count, count)), every)
    left = (rows.seen_deg - middle)[np.newaxis, :]
    evidence, wild = log_marginal(law, left, weigher.knowledge.wild)
    # a needle on its stop is a chance under other models and a density here
    as_chance = 0.5 * float(np.log(2 * np.pi * still[rows.on_stop]).sum())
    # a run whose one row is wild has no other to say where the needle stands
    left_out = int(wild[0]) if count > 1 else -1
    keep = np.arange(count) != left_out
    weights = 1.0 / still[keep]
    stands = float(np.average(rows.seen_deg[keep], weights=weights))
    mean = stands - rows.told_deg
    return Weighed(
        ("stalled",),
        float(evidence[0]) + as_chance,
        mean,
        {"stalled": _read_alike(Size(stands, float(weights.sum() ** -0.5)), rows)},
        {"stalled": float(np.max(np.abs(mean)))},
        left_out,
    )


def _read_alike(size: Size, rows: DialRows) -> Size:
    """A needle that stands is read with the same error each time: more rows do not take it away."""
    return Size(size.size, hypot(size.u_size, _ALIKE * float(np.median(rows.u_seen_deg))))


def blocked(weigher: Weigher, law: str = "", others: Members = ()) -> Weighed | None:
    """The needle follows up to an angle and stands there, or down to one.

    Parameters
    ----------
    weigher
        The rows.
    law
        Of what is left.
    others
        The other members.

    Returns
    -------
    Weighed or None
        None where the commands do not differ.
    """
    told = weigher.rows.told_deg
    low, high = float(told.min()), float(told.max())
    if high - low < _LEAST_WAY_DEG:
        return None
    share = weigher.knowledge.sizes.block_above
    upper = _block(weigher, lambda at: np.minimum(told, at[:, np.newaxis]) - told, law, 1.0)
    lower = _block(weigher, lambda at: np.maximum(told, at[:, np.newaxis]) - told, law, -1.0)
    values = upper.log_evidence + log(share), lower.log_evidence + log(1.0 - share)
    evidence = float(np.logaddexp(*values))
    if values[0] >= values[1]:
        best, back, mean = upper, high - upper.best, np.minimum(told, upper.best) - told
    else:
        best, back, mean = lower, lower.best - low, np.maximum(told, lower.best) - told
    return completed(
        weigher, ("blocked", *others), evidence, mean, law,
        sizes={"blocked": _read_alike(best.size(), weigher.rows)}, effects_deg={"blocked": back},
    )  # fmt: skip


def _block(weigher: Weigher, means: Callable[[Array], Array], law: str, side: float) -> Zoomed:
    """Weigh where a block is; one that a single row speaks for is rather a wild row."""
    told = weigher.rows.told_deg
    low, high = float(told.min()), float(told.max())

    def log_density(at: Array) -> Array:
        beyond = side * (told - at[:, np.newaxis])
        held, followed = (beyond > 0).sum(axis=1), (beyond < -_FOLLOWED_DEG).sum(axis=1)
        few = log(_ALONE) * ((held < 2) + np.maximum(2 - followed, 0))
        return np.asarray(-log(high - low) - few)

    return weigher.zoom(means, np.linspace(low, high, _PLACES), log_density, law)


def blocked_and_slipping(weigher: Weigher) -> Weighed | None:
    """A rotor that is driven on against what blocks its needle, and so loses cycles.

    Parameters
    ----------
    weigher
        The rows.

    Returns
    -------
    Weighed or None
        None where the commands do not differ.

    Notes
    -----
    Against a block a rotor stands anywhere within its cycle, so the rows that stand there, and
    only they, scatter by a cycle; which they are is told by a first look in which all may.
    """
    rows, cycle = weigher.rows, weigher.rows.dial.movement.cycle_deg
    low, high = float(rows.told_deg.min()), float(rows.told_deg.max()) - cycle
    if high - low < _LEAST_WAY_DEG:
        return None

    def zoomed(law: str) -> Zoomed:
        return weigher.zoom(
            lambda at: _slipping(weigher, at)[0],
            np.linspace(low, high, _PLACES),
            lambda at: np.full(len(at), -log(high - low)),
            law,
        )

    first = zoomed("loose")
    _, pressed = _slipping(weigher, np.array([first.best]))
    best = zoomed(weigher.loosened(pressed[0]))
    mean = _slipping(weigher, np.array([best.best]))[0][0]
    lost, back = float(mean[-1]), float(rows.told_deg.max()) - best.best
    evidence = best.log_evidence - (log(_ALONE) if pressed[0].sum() < 2 else 0.0)
    size = _read_alike(_above_the_caught(rows, best.best, cycle) or best.size(), rows)
    return Weighed(
        ("blocked", "lost_steps"),
        evidence,
        mean,
        {"blocked": size, "lost_steps": Size(float(round(lost / cycle)), 0.5)},
        {"blocked": back, "lost_steps": min(abs(lost), back - 1e-6)},
        weigher.wild_row(mean, weigher.loosened(pressed[0])),
    )


def _above_the_caught(rows: DialRows, near: float, cycle: float) -> Size | None:
    """Where the block is, from the needles it caught: each up to two cycles below it.

    A rotor that is driven on falls back by up to a cycle and a half and comes up again, so a row
    may catch it anywhere there; which rows are of the block is told by a first look.
    """
    close = (
        (np.abs(rows.seen_deg - near) < 2.5 * cycle) & rows.free & (rows.told_deg > near - cycle)
    )
    seen, u = rows.seen_deg[close], rows.u_seen_deg[close]
    if not len(seen):
        return None
    far = _CAUGHT_CYCLES[-1] * cycle
    at = np.linspace(seen.max() - far, seen.max() + far + 3 * u.max(), _BLOCKS)[:, np.newaxis]
    caught = sum(
        (ndtr((at - seen) / u) - ndtr((at - cycles * cycle - seen) / u)) / (cycles * cycle)
        for cycles in _CAUGHT_CYCLES
    ) / len(_CAUGHT_CYCLES)
    share = np.prod(caught + _STRAY / far, axis=1)
    share /= share.sum()
    mean = float(share @ at[:, 0])
    return Size(mean, float(np.sqrt(share @ (at[:, 0] - mean) ** 2)))


def _slipping(weigher: Weigher, at: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Means, and which rows press against the block or the stop, one line for each place of it.

    The rotor slips whole cycles against the block, comes back too low, and meets its lower stop
    too early, where it is driven on as well and finds the cycles again.
    """
    rows, cycle = weigher.rows, weigher.rows.dial.movement.cycle_deg
    low, lost = rows.lower_stop_deg, np.zeros(len(at))
    means = np.empty((len(at), weigher.count))
    pressed = np.empty((len(at), weigher.count), dtype=np.bool_)
    for i, told in enumerate(rows.told_deg):
        if i and rows.homed[i] != rows.homed[i - 1]:
            lost = np.zeros(len(at))
        free = told - lost
        over, under = np.maximum(free - at, 0.0), np.maximum(low - free, 0.0)
        lost = lost + cycle * (np.round(over / cycle) - np.round(under / cycle))
        means[:, i] = np.clip(free, low, np.maximum(at, low)) - told
        pressed[:, i] = (over > 0) | (under > 0)
    return means, pressed
