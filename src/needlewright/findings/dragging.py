"""Dragging: the needle stands, then jumps after the motion it should have had.

The frames before it stood and those after it jumped belong to one smooth motion; the frames between
are behind it, and the jump is faster than that motion. A motor that stops and starts again does
neither: it does not catch up.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.findings.motion import Motion, changes_deg_s2, hardest_deg_s2
from needlewright.findings.standing import Smooth, Stand, smooth_through

_SIDES: Final = (4, 6, 8, 12)
_SIDE_S: Final = 0.11
"""Shortest time on either side that is taken for the needle's way."""
_DEGREES: Final = (2, 3)
_JUMP_S: Final = 0.26
_LONGEST_S: Final = 1.5
_LEAST_DEG_S: Final = 5.0
_LEAST_LAG_DEG: Final = 0.3
_SURE: Final = 5.0
_BEYOND: Final = 2.0
_RESTLESS_DEG: Final = 0.35
"""A needle that scatters so from frame to frame stands and jumps by chance."""
_LONG_SIDE: Final = 8
_STOOD_S: Final = 0.1
_LEAST_AT_END_DEG: Final = 1.0
_AT_END: Final = 2.0
"""A jump onto a resting command has to be so much harder: two points near each other look alike."""
_FASTER: Final = 1.4
_HELD: Final = 0.5
_AT_STOP_DEG: Final = 3.0


@dataclass(frozen=True, slots=True)
class Drag:
    """A needle held back; degrees above the lower stop."""

    stand: Stand
    caught_up: int
    """First frame on the motion again."""
    t_s: float
    """When it began to jump."""
    lag_deg: float
    u_lag_deg: float


def drags(motion: Motion, standing: list[Stand]) -> list[Drag]:
    """Find where a needle was held and then jumped, its command unknown.

    Parameters
    ----------
    motion
        Its way.
    standing
        Where it stands still.

    Returns
    -------
    list[Drag]
        In time order.
    """
    away = [stand for stand in standing if stand.angle_deg >= _AT_STOP_DEG]
    if not away or float(np.median(motion.u_deg)) > _RESTLESS_DEG:
        return []
    elsewhere = np.zeros(len(motion.t_s) - 1, dtype=np.bool_)
    for stand in away:
        elsewhere[max(0, stand.first - 3) : stand.first + 1] = True
        elsewhere[max(0, stand.last - 1) : stand.last + 4] = True
    hardest = hardest_deg_s2(motion, elsewhere, surely=False)
    found = []
    for stand in away:
        if stand.first < min(_SIDES) or stand.last + 2 >= len(motion.t_s):
            continue
        drag = _held(motion, stand)
        if drag is not None and _hardness(motion, stand.last - 1, drag.caught_up) > hardest:
            found.append(drag)
        elif drag is None:
            late = _held_at_the_end(motion, stand, standing, _AT_END * hardest)
            found += [late] if late is not None else []
    return found


def _held_at_the_end(
    motion: Motion, stand: Stand, standing: list[Stand], harder_deg_s2: float
) -> Drag | None:
    """A needle held until its command had come to rest: it jumps from one stand to the next."""
    t_s = motion.t_s
    after = [s for s in standing if s.first > stand.last]
    if not after or t_s[after[0].first] - t_s[stand.last] > _JUMP_S:
        return None
    goal = after[0]
    jump_deg, u_deg = goal.angle_deg - stand.angle_deg, goal.u_angle_deg + stand.u_angle_deg
    stood_s = float(t_s[stand.last] - t_s[stand.first])
    if stand.first < _LONG_SIDE or not _STOOD_S <= stood_s <= _LONGEST_S:
        return None
    before = smooth_through(motion, np.arange(stand.first - _LONG_SIDE, stand.first), 3)
    rate, u_rate = before.rate_at(float(t_s[stand.first - 1]))
    stopped = (abs(rate) - 2 * u_rate) / float(t_s[stand.first] - t_s[stand.first - 1])
    thrown = _hardness(motion, stand.last - 1, goal.first + 1)
    if not before.fits or rate * jump_deg <= 0.0:
        return None
    if min(stopped, thrown) < harder_deg_s2 or abs(jump_deg) < max(
        _LEAST_AT_END_DEG, _SURE * u_deg
    ):
        return None
    return Drag(stand, goal.first, _lets_go(motion, stand), abs(jump_deg), u_deg)


def _held(motion: Motion, stand: Stand) -> Drag | None:
    """The surest reading of one stand as a drag."""
    t_s = motion.t_s
    best: tuple[float, Drag] | None = None
    if t_s[stand.last] - t_s[stand.first] > _LONGEST_S:
        return None
    for caught_up in range(stand.last + 1, len(t_s)):
        if t_s[caught_up] - t_s[stand.last] > _JUMP_S and caught_up > stand.last + 2:
            break
        for side in _SIDES:
            if stand.first < side or caught_up + side > len(t_s):
                continue
            before_s = t_s[stand.first - 1] - t_s[stand.first - side]
            if min(before_s, t_s[caught_up + side - 1] - t_s[caught_up]) < _SIDE_S:
                continue
            frames = np.concatenate(
                [np.arange(stand.first - side, stand.first), np.arange(caught_up, caught_up + side)]
            )
            for degree in _DEGREES:
                smooth = smooth_through(motion, frames, degree)
                lag_deg, u_lag_deg = _lag(motion, stand, caught_up, smooth)
                sure = lag_deg / u_lag_deg
                if sure > _SURE and (best is None or sure > best[0]):
                    drag = Drag(stand, caught_up, _lets_go(motion, stand), lag_deg, u_lag_deg)
                    best = sure, drag
        if best is not None:
            break
    return None if best is None else best[1]


def _lag(motion: Motion, stand: Stand, caught_up: int, smooth: Smooth) -> tuple[float, float]:
    """How far the needle is behind when it jumps, or nothing if this is no drag."""
    none = 0.0, 1.0
    t_s, angle_deg = motion.t_s, motion.angle_deg
    if not smooth.fits:
        return none
    at_s = _lets_go(motion, stand)
    rates = [smooth.rate_at(float(t)) for t in (t_s[stand.first - 1], at_s, t_s[caught_up])]
    way = np.sign(rates[1][0])
    if any(way * rate < max(_LEAST_DEG_S, 2 * u) for rate, u in rates):
        return none
    expected, u_expected = smooth.at(at_s)
    lag_deg = float(way * (expected - stand.angle_deg))
    if lag_deg < max(_LEAST_LAG_DEG, _HELD * abs(rates[1][0]) * (at_s - t_s[stand.first])):
        return none
    between = slice(stand.last, caught_up + 1)
    jump = float(np.max(way * np.diff(angle_deg[between]) / np.diff(t_s[between])))
    if jump < _FASTER * max(abs(rate) for rate, _ in rates[1:]):
        return none
    late_deg = rates[1][0] * float(t_s[stand.last + 1] - t_s[stand.last]) / 12**0.5
    return lag_deg, float(np.sqrt(u_expected**2 + stand.u_angle_deg**2 + late_deg**2))


def _lets_go(motion: Motion, stand: Stand) -> float:
    """Half way between the last frame in which it stood and the next."""
    return float(motion.t_s[stand.last] + motion.t_s[stand.last + 1]) / 2


def _hardness(motion: Motion, first: int, last: int) -> float:
    """Largest sure change of rate between two frames, deg/s^2."""
    hard, u_hard, stride = changes_deg_s2(motion)
    surely = hard - _BEYOND * u_hard
    near = surely[max(0, first - stride) : max(0, last - stride) + 1]
    return float(np.max(near, initial=0.0))
