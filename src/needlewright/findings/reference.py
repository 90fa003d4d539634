"""A command nobody wrote down, taken from the other needles of the same sweep.

Many clusters move all their needles together when they test themselves. Where another needle's way,
stretched, is this needle's way, frame by frame and but for a few, it says where this one should be.
Where the needles go their own ways nothing is concluded.
"""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.findings.motion import Motion, motion_of
from needlewright.readings.track import DialTrack

FloatArray = NDArray[np.float64]

_ALIKE: Final = 3.0
_LEAST_FRAMES: Final = 12
_LEAST_DEG: Final = 15.0
_LEAST_OTHERS: Final = 2
_MOST_STRETCH: Final = 4.0
"""A short way stretched further than this brings more noise than knowledge."""


def commands_from_others(
    tracks: Mapping[str, DialTrack], dials: Mapping[str, Dial]
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """For each needle that goes with others, where they say it should be.

    Parameters
    ----------
    tracks
        All needles of one video, by dial.
    dials
        Their dials.

    Returns
    -------
    dict[str, tuple[FloatArray, FloatArray]]
        Times, and angles in degrees clockwise from 12 o'clock; without those dials fewer than two
        others go with: of two that differ nobody knows which is wrong.
    """
    motions = {name: motion_of(track, dials[name]) for name, track in tracks.items()}
    found = {}
    for name, motion in motions.items():
        said = [
            angles
            for other, its in motions.items()
            if other != name and (angles := _stretched(motion, its)) is not None
        ]
        if len(said) >= _LEAST_OTHERS:
            above = np.median(np.stack(said), axis=0)
            dial = dials[name]
            found[name] = motion.t_s, dial.stop_angle_deg + dial.scale.sense * above
    return found


def _stretched(motion: Motion, other: Motion) -> FloatArray | None:
    """Another needle's way as this one's command, or None where it is none."""
    if min(len(motion.t_s), len(other.t_s)) < _LEAST_FRAMES:
        return None
    theirs = np.interp(motion.t_s, other.t_s, other.angle_deg)
    u_theirs = float(np.median(other.u_deg))
    ours, change = np.diff(motion.angle_deg), np.diff(theirs)
    moved = np.abs(change) > _ALIKE * u_theirs
    if np.sum(moved) < _LEAST_FRAMES or min(np.ptp(theirs), np.ptp(motion.angle_deg)) < _LEAST_DEG:
        return None
    stretch = _weighted_median(ours[moved] / change[moved], np.abs(change[moved]))
    if not 0.0 < stretch < _MOST_STRETCH:
        return None
    noise = np.hypot(float(np.median(motion.u_deg)), stretch * u_theirs) * np.sqrt(2.0)
    if float(np.median(np.abs(ours - stretch * change)[moved])) > noise:
        return None
    moved_to = stretch * theirs
    return np.asarray(moved_to + np.median((motion.angle_deg - moved_to)[:_LEAST_FRAMES]))


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    sums = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(sums, 0.5 * sums[-1])])
