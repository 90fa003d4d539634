"""A needle against a known command: what is left of its angle when the command is taken away.

The command is first moved in time until the needle follows it best: video and bench have their own
clocks, and firmware takes its time. What is then left is level as long as the needle follows. It
leaves its level when the needle is held, and finds a level again: the same one after dragging, one
whole cycles away after lost steps. On the lower stop a needle follows nothing; there the level is
forgotten.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.motion import Motion

FloatArray = NDArray[np.float64]

_DELAYS_S: Final = np.arange(-0.1, 0.5001, 0.005)
_CHANGES_S: Final = (0.0, 0.2, 0.5)
"""Over a frame jumps show, over longer a delay does: it makes a rest that turns with the speed."""
AT_STOP_DEG: Final = 3.0
_HOME_DEG: Final = 1.2
"""A needle on its stop that is asked to be there follows."""
_LEVEL_S: Final = 0.2
_LEVEL_FRAMES: Final = 4
_LEAVES_DEG: Final = 0.4
_LEAVES: Final = 5.0
_LATE_S: Final = 0.001
"""What the delay may differ by from one part of a sweep to another."""


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """A needle's way beside its command, frame by frame; degrees above the lower stop."""

    delay_s: float
    command_deg: FloatArray
    """Moved in time by the delay."""
    rate_deg_s: FloatArray
    """Of that command."""
    off_deg: FloatArray
    """Needle minus command."""
    u_off_deg: FloatArray
    usable: NDArray[np.bool_]
    """False where the lower stop keeps the needle from following."""


@dataclass(frozen=True, slots=True)
class Absence:
    """Frames `first` to `last` in which the needle did not follow, and its levels around them."""

    first: int
    last: int
    before_deg: float
    after_deg: float
    u_deg: float
    """Of the difference of the levels."""
    furthest_deg: float
    """Largest departure from the level before, signed."""


def followed(motion: Motion, t_s: FloatArray, command_deg: FloatArray) -> Followed:
    """Lay a command beside a needle's way.

    Parameters
    ----------
    motion
        The way.
    t_s
        Times of the command, seconds, rising, on about the same clock.
    command_deg
        The command, degrees above the lower stop.

    Returns
    -------
    Followed
        With the delay between the two taken out.
    """
    costs = [_restless(motion, t_s, command_deg, float(delay)) for delay in _DELAYS_S]
    best = int(np.argmin(costs))
    delay_s = float(_DELAYS_S[best])
    if 0 < best < len(costs) - 1:
        low, mid, high = costs[best - 1 : best + 2]
        bow = low - 2 * mid + high
        if bow > 0:
            delay_s += float(_DELAYS_S[1] - _DELAYS_S[0]) * 0.5 * (low - high) / bow
    moved = np.interp(motion.t_s - delay_s, t_s, command_deg)
    rate = np.gradient(moved, motion.t_s) if len(moved) > 1 else np.zeros_like(moved)
    return Followed(
        delay_s,
        moved,
        rate,
        motion.angle_deg - moved,
        np.hypot(motion.u_deg, _LATE_S * rate),
        (motion.angle_deg > AT_STOP_DEG) | (np.abs(motion.angle_deg - moved) < _HOME_DEG),
    )


def _restless(motion: Motion, t_s: FloatArray, command_deg: FloatArray, delay_s: float) -> float:
    """How much the rest changes, from frame to frame and over longer; a jump counts but little."""
    off = motion.angle_deg - np.interp(motion.t_s - delay_s, t_s, command_deg)
    used = motion.angle_deg > AT_STOP_DEG
    frame_s = float(np.median(np.diff(motion.t_s)))
    cost = 0.0
    for over_s in _CHANGES_S:
        stride = max(1, round(over_s / frame_s))
        change = np.abs(off[stride:] - off[:-stride])
        change /= np.hypot(motion.u_deg[stride:], motion.u_deg[:-stride])
        both = used[stride:] & used[:-stride]
        cost += float(np.sum(np.minimum(change, 10.0)[both]))
    return cost


def absences(motion: Motion, beside: Followed) -> list[Absence]:
    """Find where the needle left its level and where it found one again.

    Parameters
    ----------
    motion
        Its way.
    beside
        The command laid beside it.

    Returns
    -------
    list[Absence]
        In time order. One that ends on the lower stop or with the video is left out: where its
        level would have been is not seen.
    """
    found: list[Absence] = []
    frame = 0
    level: tuple[float, float] | None = None
    while frame < len(motion.t_s):
        if not beside.usable[frame]:
            level, frame = None, frame + 1
            continue
        if level is None:
            level = _level_from(motion, beside, frame)
            frame += 1 if level is None else _LEVEL_FRAMES
            continue
        if _stays(beside, frame, level[0]):
            level = _level_to(beside, frame, level)
            frame += 1
            continue
        end = frame + 1
        new = _level_after(motion, beside, frame, end - 1)
        while new is None and end < len(motion.t_s) and beside.usable[end]:
            end += 1
            new = _level_after(motion, beside, frame, end - 1)
        if new is None:
            level, frame = None, end
            continue
        last = end - 2
        inside = beside.off_deg[frame : max(last + 1, frame + 1)] - level[0]
        found.append(
            Absence(
                frame,
                max(last, frame - 1),
                level[0],
                new[0],
                float(np.hypot(level[1], new[1])),
                float(inside[np.argmax(np.abs(inside))]),
            )
        )
        level, frame = new, end - 1 + _LEVEL_FRAMES
    return found


def _stays(beside: Followed, frame: int, level_deg: float) -> bool:
    limit = max(_LEAVES_DEG, _LEAVES * float(beside.u_off_deg[frame]))
    return abs(float(beside.off_deg[frame]) - level_deg) <= limit


def _level_after(
    motion: Motion, beside: Followed, first: int, frame: int
) -> tuple[float, float] | None:
    """Level of the next few frames of a needle that left its level in frame `first`.

    A needle that has stood ever since has none, although its command may rest too by now.
    """
    level = _level_from(motion, beside, frame)
    if level is None:
        return None
    since = slice(max(0, first - 1), frame + _LEVEL_FRAMES)
    still = max(_LEAVES_DEG, _LEAVES * float(np.median(motion.u_deg[since])))
    stood = float(np.ptp(motion.angle_deg[since])) < still
    went_on = float(np.ptp(beside.command_deg[since])) > 2 * still
    return None if stood and went_on else level


def _level_from(motion: Motion, beside: Followed, frame: int) -> tuple[float, float] | None:
    """Level of the next few frames and its uncertainty, if they are level."""
    stop = frame
    while stop < len(motion.t_s) and beside.usable[stop] and (
        stop - frame < _LEVEL_FRAMES or motion.t_s[stop] - motion.t_s[frame] < _LEVEL_S
    ):  # fmt: skip
        stop += 1
    if stop - frame < _LEVEL_FRAMES:
        return None
    off, u = beside.off_deg[frame:stop], beside.u_off_deg[frame:stop]
    level = float(np.sum(off / u**2) / np.sum(1 / u**2))
    if np.any(np.abs(off - level) > np.maximum(_LEAVES_DEG, _LEAVES * u)):
        return None
    rise = float(np.polyfit(motion.t_s[frame:stop], off, 1)[0])
    drift = abs(rise) * float(motion.t_s[stop - 1] - motion.t_s[frame])
    if drift > max(_LEAVES_DEG, _LEAVES * float(np.median(u))):
        return None
    return level, float(np.sum(1 / u**2) ** -0.5)


def _level_to(beside: Followed, frame: int, level: tuple[float, float]) -> tuple[float, float]:
    """Let the level follow slowly what the frames say."""
    share = 0.15
    moved = level[0] + share * (float(beside.off_deg[frame]) - level[0])
    return moved, max(level[1], float(beside.u_off_deg[frame]) * share**0.5)
