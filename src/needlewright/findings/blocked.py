"""Blocked: the needle follows up to an angle and stands there, stopped harder than its motor stops.

Without the command a sweep that ends low looks like a blocked one. They differ in how the needle
stops: a motor brakes as it is seen to accelerate elsewhere in the same video; what the needle runs
into does not. At the lower stop and at the scale's far end nothing is concluded.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.findings.motion import STRIDE_S, Motion, hardest_deg_s2
from needlewright.findings.standing import Stand, smooth_through

_SIDE: Final = 6
_LEAST_S: Final = 0.3
_AT_STOP_DEG: Final = 3.0
_AT_END_DEG: Final = 6.0
_LEAST_DEG_S: Final = 20.0
_HARDER: Final = 1.5
_NEAR: Final = 3


@dataclass(frozen=True, slots=True)
class Block:
    """A needle that ran into something; degrees above the lower stop."""

    stand: Stand
    t_s: float


def blocks(motion: Motion, standing: list[Stand], doubtful: list[int]) -> list[Block]:
    """Find where a needle was stopped by something, its command unknown.

    Parameters
    ----------
    motion
        Its way.
    standing
        Where it stands still.
    doubtful
        Frames at which something else has been found.

    Returns
    -------
    list[Block]
        In time order.
    """
    t_s = motion.t_s
    gaps = np.zeros(max(0, len(t_s) - 1), dtype=np.bool_)
    hit = [stand for stand in standing if _may_be(motion, stand)]
    for frame in [*doubtful, *(f for stand in hit for f in (stand.first - 1, stand.last))]:
        gaps[max(0, frame - 1) : frame + 1] = True
    hardest = hardest_deg_s2(motion, gaps, surely=False)
    return [
        Block(stand, float(t_s[stand.first]))
        for stand in hit
        if _braked_deg_s2(motion, stand) > _HARDER * hardest
    ]


def _may_be(motion: Motion, stand: Stand) -> bool:
    """Long enough, away from both ends, and not gone on from in the way it came."""
    if stand.first < _SIDE or motion.t_s[stand.last] - motion.t_s[stand.first] < _LEAST_S:
        return False
    if not _AT_STOP_DEG < stand.angle_deg < motion.top_deg - _AT_END_DEG:
        return False
    came = stand.angle_deg - motion.angle_deg[stand.first - _NEAR]
    after = motion.angle_deg[stand.last + 1 : stand.last + 1 + _NEAR] - stand.angle_deg
    return bool(len(after) == 0 or came * after[-1] < 0.0)


def _braked_deg_s2(motion: Motion, stand: Stand) -> float:
    """Acceleration by which it stopped at once; 0 where that is not known."""
    frames = np.arange(stand.first - _SIDE, stand.first)
    before = smooth_through(motion, frames, 2)
    last = stand.first - 1
    rate, u_rate = before.rate_at(float(motion.t_s[last]))
    surely = abs(rate) - 2 * u_rate
    if not before.fits or surely < _LEAST_DEG_S:
        return 0.0
    # no shorter time than that over which the motor is watched accelerating
    return float(surely / max(motion.t_s[stand.first] - motion.t_s[last], STRIDE_S))
