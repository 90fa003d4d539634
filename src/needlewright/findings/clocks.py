"""The clock of a command against the clock of a video: how far to move the one onto the other.

Whoever tells the needles where to go begins at another moment than the camera. Where the needles
move as they were told, the speeds of command and needles are alike at one distance in time and at
no other: the cross-correlation of the two has its peak there. What is left, a needle's own delay,
is found dial by dial when events are looked for.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.track import DialTrack

FloatArray = NDArray[np.float64]

_TICK_S: Final = 0.02
_SMOOTHED_S: Final = 0.1
_MOVED_DEG: Final = 3.0
"""A needle that moved by less says nothing."""
_APART_S: Final = 0.5
"""A second place at which they are alike is at least so far away."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Where a command lies in a video.

    Parameters
    ----------
    offset_s
        The video's time less the command's.
    likeness
        Of the speeds there, 1 for the same.
    other_s, other_likeness
        The next best offset and its likeness; the likeness is 0 where there is none.
    """

    offset_s: float
    likeness: float
    other_s: float
    other_likeness: float


def clock_of(
    tracks: Mapping[str, DialTrack], commands: Mapping[str, tuple[FloatArray, FloatArray]]
) -> Clock | None:
    """Find where a command lies in a video.

    Parameters
    ----------
    tracks
        The needles, by dial.
    commands
        Times, seconds, and angles, degrees, by dial; of some or all of the dials.

    Returns
    -------
    Clock | None
        None where no needle that was told anything moved, or none was told to move.
    """
    pairs = [
        (tracks[name], command)
        for name, command in commands.items()
        if _moved(tracks[name].angle_deg[tracks[name].seen]) and _moved(command[1])
    ]
    if not pairs:
        return None
    begins_s = min(float(command[0][0]) for _, command in pairs)
    ends_s = max(float(command[0][-1]) for _, command in pairs)
    told_s = np.arange(begins_s - _SMOOTHED_S, ends_s + _SMOOTHED_S + _TICK_S, _TICK_S)
    seen_s = np.arange(0.0, float(pairs[0][0].t_s[-1]) + _TICK_S, _TICK_S)
    together = np.zeros(len(told_s) + len(seen_s) - 1)
    told2 = seen2 = 0.0
    for track, (at_s, angle_deg) in pairs:
        told = _speeds(told_s, at_s, angle_deg)
        seen = _speeds(seen_s, track.t_s[track.seen], track.angle_deg[track.seen])
        scale = 1 / max(float(told @ told), 1e-12)  # a short scale counts like a long one
        together += scale * np.correlate(seen, told, mode="full")
        told2 += scale * float(told @ told)
        seen2 += scale * float(seen @ seen)
    alike = together / np.sqrt(told2 * seen2)
    offsets_s = (np.arange(len(alike)) - (len(told_s) - 1)) * _TICK_S - told_s[0]
    best = int(np.argmax(alike))
    elsewhere = np.where(abs(offsets_s - offsets_s[best]) > _APART_S, alike, 0.0)
    other = int(np.argmax(elsewhere))
    offset_s = float(offsets_s[best]) + _TICK_S * _beside(alike, best)
    return Clock(
        offset_s, float(alike[best]), float(offsets_s[other]), max(0.0, float(elsewhere[other]))
    )


def _moved(angle_deg: FloatArray) -> bool:
    return len(angle_deg) > 1 and float(np.ptp(angle_deg)) > _MOVED_DEG


def _speeds(grid_s: FloatArray, t_s: FloatArray, angle_deg: FloatArray) -> FloatArray:
    """Speed over about a tenth of a second at even times."""
    before = np.interp(grid_s - _SMOOTHED_S / 2, t_s, angle_deg)
    after = np.interp(grid_s + _SMOOTHED_S / 2, t_s, angle_deg)
    return np.asarray((after - before) / _SMOOTHED_S)


def _beside(alike: FloatArray, best: int) -> float:
    """Place of a peak between its neighbours, in ticks from the highest of them."""
    if not 0 < best < len(alike) - 1:
        return 0.0
    low, mid, high = alike[best - 1 : best + 2]
    bow = low - 2 * mid + high
    return float(0.5 * (low - high) / bow) if bow < 0 else 0.0
