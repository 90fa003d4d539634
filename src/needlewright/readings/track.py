"""What following a cluster through a video leaves: an angle per dial and frame, or a reason."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

SPEED_HALF_S: Final = 0.05
GAP_S: Final = 0.5
"""No speed is given across a gap this long."""


@dataclass(frozen=True, slots=True)
class DialTrack:
    """One needle through a video: one entry per frame in every field.

    Parameters
    ----------
    dial
        The dial's id in its family.
    t_s
        Presentation times, seconds, rising; not evenly spaced in general.
    angle_deg
        Direction of the needle, degrees clockwise from 12 o'clock on the scale's own branch; NaN
        exactly where `seen` is false.
    u_angle_deg
        Its standard uncertainty (k = 1), all that is known to contribute; NaN where not seen.
    u_apart_deg
        The part of it that differs from one frame to the next, which is what a sudden change
        within a few frames is judged against; NaN where not seen.
    seen
        Whether the needle was read in the frame.
    reasons
        Why it was not, one of `readings.flags.REASONS` or `readings.flags.PHOTO_REASONS`; None
        where it was.
    """

    dial: str
    t_s: FloatArray
    angle_deg: FloatArray
    u_angle_deg: FloatArray
    u_apart_deg: FloatArray
    seen: BoolArray
    reasons: tuple[str | None, ...]

    def __post_init__(self) -> None:
        fields = (self.angle_deg, self.u_angle_deg, self.u_apart_deg, self.seen)
        if any(field.shape != self.t_s.shape for field in fields) or self.t_s.ndim != 1:
            raise ValueError(f"{self.dial}: a track has one entry per frame in every field")
        if len(self.reasons) != len(self.t_s):
            raise ValueError(f"{self.dial}: a track has one reason, or None, per frame")
        if np.any(np.diff(self.t_s) <= 0):
            raise ValueError(f"{self.dial}: presentation times must rise")
        for field in fields[:3]:
            if not np.array_equal(np.isfinite(field), self.seen):
                raise ValueError(f"{self.dial}: numbers exactly where the needle was seen")

    @property
    def share_seen(self) -> float:
        """Share of the frames the needle was read in."""
        return float(np.mean(self.seen)) if len(self.seen) else 0.0

    def speeds_deg_s(self) -> FloatArray:
        """Speed of the needle for a drawing: slope over about a tenth of a second, NaN if unseen.

        Smoothed, so nothing is judged by it.
        """
        speeds = np.full(len(self.t_s), np.nan)
        t_s, angle = self.t_s[self.seen], self.angle_deg[self.seen]
        firsts = np.searchsorted(t_s, t_s - SPEED_HALF_S, "left")
        lasts = np.searchsorted(t_s, t_s + SPEED_HALF_S, "right")
        found = np.full(len(t_s), np.nan)
        for i in range(len(t_s)):
            few = slice(min(firsts[i], max(i - 1, 0)), max(lasts[i], min(i + 2, len(t_s))))
            near = t_s[few] - t_s[few].mean()
            if len(near) >= 2 and near[-1] - near[0] < GAP_S:
                found[i] = near @ angle[few] / (near @ near)
        speeds[self.seen] = found
        return speeds


@dataclass(frozen=True, slots=True)
class Track:
    """Every needle of a cluster through a video.

    Parameters
    ----------
    family
        Name of the cluster's family.
    dials
        By dial id, in the family's order; all with the same times.
    size_px
        Width and height of the frames as they are looked at, after any stated rotation.
    """

    family: str
    dials: Mapping[str, DialTrack]
    size_px: tuple[int, int]

    def __post_init__(self) -> None:
        times = [dial.t_s for dial in self.dials.values()]
        if any(not np.array_equal(times[0], other) for other in times[1:]):
            raise ValueError("the dials of a track are seen at the same times")

    @property
    def t_s(self) -> FloatArray:
        """Presentation times of the frames, seconds."""
        return next(iter(self.dials.values())).t_s

    @property
    def frames(self) -> int:
        """How many frames were looked at."""
        return len(self.t_s)


def track_of_angles(
    dial: str, t_s: FloatArray, angle_deg: FloatArray, u_deg: float, u_apart_deg: float
) -> DialTrack:
    """A track of known angles with one uncertainty throughout; NaN is a needle not seen.

    Parameters
    ----------
    dial
        The dial's id.
    t_s
        Times, seconds, rising.
    angle_deg
        Angles, degrees; NaN where the needle is not seen.
    u_deg
        Standard uncertainty of every angle.
    u_apart_deg
        The part of it that differs from frame to frame.

    Returns
    -------
    DialTrack
        With the reason `needle_missing` where there is no angle.
    """
    seen = np.isfinite(angle_deg)
    return DialTrack(
        dial,
        np.asarray(t_s, np.float64),
        np.where(seen, angle_deg, np.nan),
        np.where(seen, u_deg, np.nan),
        np.where(seen, u_apart_deg, np.nan),
        seen,
        tuple(None if s else "needle_missing" for s in seen),
    )
