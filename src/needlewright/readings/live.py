"""A live picture: every frame read, every needle watched until it stands, and then taken.

Each frame is followed as a video's are (0016), and now and then read as a photo is (`live_check`).
What is taken comes from the photo reader alone, from several frames of the time the needles stood
(`live_taking`), so that it is worth what any other photo's reading is worth.
"""

from collections import deque
from collections.abc import Collection
from dataclasses import dataclass
from math import hypot
from typing import Final

import numpy as np

from needlewright.errors import PictureError
from needlewright.families.model import Dial, Family
from needlewright.readings.followed_dial import NeedleSeen
from needlewright.readings.following import Follower
from needlewright.readings.frame import Pixels, frame_of_colours
from needlewright.readings.live_check import SecondOpinion
from needlewright.readings.live_taking import KeptFrame, TakenFrames, combine
from needlewright.readings.picture import picture_from_array
from needlewright.readings.reader import value_shown
from needlewright.readings.steady import HOLD_S, Standing, State, StillWatch
from needlewright.rules.decision import COVERAGE_K

FRAMES_TAKEN: Final = 5
"""Frames of the time a needle stood that are read as photos when it is taken."""
FEWEST_TAKEN: Final = 3
SHAKEN_PX: Final = 4.0
"""A picture that moves further from one frame to the next is not one of a camera that stands."""
ON_SCALE: Final = frozenset({"off_scale", "beyond_scale"})
"""Flags that go with the direction and not with the picture."""
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class LiveDial:
    """One needle in one frame."""

    dial: str
    unit: str
    state: State
    still_s: float = 0.0
    """How long it has stood."""
    angle_deg: float | None = None
    u_angle_deg: float | None = None
    """Standard uncertainty of this frame's direction, with what is common to all frames."""
    value: float | None = None
    u_value: float | None = None
    flags: tuple[str, ...] = ()
    reason: str | None = None
    """Why there is no angle, or why it cannot be taken; one of `readings.flags.REASONS`."""
    line_px: tuple[Point, Point] | None = None
    wheel_px: tuple[Point, ...] | None = None
    """Where its tip would stand at 0, 90, 180 and 270 degrees."""


@dataclass(frozen=True, slots=True)
class LiveLook:
    """One frame, read."""

    t_s: float
    found: bool
    reason: str | None
    """Why the face was not found, one of `readings.flags.PHOTO_REASONS`."""
    dials: tuple[LiveDial, ...]
    """In the family's order; empty where the face was not found."""
    shaken: bool = False
    """Whether the picture moves too much for anything to stand in it."""


class LiveReader:
    """Reads a live picture of one family.

    Parameters
    ----------
    family
        The cluster design.
    hold_s
        How long needles must stand before they are taken, seconds.

    Raises
    ------
    FamilyError
        If the face's picture cannot be used.
    """

    def __init__(self, family: Family, hold_s: float = HOLD_S) -> None:
        self.family, self.hold_s = family, hold_s
        self._follower, self._second = Follower(family), SecondOpinion(family)
        self._watches = {dial.id: StillWatch(hold_s) for dial in family.dials}
        self._standing: dict[str, Standing] = {}
        self._states: dict[str, State] = {}
        self._last_s = -np.inf
        self._kept: deque[KeptFrame] = deque(maxlen=2 * FRAMES_TAKEN + 1)

    def look(self, pixels: Pixels, t_s: float, file: bytes | None = None) -> LiveLook:
        """Read one frame.

        Parameters
        ----------
        pixels
            Height x width x 3, blue, green, red.
        t_s
            When it was taken, seconds; later than the frame before.
        file
            The picture's file, where it came as one; it is what is kept when it is taken.

        Returns
        -------
        LiveLook
            Every needle, or why the face was not found.

        Raises
        ------
        PictureError
            If it is no colour picture, or not later than the frame before.
        """
        if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.dtype != np.uint8:
            raise PictureError(
                "live picture: the camera sends no colour pictures; choose another camera"
            )
        if not t_s > self._last_s:
            raise PictureError(
                "live picture: a frame came that is not later than the one before; start the "
                "picture again"
            )
        self._last_s = t_s
        if self._kept and self._kept[-1].pixels.shape != pixels.shape:
            self._begin_anew()
        seen = self._follower.look(frame_of_colours(pixels), t_s)
        if not seen.found:
            self._begin_anew()
            return LiveLook(t_s, False, seen.reason, ())
        shaken = (seen.moved_px or 0.0) > SHAKEN_PX
        for needle in seen.needles:
            self._watch(needle, t_s, shaken=shaken)
        if self._is_check_due(t_s):
            self._second.look(pixels, seen)
        if not self._kept or t_s - self._kept[-1].t_s >= self.hold_s / FRAMES_TAKEN:
            self._kept.append(KeptFrame(t_s, pixels, file))
        dials = tuple(
            self._dial(dial, needle)
            for dial, needle in zip(self.family.dials, seen.needles, strict=True)
        )
        self._states = {one.dial: one.state for one in dials}
        return LiveLook(t_s, True, None, dials, shaken)

    def take(self, dials: Collection[str], name: str = "") -> TakenFrames:
        """Read the frames in which needles stood as photos, and average them.

        Parameters
        ----------
        dials
            Ids of the dials that were told something: none of them may move, one at least must
            stand. Those not seen come out refused, as in a photo.
        name
            What the photo is called.

        Returns
        -------
        TakenFrames
            The frame to keep, and what all of them say.

        Raises
        ------
        PictureError
            If a needle moves, none stands, or the face is not in the picture.
        """
        since = self._since(dials)
        frames = [frame for frame in self._kept if frame.t_s >= since][-FRAMES_TAKEN:]
        if len(frames) < FEWEST_TAKEN:
            raise PictureError(
                "live picture: too few frames came while the needles stood; wait a moment, and "
                "use a quicker camera if it happens again"
            )
        read = self._second.reader.read_picture
        photos = [read(picture_from_array(frame.pixels), name) for frame in frames]
        standing = [dial for dial, one in self._standing.items() if one.state == "steady"]
        means = {dial: self._watches[dial].mean() for dial in standing}
        taken = combine(self.family, frames, photos, means)
        for watch in self._watches.values():
            watch.forget()
        self._standing, self._states = {}, {}
        return taken

    def _since(self, dials: Collection[str]) -> float:
        """Since when all these needles stand."""
        if not self._kept:
            raise PictureError(
                "live picture: the face is not in the picture; hold the camera on the cluster"
            )
        since: list[float] = []
        for dial in dials:
            state = self._states.get(dial, "settling")
            if state in ("moving", "settling"):
                raise PictureError(
                    f"live picture, dial '{dial}': has not stood still for {self.hold_s:g} s; wait "
                    "until it stands, then take it"
                )
            since_s = self._standing[dial].since_s
            if state == "steady" and since_s is not None:
                since.append(since_s)
        if not since:
            raise PictureError(
                "live picture: no needle of this step is read; look at what stands beside each "
                "dial, or take a photo instead"
            )
        return max(since)

    def _watch(self, needle: NeedleSeen, t_s: float, *, shaken: bool) -> None:
        angle = None if shaken else needle.angle_deg
        dial = self.family.dial(needle.dial)
        if angle is not None and dial is not None:
            angle = dial.scale.on_branch(angle)
        standing = self._watches[needle.dial].look(t_s, angle, needle.u_apart_deg or 0.0)
        if shaken and needle.angle_deg is not None:
            standing = Standing("moving")
        self._standing[needle.dial] = standing

    def _is_check_due(self, t_s: float) -> bool:
        """Whether this frame is read as a photo too: not while all that is seen is confirmed."""
        seen = {d: one for d, one in self._standing.items() if one.state != "unseen"}
        open_ones = [one for d, one in seen.items() if not self._is_confirmed(d, one)]
        wanted = any(one.state == "steady" and not self._is_checked(one) for one in open_ones)
        if seen and not open_ones:
            return False
        return self._second.is_due(t_s, wanted=wanted)

    def _is_checked(self, standing: Standing) -> bool:
        """Whether a frame was read as a photo since a needle stands."""
        return standing.since_s is not None and self._second.at_s >= standing.since_s

    def _is_confirmed(self, dial: str, standing: Standing) -> bool:
        return self._is_checked(standing) and self._second.opinion(dial) == "agrees"

    def _dial(self, dial: Dial, needle: NeedleSeen) -> LiveDial:
        name, standing = dial.id, self._standing[dial.id]
        if needle.angle_deg is None or needle.u_angle_deg is None:
            return LiveDial(name, dial.unit, "unseen", reason=needle.reason or "needle_missing")
        if self._second.opinion(name) == "differs":
            return LiveDial(name, dial.unit, "unseen", reason="estimators_disagree")
        state, reason = standing.state, None
        if state == "steady" and not self._is_confirmed(name, standing):
            state, reason = "settling", self._second.reason(name)
            if reason is not None and self._is_checked(standing):  # it will be stored as not read
                return LiveDial(name, dial.unit, "unseen", reason=reason)
        angle = dial.scale.on_branch(needle.angle_deg)
        u_angle = hypot(needle.u_angle_deg, self._second.common_deg(name))
        value, u_value = value_shown(dial, angle, u_angle, self.family.eccentricity_mm)
        return LiveDial(
            name,
            dial.unit,
            state,
            standing.still_s,
            angle,
            u_angle,
            value,
            u_value,
            self._flags(dial, angle, u_angle),
            reason,
            needle.line_px,
            needle.wheel_px,
        )

    def _flags(self, dial: Dial, angle_deg: float, u_deg: float) -> tuple[str, ...]:
        """What the photo reader remarked, and where on the scale the needle is now."""
        flags = [flag for flag in self._second.flags(dial.id) if flag not in ON_SCALE]
        low, high = sorted((dial.scale.angles_deg[0], dial.scale.angles_deg[-1]))
        if not dial.scale.reaches_angle(angle_deg):
            flags.append("beyond_scale")
        elif max(low - angle_deg, angle_deg - high) > COVERAGE_K * u_deg:
            flags.append("off_scale")
        return tuple(flags)

    def _begin_anew(self) -> None:
        """Forget what stood; another picture may show another cluster."""
        for watch in self._watches.values():
            watch.forget()
        self._standing, self._states = {}, {}
        self._kept.clear()
        self._second.forget()
