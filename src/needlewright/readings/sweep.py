"""A video to a track: the first minute looked over to learn from, then every frame read."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final

import numpy as np

from needlewright.errors import PictureError
from needlewright.families.model import Family
from needlewright.readings.flags import PHOTO_REASONS
from needlewright.readings.following import Follower, FrameReadings
from needlewright.readings.track import DialTrack, Track
from needlewright.readings.video import Video

LEARN_S: Final = 60.0
"""Ground, light and needles are learned from so much of the video's beginning."""
LEARN_FRAMES: Final = 80
"""Frames of it that are looked at."""
GIVE_UP_S: Final = 60.0
"""A face not found in so much of a video will not be."""

Progress = Callable[[int, int], None]


def follow_video(
    family: Family, path: Path, on_progress: Progress | None = None
) -> tuple[Track, str | None]:
    """Follow every needle of a cluster through a video.

    Parameters
    ----------
    family
        The cluster design.
    path
        The video file.
    on_progress
        Called with the frames read so far and of all, which may be an estimate.

    Returns
    -------
    tuple[Track, str | None]
        The track; and a sentence where the file turned out to be damaged and ends early.

    Raises
    ------
    PictureError
        If the file holds no frame that can be decoded or only one, or the family's face is in
        none.
    FamilyError
        If the face's picture cannot be used.
    """
    follower = Follower(family)
    learn(follower, path)
    with Video(path) as video:
        about = video.about_frames
        readings: list[FrameReadings] = []
        size = (0, 0)
        for timed in video.ahead():
            readings.append(follower.look(timed.frame, timed.t_s))
            height, width = timed.frame.light.shape
            size = (width, height)
            _give_up(readings, timed.t_s, family, video.name)
            if on_progress is not None:
                on_progress(len(readings), max(about, len(readings)))
        if len(readings) == 1 and video.damaged is None:
            raise PictureError(
                f"{video.name}: is a single picture, in which nothing moves; read it with "
                "`needlewright read`, or name a video"
            )
        _give_up(readings, GIVE_UP_S, family, video.name)
        return track_of(family, readings, size), video.damaged


def track_of(family: Family, readings: Iterable[FrameReadings], size_px: tuple[int, int]) -> Track:
    """Put the readings of a video's frames together by dial.

    Parameters
    ----------
    family
        The cluster design.
    readings
        Of every frame, in order.
    size_px
        Width and height of the frames.

    Returns
    -------
    Track
        One entry per dial and frame.
    """
    every = tuple(readings)
    t_s = np.array([frame.t_s for frame in every])
    dials: dict[str, DialTrack] = {}
    for number, dial in enumerate(family.dials):
        needles = [frame.needles[number] if frame.found else None for frame in every]
        reasons = tuple(
            frame.reason if needle is None else needle.reason
            for frame, needle in zip(every, needles, strict=True)
        )
        seen = np.array([reason is None for reason in reasons], dtype=np.bool_)
        angle, u, apart = (
            np.array(
                [np.nan if n is None or (v := getattr(n, name)) is None else v for n in needles]
            )
            for name in ("angle_deg", "u_angle_deg", "u_apart_deg")
        )
        dials[dial.id] = DialTrack(dial.id, t_s, angle, u, apart, seen, reasons)
    return Track(family.name, dials, size_px)


def learn(follower: Follower, path: Path) -> None:
    """Look over a video's beginning, every so many frames, and learn what does not change.

    Parameters
    ----------
    follower
        What learns.
    path
        The video file.
    """
    with Video(path) as video:
        rate = video.about_rate
        every = max(1, round(min(video.about_frames or np.inf, LEARN_S * rate) / LEARN_FRAMES))
        for number, timed in enumerate(video.ahead()):
            if timed.t_s > LEARN_S:
                break
            if number % every == 0:
                follower.look(timed.frame, timed.t_s)
    follower.settle()


def _give_up(readings: list[FrameReadings], t_s: float, family: Family, name: str) -> None:
    """Say so where the face was nowhere for long."""
    if t_s < GIVE_UP_S or any(frame.found for frame in readings):
        return
    reason = PHOTO_REASONS[readings[-1].reason or "face_not_found"]
    count = f"{len(readings)} frames" if len(readings) != 1 else "one frame"
    raise PictureError(
        f"{name}: the face of family {family.name} is in none of its {count} "
        f"({reason.short}); check the family, or film the whole cluster nearer and sharp"
    )
