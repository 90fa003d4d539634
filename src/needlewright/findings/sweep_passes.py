"""The passes of a sweep, and where in them something happened: at one place, or anywhere.

A pass is the way of a needle from one turn to the next. What comes back at the same angle in each
pass is bound to a place on the face or in the last wheel; what comes anywhere is not.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.event import Event
from needlewright.readings.track import DialTrack

TURN_DEG: Final = 15.0
"""A needle that goes back by less has not turned."""
PLACE_DEG: Final = 3.0
"""How well an event says its angle (standard deviation; common practice, no source)."""
_RATES: Final = np.linspace(0.05, 0.95, 10)
_OFTEN: Final = np.linspace(0.5, 0.98, 7)
_ELSEWHERE: Final = 0.05
_GRID_DEG: Final = 1.0
_ANGLED: Final = ("stalled", "blocked")


@dataclass(frozen=True, slots=True)
class Pass:
    """One way of a needle."""

    begins_s: float
    ends_s: float
    low_deg: float
    high_deg: float
    way: int
    """+1 clockwise, -1 counter-clockwise."""


@dataclass(frozen=True, slots=True)
class Placed:
    """An event, in which pass it happened and at which angle."""

    event: Event
    number: int
    """Of the pass; -1: in none."""
    angle_deg: float


@dataclass(frozen=True, slots=True)
class Places:
    """How likely the events of a dial lie as they do, under each law; logarithms.

    Parameters
    ----------
    anywhere
        As often in each pass, at any angle.
    fixed
        At one angle, each way.
    one_way
        At one angle, in passes of one way alone.
    at_deg
        The angle, if there is one.
    """

    anywhere: float
    fixed: float
    one_way: float
    at_deg: float


def passes_of(track: DialTrack) -> tuple[Pass, ...]:
    """The passes of a needle through a video.

    Parameters
    ----------
    track
        The needle.

    Returns
    -------
    tuple of Pass
        In time order; none where it never goes as far as `TURN_DEG`.
    """
    t_s, angle = track.t_s[track.seen], track.angle_deg[track.seen]
    if not len(angle):
        return ()
    turns: list[int] = []
    best, way = 0, 0
    for i, now in enumerate(angle):
        if way == 0:
            if abs(now - angle[best]) >= TURN_DEG:
                way = int(np.sign(now - angle[best]))
                turns.append(best)
                best = i
        elif way * (now - angle[best]) > 0:
            best = i
        elif way * (angle[best] - now) >= TURN_DEG:
            turns.append(best)
            best, way = i, -way
    if way:
        turns.append(best)
    return tuple(
        Pass(
            float(t_s[a]),
            float(t_s[b]),
            float(min(angle[a], angle[b])),
            float(max(angle[a], angle[b])),
            int(np.sign(angle[b] - angle[a])),
        )
        for a, b in pairwise(turns)
        if b > a
    )


def placed(track: DialTrack, passes: Sequence[Pass], events: Sequence[Event]) -> tuple[Placed, ...]:
    """Say of each event of a dial in which pass and at which angle it happened.

    Parameters
    ----------
    track
        The needle.
    passes
        Its passes.
    events
        Its events.

    Returns
    -------
    tuple of Placed
        In the order given.
    """
    t_s, angle = track.t_s[track.seen], track.angle_deg[track.seen]
    found = []
    for event in events:
        at_deg = (
            event.size_deg if event.fault in _ANGLED else float(np.interp(event.t_s, t_s, angle))
        )
        inside = (
            n
            for n, one in enumerate(passes)
            # one that stood before it turned has its event at the end of its way
            if one.begins_s - 0.1 <= event.t_s <= one.ends_s + 0.1
        )
        found.append(Placed(event, next(inside, -1), at_deg))
    return tuple(found)


def places_of(passes: Sequence[Pass], events: Sequence[Placed]) -> Places | None:
    """Weigh whether the events of a dial come back at one place.

    Parameters
    ----------
    passes
        Of the dial.
    events
        Of one dial, of kinds that have a place.

    Returns
    -------
    Places or None
        None where there is no pass, or no event in one.
    """
    per_pass = [[e.angle_deg for e in events if e.number == n] for n in range(len(passes))]
    if not any(per_pass):
        return None
    said = [angle for angles in per_pass for angle in angles]
    low = min(*said, *(one.low_deg for one in passes))
    high = max(*said, *(one.high_deg for one in passes))
    grid = np.arange(low, high + _GRID_DEG, _GRID_DEG)
    anywhere = sum(_log_anywhere(per_pass, passes))
    both = _log_fixed(passes, per_pass, grid, (-1, 1))
    ways = [_log_fixed(passes, per_pass, grid, (way,)) for way in (-1, 1)]
    single = np.logaddexp(*ways) - np.log(2)
    best = grid[int(np.argmax(np.logaddexp(both, single)))]
    mean = np.log(len(grid))
    return Places(
        anywhere,
        float(np.logaddexp.reduce(both) - mean),
        float(np.logaddexp.reduce(single) - mean),
        float(best),
    )


def _log_anywhere(per_pass: Sequence[Sequence[float]], passes: Sequence[Pass]) -> list[float]:
    hit = sum(bool(angles) for angles in per_pass)
    missed = len(per_pass) - hit
    rate = np.log(np.mean(_RATES**hit * (1 - _RATES) ** missed))
    wide = [-len(a) * np.log(_wide(p)) for a, p in zip(per_pass, passes, strict=True)]
    return [float(rate), *map(float, wide)]


def _log_fixed(
    passes: Sequence[Pass],
    per_pass: Sequence[Sequence[float]],
    grid: NDArray[np.float64],
    ways: tuple[int, ...],
) -> NDArray[np.float64]:
    """How likely the events are with the place at each angle, where it shows on these ways."""
    total = np.zeros((len(_OFTEN), len(grid)))
    for one, angles in zip(passes, per_pass, strict=True):
        low = min([one.low_deg, *angles]) - PLACE_DEG
        high = max([one.high_deg, *angles]) + PLACE_DEG
        near = (grid > low) & (grid < high)
        shows = near & (one.way in ways)
        elsewhere = -len(angles) * np.log(_wide(one))
        if not angles:
            total += np.where(shows, np.log(1 - _OFTEN)[:, None], 0.0)
            continue
        apart = (np.array(angles)[:, None] - grid) / PLACE_DEG
        there = np.exp(-(apart**2) / 2).mean(axis=0) / (PLACE_DEG * np.sqrt(2 * np.pi))
        rest = -(len(angles) - 1) * np.log(_wide(one))
        hit = _OFTEN[:, None] * there * np.exp(rest) + _ELSEWHERE * np.exp(elsewhere)
        missed = _ELSEWHERE * np.exp(elsewhere)
        total += np.log(np.where(shows, hit, missed))
    return np.asarray(np.logaddexp.reduce(total, axis=0) - np.log(len(_OFTEN)), dtype=np.float64)


def _wide(one: Pass) -> float:
    return max(one.high_deg - one.low_deg, TURN_DEG)
