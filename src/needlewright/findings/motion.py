"""A needle's way through a video, as events are looked for in it: seen frames only, evenly noisy.

What a track states as uncertainty from frame to frame may be too small for the video in hand. So
every seen frame is held against a cubic through its four neighbours, and the stated uncertainties
are widened until the middle half of these differences is what it should be.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.readings.track import DialTrack

FloatArray = NDArray[np.float64]

_LEAST_U_DEG: Final = 0.02
"""No direction from a frame is known better from one frame to the next: a microstep's rounding."""
_CLOCK_S: Final = 0.0003
"""Presentation times are often whole milliseconds: 1 ms over the root of 12."""
_FRAME_S: Final = 1 / 70
"""Faster videos are averaged to about 60 frames a second."""
_LEAST_HARD_DEG_S2: Final = 400.0
"""Any movement can accelerate so (common practice, no source)."""
_ROOM: Final = 1.5
_SURE: Final = 3.0
STRIDE_S: Final = 0.032
"""Accelerations are taken over at least this."""
_STILL_DEG: Final = 0.5
_AT_STOP_DEG: Final = 3.0
"""A needle that falls and is this near to its lower stop is stopped by it, not by the motor."""
_NORMAL_MAD: Final = 1.4826
"""Standard deviation of a normal variable over its median absolute value."""


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """Angles in degrees above the lower stop, rising with the value; seen frames only."""

    dial: Dial
    t_s: FloatArray
    angle_deg: FloatArray
    u_deg: FloatArray
    """Standard uncertainty from frame to frame."""

    def clockwise(self, angle_deg: float) -> float:
        """An angle above the lower stop as degrees clockwise from 12 o'clock."""
        return self.dial.stop_angle_deg + self.dial.scale.sense * angle_deg

    @property
    def top_deg(self) -> float:
        """The scale's last mark, degrees above the lower stop."""
        last = self.dial.scale.angles_deg[-1] - self.dial.stop_angle_deg
        return self.dial.scale.sense * last


def motion_of(track: DialTrack, dial: Dial) -> Motion:
    """Make a track ready for looking for events.

    Parameters
    ----------
    track
        The needle through the video.
    dial
        The dial it belongs to.

    Returns
    -------
    Motion
        Fewer frames than the track has where the needle was not seen, or the video is fast.
    """
    seen = track.seen
    t_s = track.t_s[seen]
    above = dial.scale.sense * (track.angle_deg[seen] - dial.stop_angle_deg)
    u_deg = np.maximum(track.u_apart_deg[seen], _LEAST_U_DEG)
    if len(t_s) > 2 and float(np.median(np.diff(t_s))) < _FRAME_S:
        t_s, above, u_deg = _averaged(t_s, above, u_deg)
    if len(t_s) > 1:
        u_deg = np.hypot(u_deg, _CLOCK_S * np.gradient(above, t_s))
    return Motion(dial, t_s, above, u_deg * widening(t_s, above, u_deg))


def _averaged(
    t_s: FloatArray, angle_deg: FloatArray, u_deg: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Means over sixtieths of a second."""
    cell = np.floor((t_s - t_s[0]) * 60.0 + 1e-6).astype(np.int64)
    _, cell = np.unique(cell, return_inverse=True)
    count = np.bincount(cell)
    return (
        np.bincount(cell, t_s) / count,
        np.bincount(cell, angle_deg) / count,
        np.maximum(np.sqrt(np.bincount(cell, u_deg**2)) / count, _LEAST_U_DEG),
    )


def widening(t_s: FloatArray, angle_deg: FloatArray, u_deg: FloatArray) -> float:
    """Factor, at least 1, by which frames scatter more than they state.

    Parameters
    ----------
    t_s
        Times.
    angle_deg
        Angles.
    u_deg
        Stated standard uncertainties.

    Returns
    -------
    float
        From the median of |difference to a cubic through four neighbours| over its uncertainty.
    """
    if len(t_s) < 8:
        return 1.0
    near = np.arange(2, len(t_s) - 2)
    at = np.stack([near - 2, near - 1, near + 1, near + 2])
    share = np.ones((4, len(near)))
    for i in range(4):
        for j in range(4):
            if i != j:
                share[i] *= (t_s[near] - t_s[at[j]]) / (t_s[at[i]] - t_s[at[j]])
    off = angle_deg[near] - np.sum(share * angle_deg[at], axis=0)
    expected = np.sqrt(u_deg[near] ** 2 + np.sum((share * u_deg[at]) ** 2, axis=0))
    return max(1.0, _NORMAL_MAD * float(np.median(np.abs(off / expected))))


def changes_deg_s2(motion: Motion) -> tuple[FloatArray, FloatArray, int]:
    """Change of rate at each frame, over at least a thirtieth of a second on either side.

    Parameters
    ----------
    motion
        The needle's way, of at least three frames.

    Returns
    -------
    tuple[FloatArray, FloatArray, int]
        |acceleration| seen at each frame but the first and last few, its standard uncertainty, and
        how many frames those few are.
    """
    t_s, angle_deg, u_deg = motion.t_s, motion.angle_deg, motion.u_deg
    stride = max(1, round(STRIDE_S / float(np.median(np.diff(t_s)))))
    stride = min(stride, (len(t_s) - 1) // 2)
    left, mid, right = slice(0, -2 * stride), slice(stride, -stride), slice(2 * stride, None)
    before, after = t_s[mid] - t_s[left], t_s[right] - t_s[mid]
    rates = (angle_deg[mid] - angle_deg[left]) / before, (angle_deg[right] - angle_deg[mid]) / after
    span = 0.5 * (before + after)
    u = np.sqrt(
        (u_deg[left] / before) ** 2
        + (u_deg[mid] * (1 / before + 1 / after)) ** 2
        + (u_deg[right] / after) ** 2
    )
    return np.abs(rates[1] - rates[0]) / span, u / span, stride


def hardest_deg_s2(motion: Motion, doubtful: NDArray[np.bool_], surely: bool = True) -> float:
    """How hard this movement is seen to accelerate: what it may be believed to do elsewhere.

    Parameters
    ----------
    motion
        The needle's way.
    doubtful
        For each gap between neighbouring frames, whether something else may have happened there.
    surely
        Only what noise cannot have made of it, or all of it.

    Returns
    -------
    float
        Degrees per second squared, with room for what the frames average away; at least
        `_LEAST_HARD_DEG_S2`.
    """
    if len(motion.t_s) < 3:
        return _LEAST_HARD_DEG_S2
    hard, u, stride = changes_deg_s2(motion)
    wide = np.convolve(doubtful, np.ones(2 * stride + 5), mode="same") > 0.5
    near = slice(stride - 1, len(wide) - stride)
    angle_deg = motion.angle_deg[stride:-stride]
    falls = motion.angle_deg[: -2 * stride] - angle_deg > _STILL_DEG
    usable = ~(wide[near] | wide[near.start + 1 : near.stop + 1][: len(hard)])
    usable &= ~(falls & (angle_deg < _AT_STOP_DEG)) & (hard > _SURE * u)
    seen = float(np.max(hard - _SURE * u if surely else hard, initial=0.0, where=usable))
    return max(_LEAST_HARD_DEG_S2, _ROOM * seen)
