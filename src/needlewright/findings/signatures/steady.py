"""Models whose needle follows: seated wrong, the wrong factor, a wrong face, play."""

from collections.abc import Callable, Iterator
from math import log

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from needlewright.findings.signatures.knowledge import FaultCode, Members
from needlewright.findings.signatures.noise import log_sum
from needlewright.findings.signatures.rows import Array, DialRows
from needlewright.findings.signatures.weighed import (
    Size,
    Weighed,
    Zoomed,
    log_lognormal,
    log_normal_density,
)
from needlewright.findings.signatures.weighing import SEATS, Weigher

MILE: float = 1.609344
"""Kilometres in a mile: a face and a programme of different units differ by this."""
_MILE_U: float = 0.004
_PLAY_SPLITS: tuple[float, ...] = (0.0, 0.5, 1.0)
"""Share of play by which the rising needle lags; the rest is the falling one's."""
_PAST_END_DEG: float = 20.0
"""How far past its last mark a needle's travel may end (common practice, no source)."""
_OVER_DEG: float = 2.0
"""Beyond the stop by less than this, a row says nothing of where the stop is."""
_NEAR_MILE = np.linspace(-0.02, 0.02, 9)
_FIRST_LOGS = np.unique(
    np.concatenate([np.linspace(-0.96, 0.96, 97), _NEAR_MILE - log(MILE), _NEAR_MILE + log(MILE)])
)
"""Logarithms of factors to begin with: up to 2.6 either way, closer where a mile is."""


def sound(weigher: Weigher) -> Weighed:
    """Nothing wrong."""
    mean = np.zeros(weigher.count)
    evidence = float(weigher.evidence(mean[np.newaxis, :])[0])
    return Weighed(("sound",), evidence, mean, {}, {}, weigher.wild_row(mean))


def needle_offset(weigher: Weigher) -> Weighed:
    """The needle sits turned on its shaft, a little or anyhow: any size, integrated out."""
    mean = np.zeros(weigher.count)
    slight, anyhow = weigher.knowledge.sizes.slight_share, weigher.knowledge.sizes.turned_share
    laws = {"offset": log(1 - slight - anyhow), "slight": log(slight), "turned": log(anyhow)}
    values = {
        law: float(weigher.evidence(mean[np.newaxis, :], law)[0])
        + weight
        + _no_trifle(weigher, mean, law)
        for law, weight in laws.items()
    }
    evidence = float(log_sum(np.array(list(values.values()))))
    law = max(values, key=lambda name: values[name])
    return completed(weigher, ("needle_offset",), evidence, mean, law)


def _no_trifle(weigher: Weigher, mean_deg: Array, law: str) -> float:
    """Logarithm of what a law's evidence changes by when seats too small to be a fault are none."""
    seat, u_seat = weigher.linear(mean_deg, law, law)
    return _trifle(weigher, float(weigher.part(law)[0, 0]) ** 0.5, float(seat[0]), float(u_seat[0]))


def _trifle(weigher: Weigher, width: float, size: float, u_size: float) -> float:
    """Logarithm of the share of sizes that are large enough, after the rows over before them."""
    least = weigher.knowledge.sizes.least_deg
    after = float(ndtr((-least - size) / u_size) + ndtr((size - least) / u_size))
    return log(max(after, 1e-12)) - log(2.0 * float(ndtr(-least / width)))


def completed(
    weigher: Weigher,
    members: Members,
    evidence: float,
    mean_deg: Array,
    law: str,
    *,
    sizes: dict[FaultCode, Size] | None = None,
    effects_deg: dict[FaultCode, float] | None = None,
) -> Weighed:
    """Add what the linear parts of a law say: the seat's size, play's size.

    Parameters
    ----------
    weigher
        The rows.
    members
        Of the hypothesis.
    evidence
        Its marginal likelihood.
    mean_deg
        What is not linear in it, at its most probable place.
    law
        Of what is left.
    sizes
        Of the members that are not linear.
    effects_deg
        Of the same.

    Returns
    -------
    Weighed
        With every member's size.
    """
    sizes, effects_deg = dict(sizes or {}), dict(effects_deg or {})
    model = mean_deg.copy()
    for part in set(SEATS) & set(law.split("+")):
        seat, u_seat = weigher.linear(mean_deg, law, part)
        sizes["needle_offset"] = Size(float(seat[0]), float(u_seat[0]))
        effects_deg["needle_offset"] = abs(float(seat[0]))
        model += seat
    if "play" in law:
        half, u_half = weigher.linear(mean_deg, law, "play")
        sizes["backlash"] = Size(2 * abs(float(half[0])), 2 * float(u_half[0]))
        effects_deg["backlash"] = 2 * abs(float(half[0]))
        model += half
    wild = weigher.wild_row(mean_deg, law)
    return Weighed(members, evidence, model, sizes, effects_deg, wild)


def scale_factor(weigher: Weigher, law: str = "", others: Members = ()) -> Weighed:
    """The value shown is a factor times what it should be.

    Parameters
    ----------
    weigher
        The rows.
    law
        Of what is left: `offset` or `play` for a pair.
    others
        The other members.

    Returns
    -------
    Weighed
        The factor weighed over its logarithm; 1.609 and its inverse are likelier than others.
    """
    found = [_factor(weigher, law, stop, _FIRST_LOGS) for stop in _upper_stops(weigher.rows)]
    evidence = float(log_sum(np.array([one.log_evidence for one, _ in found]))) - log(len(found))
    best, means = max(found, key=lambda one: one[0].log_evidence)
    mean = means(np.array([best.best]))[0]
    effect = float(np.max(np.abs(mean), initial=0.0))
    return completed(
        weigher, ("scale_factor", *others), evidence, mean, law,
        sizes={"scale_factor": best.size(np.exp)}, effects_deg={"scale_factor": effect},
    )  # fmt: skip


def _upper_stops(rows: DialRows) -> tuple[float, ...]:
    """Where the travel may end past the last mark, which no family says, by the rows there.

    The highest row, and one in the middle of those past the mark, should the highest be wild.
    """
    end = float(rows.rise_at(np.array([rows.dial.scale.values[-1]]))[0])
    past = np.sort(rows.seen_deg[rows.seen_deg >= end])
    if not len(past):
        return (end,)
    highest, middle = float(past[-1]), float(past[len(past) // 2])
    return (highest,) if highest - middle < 1.0 else (highest, middle)


def _factor(
    weigher: Weigher, law: str, stop_deg: float, first: Array
) -> tuple[Zoomed, Callable[[Array], Array]]:
    """Weigh the logarithm of the factor, the travel ending at a stop."""
    rows, sizes = weigher.rows, weigher.knowledge.sizes
    unknown = log(_PAST_END_DEG / float(np.min(weigher.row_u_deg)))

    def turned(logs: Array) -> Array:
        return rows.rise_at(np.exp(logs)[:, np.newaxis] * rows.shown)

    def means(logs: Array) -> Array:
        return np.asarray(np.minimum(turned(logs), stop_deg) - rows.told_deg)

    def log_density(logs: Array) -> Array:
        wide = log_normal_density(logs, log(sizes.ratio_factor)) + log(1 - sizes.mile_share)
        miles = [
            log_normal_density(logs - sign * log(MILE), _MILE_U) + log(sizes.mile_share / 2)
            for sign in (1.0, -1.0)
        ]
        held = (turned(logs) > stop_deg + _OVER_DEG).any(axis=1)
        return np.asarray(log_sum(np.stack([wide, *miles]), axis=0) - unknown * held)

    return weigher.zoom(means, first, log_density, law), means


def backlash(weigher: Weigher, law: str = "", others: Members = ()) -> Weighed:
    """Rising and falling differ by a constant: the needle lags by it, or the rising one alone does.

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
    Weighed
        Play weighed for each way of sharing it.
    """
    sizes, way = weigher.knowledge.sizes, weigher.rows.way

    splits = [
        (part / (2 * len(_PLAY_SPLITS)), share, sign, taken_up)
        for share in _PLAY_SPLITS
        for sign, part in ((1.0, 0.93), (-1.0, 0.07))
        for taken_up in (True, False)
    ]
    _, shares, signs, taken_up = (np.array(column) for column in zip(*splits, strict=True))
    forms = -signs[:, np.newaxis] * np.where(
        way > 0, shares[:, np.newaxis], shares[:, np.newaxis] - 1.0
    )

    def means(split: NDArray[np.int_], widths: Array) -> Array:
        # either every approach took the play up, as a bench that drives past does, or the rows
        # followed each other as they stand, and a short way back takes up only a part
        aside = (0.5 - shares[split]) * widths
        turned = signs[split, np.newaxis] * (weigher.rows.behind(widths) + aside[:, np.newaxis])
        whole = widths[:, np.newaxis] * forms[split]
        return np.asarray(np.where(taken_up[split, np.newaxis], whole, turned))

    def log_density(size: Array) -> Array:
        return log_lognormal(size, sizes.backlash_deg, sizes.backlash_factor)

    zoomed = weigher.zoom_sizes(means, forms, log_density, law)
    found = [
        (one.log_evidence + log(weight), one, i)
        for i, (one, (weight, *_)) in enumerate(zip(zoomed, splits, strict=True))
    ]
    evidence = float(log_sum(np.array([one[0] for one in found])))
    _, best, split = max(found, key=lambda one: one[0])
    mean = means(np.array([split]), np.array([best.best]))[0]
    size = best.size()
    return completed(
        weigher, ("backlash", *others), evidence, mean, law,
        sizes={"backlash": size}, effects_deg={"backlash": size.size},
    )  # fmt: skip


def wrong_face(weigher: Weigher) -> Weighed:
    """A smooth error with a shape: a random curve over the angle, of several widths and lengths."""
    sizes = weigher.knowledge.sizes
    zero = np.zeros(weigher.count)
    found = []
    for law in _shapes(sizes.shape_deg, sizes.shape_length):
        found.append((float(weigher.evidence(zero[np.newaxis, :], law)[0]), law))
    evidence = float(log_sum(np.array([one[0] for one in found]))) - log(len(found))
    law = max(found)[1]
    curve, u_curve = weigher.linear(zero, law, law)
    worst = int(np.argmax(np.abs(curve))) if len(curve) else 0
    size = Size(abs(float(curve[worst])), float(u_curve[worst])) if len(curve) else Size(0.0, 0.0)
    if len(curve):
        width = float(law.split()[1])
        evidence += _trifle(weigher, width, size.size, max(size.u_size, 1e-6))
    wild = weigher.wild_row(zero, law)
    return Weighed(
        ("wrong_face",), evidence, curve, {"wrong_face": size}, {"wrong_face": size.size}, wild
    )


def _shapes(widths: tuple[float, ...], lengths: tuple[float, ...]) -> Iterator[str]:
    for width in widths:
        for length in lengths:
            yield f"shape {width:g} {length:g}"
