"""A video file as frames in their presentation times: planes as they are stored, upright.

What a player would show at a time is what is read at that time: times come from the file, however
unevenly the frames follow each other, and the rotation a phone notes is carried out.

Source: planes and siting of colour: ITU-T H.273 (2016), clause 8.7; from memory.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, Full, Queue
from threading import Event, Thread
from types import TracebackType
from typing import Any, Final, Self

import av
import numpy as np

from needlewright.errors import PictureError
from needlewright.readings.frame import Frame, Pixels

AS_STORED: Final = frozenset({"yuv420p", "yuvj420p", "yuv444p", "yuvj444p"})
"""Formats whose planes are taken as they are; others are converted first."""
GREY: Final = frozenset({"gray"})
CONVERTED: Final = "yuv420p"
AHEAD: Final = 12
"""Frames decoded ahead of the reading."""
UNSTATED_SITING_PX: Final = 0.25
"""Colour at half width lies over the light's left pixel or between two; few files say which."""


@dataclass(frozen=True, slots=True)
class TimedFrame:
    """A frame and when it is shown, seconds from the first one."""

    t_s: float
    frame: Frame


class Video:
    """Frames of a video file, once through.

    Parameters
    ----------
    path
        The file.

    Raises
    ------
    PictureError
        If it is not a video, or has no picture in it.
    """

    def __init__(self, path: Path) -> None:
        self.name = path.name
        if not path.exists():
            raise PictureError(f"{path}: there is no such file; check the name")
        if path.is_dir():
            raise PictureError(f"{path}: is a folder; name a video file in it")
        try:
            self._container = av.open(str(path))
        except (av.FFmpegError, ValueError) as error:
            raise PictureError(
                f"{self.name}: is not a video that can be opened; save it as MP4, MOV, MKV or WebM"
            ) from error
        if not self._container.streams.video:
            self._container.close()
            raise PictureError(f"{self.name}: has no moving picture in it; choose another file")
        self._stream = self._container.streams.video[0]
        self._stream.thread_type = "AUTO"
        self.damaged: str | None = None
        """A sentence once the file turned out to be damaged: what came before it was read."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._container.close()

    @property
    def about_frames(self) -> int:
        """How many frames the file says it has, or about how many; 0 when it does not say."""
        if self._stream.frames:
            return int(self._stream.frames)
        rate, length = self._stream.average_rate, self._container.duration
        return int(rate * length / av.time_base) if rate and length else 0

    @property
    def about_rate(self) -> float:
        """About how many frames follow each other in a second."""
        return float(self._stream.average_rate or 25)

    def frames(self) -> Iterator[TimedFrame]:
        """Every frame in the order it is shown; one of two shown at the same time is left out.

        Yields
        ------
        TimedFrame
            Upright, timed from the first frame.

        Raises
        ------
        PictureError
            If not one frame could be decoded.
        """
        first: float | None = None
        last = -np.inf
        step = 1 / self.about_rate
        try:
            for picture in self._container.decode(self._stream):
                shown = picture.time
                t_s = last + step if shown is None else shown - (first or 0.0)
                if first is None:
                    first, t_s = (shown or 0.0), 0.0
                if t_s <= last:
                    continue
                last = t_s
                yield TimedFrame(round(t_s, 6), frame_of(picture))
        except av.FFmpegError as error:
            if first is None:
                raise PictureError(self._nothing_in_it) from error
            self.damaged = (
                f"{self.name}: cannot be decoded after {last:.2f} s; what comes before was read"
            )
        if first is None:
            raise PictureError(self._nothing_in_it)

    @property
    def _nothing_in_it(self) -> str:
        return (
            f"{self.name}: not one frame of it can be decoded; play it once to see whether it is "
            "whole, and record it again if not"
        )

    def ahead(self) -> Iterator[TimedFrame]:
        """As `frames`, decoded by a second thread while the first reads."""
        waiting: Queue[TimedFrame | BaseException | None] = Queue(AHEAD)
        left = Event()

        def put(what: TimedFrame | BaseException | None) -> None:
            while not left.is_set():
                try:
                    waiting.put(what, timeout=0.1)
                except Full:
                    continue
                return

        def decode() -> None:
            try:
                for frame in self.frames():
                    put(frame)
                    if left.is_set():
                        return
                put(None)
            except BaseException as error:  # noqa: BLE001 -- handed to the reading thread
                put(error)

        thread = Thread(target=decode, name="decoding", daemon=True)
        thread.start()
        try:
            while (got := waiting.get()) is not None:
                if isinstance(got, BaseException):
                    raise got
                yield got
        finally:
            left.set()
            try:
                while True:
                    waiting.get_nowait()
            except Empty:
                thread.join()


def frame_of(picture: Any) -> Frame:
    """The planes of a decoded picture, upright.

    Parameters
    ----------
    picture
        As PyAV decodes it.

    Returns
    -------
    Frame
        Ten bits and more come down to eight.
    """
    if picture.format.name not in AS_STORED | GREY:
        picture = picture.reformat(format=CONVERTED)
    planes = [_pixels(plane) for plane in picture.planes]
    turns = round(picture.rotation / 90) % 4
    if picture.format.name in GREY:
        return Frame(_turned(planes[0], turns))
    light, blue, red = planes[:3]
    factor = round(light.shape[1] / blue.shape[1])
    # the middle between beginning over the first pixel and lying between the first two
    shift = (UNSTATED_SITING_PX * (factor - 1), 0.5 * (factor - 1))
    for _ in range(turns):
        shift = (shift[1], (factor - 1) - shift[0])
    light, blue, red = (_turned(plane, turns) for plane in (light, blue, red))
    return Frame(light, blue, red, shift)


def _pixels(plane: Any) -> Pixels:
    rows = np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)
    return rows[: plane.height, : plane.width]


def _turned(pixels: Pixels, turns: int) -> Pixels:
    """Turned counter-clockwise by quarters; a copy, for the decoder uses its memory again."""
    return np.ascontiguousarray(np.rot90(pixels, turns)) if turns else pixels.copy()
