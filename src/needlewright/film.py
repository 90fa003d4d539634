"""A video file that is coded frame by frame and appears whole or not at all."""

import os
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import av
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError

TICKS: Final = 90_000
"""Of a video's time, a second; common in files."""
QUALITY: Final = "18"
"""Of the coder (x264, crf): print and needles stay sharp."""


class Film:
    """Codes frames as they come; `with Film(path) as film:` keeps the file if nothing is raised.

    Parameters
    ----------
    path
        Where to; its ending names the container, as `.mp4` or `.mkv`.
    in_time
        Whether a camera waits for it: the coder takes less time and the file more room.

    Raises
    ------
    PictureError
        If it cannot be written.
    """

    def __init__(self, path: Path, *, in_time: bool = False) -> None:
        self.path = path
        self.frames, self.first_s, self.last_s = 0, 0.0, 0.0
        self._part = path.with_name(f".{path.stem}.{os.getpid()}.part{path.suffix}")
        try:
            self._container = av.open(str(self._part), "w")
            self._stream = self._container.add_stream("libx264", rate=25)
        except (av.FFmpegError, OSError, ValueError) as error:
            self._part.unlink(missing_ok=True)
            raise self._unwritten(error) from error
        self._stream.pix_fmt, self._stream.time_base = "yuv420p", Fraction(1, TICKS)
        self._stream.codec_context.time_base = Fraction(1, TICKS)
        preset = "ultrafast" if in_time else "veryfast"
        self._stream.options = {"crf": QUALITY, "preset": preset}

    def add(self, pixels: NDArray[np.uint8], t_s: float) -> None:
        """Code the next frame.

        Parameters
        ----------
        pixels
            Height x width x 3, blue, green, red; of one size all through.
        t_s
            Its time, seconds, rising.

        Raises
        ------
        PictureError
            If it cannot be written.
        """
        # colour is kept at half size, so a video's sides are even
        even = pixels[: len(pixels) // 2 * 2, : pixels.shape[1] // 2 * 2]
        if not self.frames:
            self._stream.height, self._stream.width = even.shape[:2]
            self.first_s = t_s
        try:
            coded = av.VideoFrame.from_ndarray(np.ascontiguousarray(even), format="bgr24")
            coded.pts = round((t_s - self.first_s) * TICKS)
            coded.time_base = Fraction(1, TICKS)
            self._container.mux(self._stream.encode(coded))
        except (av.FFmpegError, OSError, ValueError) as error:
            raise self._unwritten(error) from error
        self.frames, self.last_s = self.frames + 1, t_s

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if kind is None:
                self._container.mux(self._stream.encode())
            self._container.close()
            if kind is None:
                self._part.replace(self.path)
        except (av.FFmpegError, OSError, ValueError) as wrong:
            if kind is None:
                raise self._unwritten(wrong) from wrong
        finally:
            self._part.unlink(missing_ok=True)

    def _unwritten(self, error: Exception) -> PictureError:
        words = getattr(error, "strerror", None) or " ".join(str(error).split())
        return PictureError(
            f"{self.path}: the video cannot be written ({words}); name a file like sweep.mp4 in a "
            "folder that is there, with room left"
        )
