"""Which ticks belong to a scale, and which of them are its major marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.ticks import Tick
from needlewright.readings.projection import Array

LENGTHS: Final = (0.13, 1.35)
"""Shortest and longest mark, in lengths of a clicked one."""
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
            and (turn <= MOST_TURNED_DEG or t.length < LONG_FOR_WIDTH * t.width)
            for t, turn in zip(ticks, turned_deg, strict=True)
        ],
        dtype=bool,
    )


def chain_of(ticks: Sequence[Tick], clicked: Sequence[Tick]) -> Chain | None:
    """Order the ticks of a scale along its arc, and leave out what lies beyond its ends.

    Parameters
    ----------
    ticks
        Likely marks, the clicked ones among them.
    clicked
        The marks under the clicks.

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
    return Chain(kept, angles[first : last + 1] - turns, tuple(places), _major(kept, places))


def _place(order: Sequence[Tick], tick: Tick) -> int:
    return int(np.argmin([np.hypot(*np.subtract(t.inner_px, tick.inner_px)) for t in order]))


def _major(ticks: Sequence[Tick], clicked: Sequence[int]) -> NDArray[np.bool_]:
    """Those like the clicked ones: up to the widest jump in unlikeness.

    A coloured band may cover the outer end of a mark, so its inner end counts, and its width.
    """
    length = float(np.median([ticks[i].length for i in clicked]))
    likest = np.full(len(ticks), np.inf)
    for i in clicked:
        sample = ticks[i]
        unlike = np.array(
            [
                np.hypot((t.inner - sample.inner) / length, np.log(t.width / sample.width))
                for t in ticks
            ]
        )
        likest = np.minimum(likest, unlike)
    rank = np.sort(likest)
    jumps = np.diff(rank)
    if len(jumps) == 0 or jumps.max() < CLEAR_JUMP:
        return np.ones(len(ticks), dtype=bool)
    edge = int(np.argmax(jumps))
    return np.asarray(likest <= rank[edge])


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
