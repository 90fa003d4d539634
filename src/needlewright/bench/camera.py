"""A camera of the bench computer, frame by frame, without frames that are older than the run."""

from collections.abc import Callable
from time import monotonic
from typing import Final, Protocol

import cv2
import numpy as np

from needlewright.errors import CameraError
from needlewright.readings.frame import Pixels

MISSES: Final = 5
"""Frames in a row a camera may fail to give before it is taken to have gone."""


class Capture(Protocol):
    """What OpenCV has of a camera."""

    def isOpened(self) -> bool:
        """Whether it can be used."""

    def read(self) -> tuple[bool, Pixels | None]:
        """Wait for the next frame."""

    def release(self) -> None:
        """Let go of it."""


def open_capture(number: int) -> Capture:
    """Open a camera of the operating system.

    Parameters
    ----------
    number
        As the system counts, from 0.

    Returns
    -------
    Capture
        Of OpenCV; no more frames wait in it than must.
    """
    # why it cannot be opened is said in a sentence of our own
    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    capture = cv2.VideoCapture(number)
    capture.set(cv2.CAP_PROP_BUFFERSIZE, 1)
    return capture  # type: ignore[return-value]


class BenchCamera:
    """A camera that stands before the cluster.

    Parameters
    ----------
    number
        As the system counts, from 0.
    opened_by
        Opens it; another in tests.
    clock
        Seconds; another in tests.

    Raises
    ------
    CameraError
        If it cannot be opened.
    """

    def __init__(
        self,
        number: int,
        *,
        opened_by: Callable[[int], Capture] = open_capture,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        self._number, self._clock, self._last_s = number, clock, -np.inf
        self._capture = opened_by(number)
        if not self._capture.isOpened():
            self._capture.release()
            raise CameraError(
                f"camera {number}: cannot be opened; plug it in, close other programs that use it, "
                "or name another with --camera"
            )

    def frame(self) -> tuple[Pixels, float]:
        """Wait for the next frame.

        Returns
        -------
        tuple
            Blue, green, red; and its time in seconds, later than the one before.

        Raises
        ------
        CameraError
            If it sends none any more.
        """
        for _ in range(MISSES):
            try:
                came, pixels = self._capture.read()
            except cv2.error as error:
                raise CameraError(f"camera {self._number}: failed: {error.err}") from error
            t_s = self._clock()
            if came and pixels is not None and t_s > self._last_s:
                self._last_s = t_s
                return np.asarray(pixels, np.uint8), t_s
        raise CameraError(
            f"camera {self._number}: sends no pictures any more; look at its cable, then go on "
            "from the same check point"
        )

    def wait(self, seconds: float) -> None:
        """Let time pass; frames that come meanwhile are thrown away, so that none is old.

        Parameters
        ----------
        seconds
            How long.

        Raises
        ------
        CameraError
            If it sends none any more.
        """
        until_s = self._clock() + seconds
        while self._clock() < until_s:
            self.frame()

    def close(self) -> None:
        """Let go of it."""
        self._capture.release()
