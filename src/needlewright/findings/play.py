"""Backlash: a needle's angle at one command depends on the way it was come to.

What is left of the angle after the command is fitted by a level, by half the play against the way
of the last motion, and by a lag that grows with the rate. Only because the rate differs within one
way do play and lag part; standing frames part them best.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.commanded import AT_STOP_DEG, Followed
from needlewright.findings.motion import Motion

_MOVES_DEG_S: Final = 2.0
_SETTLED_S: Final = 0.08
_LEAST_FRAMES: Final = 8
_MOST_SCATTER_DEG: Final = 0.5
_MOST_SHARE: Final = 0.15
"""More scatter than these: what is left of the angle is no play."""
_PARTED: Final = 0.1
"""How far level, play and lag must be from being one; sweeps with two rates come to 0.2 and more,
one rate each way to 0.02 by the frames in which it turns."""
_TOGETHER: Final = 4.0
"""Frames whose errors go together, about."""


@dataclass(frozen=True, slots=True)
class Play:
    """Falling minus rising at the same command, deg, its uncertainty, and the first reversal."""

    play_deg: float
    u_play_deg: float
    t_s: float


def play_of(
    motion: Motion, beside: Followed, level_deg: NDArray[np.float64], left_out: NDArray[np.bool_]
) -> Play | None:
    """Measure the play of a needle that follows a command.

    Parameters
    ----------
    motion
        Its way.
    beside
        The command laid beside it.
    level_deg
        What lost steps have added up to, frame by frame.
    left_out
        Frames in which it did not follow.

    Returns
    -------
    Play | None
        None where the video does not hold both ways, or one rate each: play and lag do not part.
    """
    way = _way(beside.rate_deg_s)
    turned = np.flatnonzero((way[1:] != way[:-1]) & (way[:-1] != 0) & (way[1:] != 0))
    used = beside.usable & ~left_out & (way != 0) & (motion.angle_deg > AT_STOP_DEG)
    for frame in turned:
        used &= (motion.t_s < motion.t_s[frame]) | (motion.t_s > motion.t_s[frame] + _SETTLED_S)
    if not len(turned) or min(np.sum(used & (way == w)) for w in (-1, 1)) < _LEAST_FRAMES:
        return None
    rows = np.stack([np.ones(len(way)), -0.5 * way, beside.rate_deg_s / 100.0], axis=1)[used]
    if _parted(rows) < _PARTED:
        return None
    off, u = (beside.off_deg - level_deg)[used], beside.u_off_deg[used]
    weight = 1.0 / u
    for _ in range(5):
        fit, *_ = np.linalg.lstsq(rows * weight[:, None], off * weight, rcond=None)
        rest = (off - rows @ fit) / u
        scale = max(1.0, 1.4826 * float(np.median(np.abs(rest))))
        weight = np.minimum(1.0, 1.5 * scale / np.maximum(np.abs(rest), 1e-9)) / u
    covariance = np.linalg.inv((rows * weight[:, None]).T @ (rows * weight[:, None]))
    u_play = scale * float(np.sqrt(_TOGETHER * covariance[1, 1]))
    scatter = scale * float(np.median(u))
    if scatter > max(_MOST_SCATTER_DEG, _MOST_SHARE * abs(float(fit[1]))):
        return None
    reversal = turned[0] + 1
    return Play(float(fit[1]), u_play, float(motion.t_s[reversal]))


def _parted(rows: NDArray[np.float64]) -> float:
    """Smallest singular value of the columns, each of length one; 0: one is made of the others."""
    length = np.linalg.norm(rows, axis=0)
    if not length.all():
        return 0.0
    return float(np.linalg.svd(rows / length, compute_uv=False)[-1])


def _way(rate_deg_s: NDArray[np.float64]) -> NDArray[np.int64]:
    """Way of the last motion: 1 rising, -1 falling, 0 none yet."""
    way = np.where(np.abs(rate_deg_s) > _MOVES_DEG_S, np.sign(rate_deg_s), 0).astype(np.int64)
    at = np.maximum.accumulate(np.where(way != 0, np.arange(len(way)), 0))
    return way[at]
