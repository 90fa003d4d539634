"""Frames of the last minutes, kept small, so that there are pictures from before an event."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol, runtime_checkable

import cv2

from needlewright.bench.devices import Camera
from needlewright.bench.keeping import write_whole
from needlewright.errors import RunError
from needlewright.readings.frame import Pixels

QUALITY: Final = 80
MOST_FRAMES: Final = 700
"""A sweep and the dwell before it; some 50 kB each."""
BEFORE: Final = 5
AFTER: Final = 5
"""Pictures of a strip, before the event and from it on."""
APART_S: Final = 0.15
"""Least time between two pictures of a strip."""


@runtime_checkable
class DrawingCamera(Protocol):
    """A camera of a rehearsal: a frame that nobody looks at need not be drawn."""

    def glance(self) -> tuple[Callable[[], Pixels], float]:
        """Wait for the next frame.

        Returns
        -------
        tuple
            What draws it, as often as it is called, and each time the same; and its time, seconds.
        """


@dataclass(frozen=True, slots=True)
class Kept:
    """A frame, coded; or what draws it, where it is drawn."""

    t_s: float
    _as: bytes | Callable[[], Pixels]

    @property
    def file(self) -> bytes:
        """As a JPEG file."""
        return self._as if isinstance(self._as, bytes) else jpeg(self._as())

    @property
    def costs_nothing(self) -> bool:
        """Whether it has been coded already."""
        return isinstance(self._as, bytes)


class Ring:
    """Holds the last frames that the cameras gave."""

    def __init__(self) -> None:
        self._frames: deque[Kept] = deque(maxlen=MOST_FRAMES)

    @property
    def newest(self) -> Kept | None:
        """The frame that came last; None: none has come."""
        return self._frames[-1] if self._frames else None

    def keep(self, pixels: Pixels, t_s: float) -> None:
        """Take a frame in.

        Parameters
        ----------
        pixels
            Blue, green, red.
        t_s
            When it was taken.
        """
        self._frames.append(Kept(t_s, jpeg(pixels)))

    def keep_drawn(self, drawn: Callable[[], Pixels], t_s: float) -> None:
        """Take a frame in that can be drawn when it is wanted.

        Parameters
        ----------
        drawn
            Draws it.
        t_s
            When it was taken.
        """
        self._frames.append(Kept(t_s, drawn))

    def strip(self, at_s: float) -> tuple[Kept, ...]:
        """The frames around a moment.

        Parameters
        ----------
        at_s
            When it happened.

        Returns
        -------
        tuple of Kept
            In time; as many after it as there are yet.
        """
        before = [one for one in self._frames if one.t_s < at_s]
        after = [one for one in self._frames if one.t_s >= at_s]
        return (*reversed(_apart(before[::-1], BEFORE)), *_apart(after, AFTER))


def _apart(frames: list[Kept], most: int) -> list[Kept]:
    """The first of frames that lie apart."""
    taken: list[Kept] = []
    for one in frames:
        if len(taken) < most and (not taken or abs(one.t_s - taken[-1].t_s) >= APART_S):
            taken.append(one)
    return taken


class WatchedCamera:
    """A camera whose frames are kept in a ring, and whose clock is listened to.

    Parameters
    ----------
    camera
        The camera.
    ring
        Takes the frames.
    saw
        Told the time of each frame.
    """

    def __init__(self, camera: Camera, ring: Ring, saw: Callable[[float], None]) -> None:
        self._camera, self._ring, self._saw = camera, ring, saw
        self._drawing = camera if isinstance(camera, DrawingCamera) else None
        self.last_s = 0.0

    def frame(self) -> tuple[Pixels, float]:
        """Wait for the next frame.

        Returns
        -------
        tuple
            Blue, green, red; and its time, seconds.
        """
        if self._drawing is not None:
            drawn, t_s = self._drawing.glance()
            self._ring.keep_drawn(drawn, t_s)
            pixels = drawn()
        else:
            pixels, t_s = self._camera.frame()
            self._ring.keep(pixels, t_s)
        self._came(t_s)
        return pixels, t_s

    def pass_by(self) -> float:
        """Wait for the next frame, which is kept and not looked at.

        Returns
        -------
        float
            Its time, seconds.
        """
        if self._drawing is None:
            return self.frame()[1]
        drawn, t_s = self._drawing.glance()
        self._ring.keep_drawn(drawn, t_s)
        self._came(t_s)
        return t_s

    def _came(self, t_s: float) -> None:
        self._saw(t_s)
        self.last_s = t_s

    def close(self) -> None:
        """Let go of it."""
        self._camera.close()


def jpeg(pixels: Pixels) -> bytes:
    """Code a picture.

    Parameters
    ----------
    pixels
        Blue, green, red.

    Returns
    -------
    bytes
        A JPEG file.

    Raises
    ------
    RunError
        If it cannot be coded.
    """
    coded, file = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if not coded:
        raise RunError("a picture of the camera cannot be coded; try another camera")
    return file.tobytes()


def write_strip(folder: Path, name: str, strip: tuple[Kept, ...]) -> tuple[str, ...]:
    """Write a strip as files.

    Parameters
    ----------
    folder
        The journal's.
    name
        Of the event.
    strip
        The frames.

    Returns
    -------
    tuple of str
        Files, relative to the folder.

    Raises
    ------
    RunError
        If one cannot be written.
    """
    names = tuple(f"events/{name}/{place:02d}.jpg" for place in range(len(strip)))
    try:
        (folder / "events" / name).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RunError(f"{folder}: cannot be written: {error.strerror or error}") from error
    for file, one in zip(names, strip, strict=True):
        write_whole(folder / file, one.file)
    return names


def picture_in(folder: Path, name: str) -> bytes | None:
    """Read a picture a journal names.

    Parameters
    ----------
    folder
        The journal's, wherever it comes from.
    name
        Relative to it.

    Returns
    -------
    bytes or None
        Its file; None where it is gone.

    Raises
    ------
    RunError
        If the name leads out of the folder: whoever wrote it wants another file read.
    """
    try:
        path = (folder / name).resolve()
        if path.is_relative_to(folder.resolve()):
            return path.read_bytes() if path.is_file() else None
    except (OSError, ValueError):  # a name that no file can have
        return None
    raise RunError(
        f"{folder}: its journal names a picture outside the folder, '{name[:60]}', which is not "
        "read; put the journal back from a copy"
    )
