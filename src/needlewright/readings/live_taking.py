"""Frames of needles that stand, made into one reading each.

What the photo reader finds in each frame is averaged. Its components other than the fit are common
to the frames: the camera stood, the print and the needle are the same. Of the fit, what is seen to
differ between frames falls with their number; the rest stays, for the same pixels err alike.

Source: JCGM 100:2008, 4.2.3 and 5.2.2 (fully correlated inputs do not average out).
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot
from typing import Final

import numpy as np

from needlewright.families.model import Family
from needlewright.readings.frame import Pixels
from needlewright.readings.live_check import DIFFER_DEG, DIFFER_SIGMAS
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.reader import value_shown
from needlewright.readings.steady import Mean
from needlewright.readings.uncertainty import combined_deg

FIT: Final = "fit"
MOVEMENT: Final = "movement"
"""Name of the component that holds what the needle may have moved while it was taken."""


@dataclass(frozen=True, slots=True, eq=False)
class KeptFrame:
    """A frame of a live picture."""

    t_s: float
    pixels: Pixels
    """Blue, green, red."""
    file: bytes | None
    """As the camera sent it; None where it came as pixels."""


@dataclass(frozen=True, slots=True, eq=False)
class TakenFrames:
    """What was taken: the frame to keep as the photo, and the readings of all frames."""

    frame: KeptFrame
    photo: PhotoReadings
    frames: int
    """How many were read."""


def combine(
    family: Family,
    frames: Sequence[KeptFrame],
    photos: Sequence[PhotoReadings],
    means: Mapping[str, Mean],
) -> TakenFrames:
    """Average what the photo reader found in frames of needles that stand.

    Parameters
    ----------
    family
        The cluster design.
    frames
        The frames, in order of time.
    photos
        What was read in each.
    means
        What the follower says of each needle over the same time.

    Returns
    -------
    TakenFrames
        The last frame in which the face was found is the one to keep.
    """
    found = [i for i, photo in enumerate(photos) if photo.found]
    if not found:
        return TakenFrames(frames[-1], photos[-1], len(frames))
    kept = photos[found[-1]]
    readings = tuple(
        _averaged(family, last, [photos[i].readings[n] for i in found], means.get(last.dial))
        for n, last in enumerate(kept.readings)
    )
    return TakenFrames(frames[found[-1]], replace(kept, readings=readings), len(found))


def _averaged(
    family: Family, last: Reading, all_of_it: Sequence[Reading], follower: Mean | None
) -> Reading:
    """One needle: the mean where most frames show it, else why they do not."""
    read = [one for one in all_of_it if one.angle_deg is not None]
    if last.angle_deg is None or 2 * len(read) <= len(all_of_it):
        reasons = Counter(one.reason for one in all_of_it if one.reason is not None)
        return _refused(last, last.reason or reasons.most_common(1)[0][0])
    angles = np.array([one.angle_deg for one in read], np.float64)
    angle, apart = float(angles.mean()), float(angles.std(ddof=1)) if len(read) > 1 else 0.0
    parts = _parts(read, apart, follower)
    u_angle = combined_deg(parts)
    if follower is not None:
        differ = abs(follower.angle_deg - angle)
        if differ > DIFFER_DEG + DIFFER_SIGMAS * hypot(u_angle, follower.u_apart_deg):
            return _refused(last, "estimators_disagree")
    dial = family.dial(last.dial)
    if dial is None:
        raise ValueError(f"family {family.name} has no dial '{last.dial}'")
    value, u_value = value_shown(dial, angle, u_angle, family.eccentricity_mm)
    flags = tuple(dict.fromkeys(flag for one in (last, *read) for flag in one.flags))
    return replace(
        last,
        angle_deg=angle,
        u_angle_deg=u_angle,
        value=value,
        u_value=u_value,
        flags=flags,
        components_deg=parts,
    )


def _parts(
    read: Sequence[Reading], apart: float, follower: Mean | None
) -> tuple[tuple[str, float], ...]:
    """Components of the mean: common ones whole, of the fit what does not average out."""
    n = len(read)
    every = [dict(one.components_deg) for one in read]
    names = dict.fromkeys(name for parts in every for name in parts)
    by_name = {name: _rms([parts.get(name, 0.0) for parts in every]) for name in names}
    fit = by_name.get(FIT, 0.0)
    left = max(fit**2 - apart**2, 0.0) + apart**2 / n
    parts = {**by_name, FIT: float(np.sqrt(left))}
    if follower is not None:
        parts[MOVEMENT] = follower.u_movement_deg
    return tuple(parts.items())


def _rms(values: Sequence[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def _refused(last: Reading, reason: str) -> Reading:
    return Reading(last.dial, "refused", last.unit, reason)
