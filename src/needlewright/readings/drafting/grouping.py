"""Which ticks belong to a scale, and which of them are its major marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.ticks import Tick
from needlewright.readings.drafting.values import is_round
from needlewright.readings.projection import Array

LENGTHS: Final = (0.13, 1.35)
"""Shortest and longest mark, in lengths of a clicked one."""
CRUMB: Final = 0.35
"""Share of a clicked mark's length below which a tick must stand where marks end: else it is the
corner of a numeral."""
WIDEST: Final = 1.9
MOST_TURNED_DEG: Final = 14.0
"""A longish tick turned further from the centre than this is none."""
LONG_FOR_WIDTH: Final = 1.8
WIDEST_GAP: Final = 2.3
"""Gap that ends a scale, in times the widest gap between the clicked marks."""
CLEAR_JUMP: Final = 0.15
"""Jump in likeness to the clicked marks that sets the major ones apart."""
HALF_LONG: Final = 0.6
"""Share of a major mark's length above which a minor one is a longer minor mark."""
SAME_INK: Final = 0.97
"""Cosine between two inks' colours above which they are one."""


@dataclass(frozen=True, slots=True)
class Chain:
    """The ticks of one scale in rising angle, along the arc that the scale covers."""

    ticks: tuple[Tick, ...]
    angles_deg: Array
    """Unwrapped, rising."""
    clicked: tuple[int, ...]
    """Of each clicked mark, its place among the ticks."""
    major: NDArray[np.bool_]


def distance_px(tick: Tick, point: Array) -> float:
    """Pixels from a point of the photo to a tick's axis."""
    inner, outer = np.array(tick.inner_px), np.array(tick.outer_px)
    along = outer - inner
    share = float(np.clip((point - inner) @ along / max(float(along @ along), 1e-9), 0, 1))
    return float(np.hypot(*(point - inner - share * along)))


def like_clicked(
    ticks: Sequence[Tick], clicked: Sequence[Tick], slack: float, turned_deg: Array
) -> NDArray[np.bool_]:
    """Which ticks may be marks of the scale that the clicked ones belong to.

    Parameters
    ----------
    ticks
        What was found in the ring.
    clicked
        The marks under the clicks.
    slack
        How far a tick's ends may lie outside those of the clicked ones.
    turned_deg
        By how much each tick's axis is turned from the centre.

    Returns
    -------
    NDArray
        (n,), true for likely marks.
    """
    length = max(t.length for t in clicked)
    width = max(t.width for t in clicked)
    inner, outer = min(t.inner for t in clicked), max(t.outer for t in clicked)
    return np.array(
        [
            LENGTHS[0] * length <= t.length <= LENGTHS[1] * length + slack
            and t.width <= WIDEST * width
            and t.inner >= inner - slack
            and t.outer <= outer + slack
            and (t.length > CRUMB * length or outer - t.outer < CRUMB * length + slack)
            and (turn <= MOST_TURNED_DEG or t.length < LONG_FOR_WIDTH * t.width)
            for t, turn in zip(ticks, turned_deg, strict=True)
        ],
        dtype=bool,
    )


def chain_of(
    ticks: Sequence[Tick], clicked: Sequence[Tick], values: Sequence[float]
) -> Chain | None:
    """Order the ticks of a scale along its arc, and leave out what lies beyond its ends.

    Parameters
    ----------
    ticks
        Likely marks, the clicked ones among them.
    clicked
        The marks under the clicks.
    values
        Typed at the clicks.

    Returns
    -------
    Chain | None
        None when fewer than three remain.
    """
    order = sorted(ticks, key=lambda t: t.angle_deg % 360.0)
    angles = np.array([t.angle_deg % 360.0 for t in order])
    if len(order) < 3:
        return None
    gaps = np.diff(np.append(angles, angles[0] + 360.0))
    start = (int(np.argmax(gaps)) + 1) % len(order)
    order = order[start:] + order[:start]
    angles = np.unwrap(np.roll(angles, -start), period=360.0)
    places = [_place(order, t) for t in clicked]
    first, last = min(places), max(places)
    gaps = np.diff(angles)
    widest = WIDEST_GAP * float(gaps[first:last].max())
    while last + 1 < len(order) and gaps[last] <= widest:
        last += 1
    while first > 0 and gaps[first - 1] <= widest:
        first -= 1
    kept = tuple(order[first : last + 1])
    if len(kept) < 3:
        return None
    turns = 360.0 * round(float(angles[first] + angles[last]) / 720.0)
    places = [place - first for place in places]
    return Chain(
        kept, angles[first : last + 1] - turns, tuple(places), _major(kept, places, values)
    )


def _place(order: Sequence[Tick], tick: Tick) -> int:
    return int(np.argmin([np.hypot(*np.subtract(t.inner_px, tick.inner_px)) for t in order]))


def _major(
    ticks: Sequence[Tick], clicked: Sequence[int], values: Sequence[float]
) -> NDArray[np.bool_]:
    """Those like the clicked ones, up to a jump in unlikeness that leaves round steps.

    A coloured band may cover the outer end of a mark, so its inner end counts, and its width. It
    may cover a clicked mark, too: then the other clicked one is the better sample.
    """
    longest = max(clicked, key=lambda i: ticks[i].area)
    choices = [
        choice
        for samples in (clicked, [longest])
        for choice in _choices(_unlike(ticks, samples), clicked)
    ]
    choices.sort(key=lambda choice: -choice[0])
    for _, major in choices:
        if _round_between(major, clicked, values):
            return major
    return choices[0][1]


def _unlike(ticks: Sequence[Tick], samples: Sequence[int]) -> Array:
    """How unlike each tick is to the nearest of some samples."""
    length = float(np.median([ticks[i].length for i in samples]))
    unlike = [
        [
            np.hypot((t.inner - ticks[i].inner) / length, np.log(t.width / ticks[i].width))
            for t in ticks
        ]
        for i in samples
    ]
    return np.asarray(np.min(unlike, axis=0), dtype=float)


def _choices(unlike: Array, clicked: Sequence[int]) -> list[tuple[float, NDArray[np.bool_]]]:
    """Ways to tell major marks, each with how clearly it does: up to each jump, or all alike."""
    rank = np.sort(unlike)
    jumps = np.diff(rank)
    found = []
    for edge in np.flatnonzero(jumps > CLEAR_JUMP):
        major = unlike <= rank[edge]
        major[list(clicked)] = True
        found.append((float(jumps[edge]), major))
    return [*found, (CLEAR_JUMP, np.ones(len(unlike), dtype=bool))]


def _round_between(
    major: NDArray[np.bool_], clicked: Sequence[int], values: Sequence[float]
) -> bool:
    """Whether the values between clicked marks rise by steps that are printed on scales."""
    order = np.argsort(clicked)
    count = np.cumsum(major)
    for i, j in pairwise(order):
        marks = int(count[clicked[j]] - count[clicked[i]])
        if marks < 1 or not is_round((values[j] - values[i]) / marks):
            return False
    return True


def groups_of(chain: Chain) -> NDArray[np.intp]:
    """Groups of marks that end on the same circles: of one length and one ink.

    Light spreads from white print further than from red, so a red mark seems to end earlier.

    Parameters
    ----------
    chain
        The ticks of a scale, finely measured.

    Returns
    -------
    NDArray
        (n,), the group of each tick.
    """
    length = max(t.length for t in chain.ticks)
    kinds = [
        0 if major else 1 if t.length > HALF_LONG * length else 2
        for t, major in zip(chain.ticks, chain.major, strict=True)
    ]
    ink = np.array([t.colour for t in chain.ticks])
    ink = ink / np.maximum(np.linalg.norm(ink, axis=1, keepdims=True), 1e-9)
    usual = np.median(ink, axis=0)
    usual = usual / max(float(np.linalg.norm(usual)), 1e-9)
    other_ink = np.asarray(ink @ usual < SAME_INK)
    return np.asarray(np.array(kinds) + 3 * other_ink, np.intp)
