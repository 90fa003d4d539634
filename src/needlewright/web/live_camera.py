"""A camera at the bench's own computer: a thread that always hands over the newest frame."""

import logging
import sys
from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread
from time import monotonic
from typing import Final, Protocol

import cv2
import numpy as np

from needlewright.errors import CameraError, NeedlewrightError
from needlewright.readings.frame import Pixels

WIDTH: Final = 1280
HEIGHT: Final = 720
"""Asked for; the camera answers with what it has."""
MISSES: Final = 5
"""Frames in a row a camera may fail to give before it is taken to have gone."""
END_WITHIN_S: Final = 12.0
log = logging.getLogger("needlewright.web")


class Camera(Protocol):
    """What frames come from."""

    def read(self) -> Pixels | None:
        """Wait for the next frame: height x width x 3, blue, green, red; None: none came."""

    def release(self) -> None:
        """Let go of it."""


OpenCamera = Callable[[int], Camera]


class OpenCvCamera:
    """A camera the operating system knows.

    Parameters
    ----------
    number
        As the system counts, from 0.

    Raises
    ------
    CameraError
        If it cannot be opened.
    """

    def __init__(self, number: int) -> None:
        self._capture = cv2.VideoCapture(number)
        if not self._capture.isOpened():
            self._capture.release()
            raise CameraError(
                f"camera {number} of the bench computer: cannot be opened; plug it in, close other "
                "programs that use it, or use this device's camera"
            )
        self._capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*"MJPG"))
        self._capture.set(cv2.CAP_PROP_FRAME_WIDTH, WIDTH)
        self._capture.set(cv2.CAP_PROP_FRAME_HEIGHT, HEIGHT)
        self._capture.set(cv2.CAP_PROP_BUFFERSIZE, 1)

    def read(self) -> Pixels | None:
        """Wait for the next frame; None: none came."""
        came, pixels = self._capture.read()
        return np.asarray(pixels, np.uint8) if came and pixels is not None else None

    def release(self) -> None:
        """Let go of it."""
        self._capture.release()


def cameras_here() -> tuple[int, ...]:
    """Numbers of the cameras the system shows; where it shows none by name, the first is tried."""
    if not sys.platform.startswith("linux"):
        return (0,)
    found = (device.name.removeprefix("video") for device in Path("/dev").glob("video*"))
    return tuple(sorted(int(one) for one in found if one.isdecimal()))


class Capture:
    """Reads a camera in a thread of its own until it is stopped, or the camera goes.

    Parameters
    ----------
    number
        Of the camera.
    open_camera
        Opens it, in that thread.
    on_frame
        Called with each frame and its time in seconds, later from frame to frame.
    on_gone
        Called once, with the sentence why no more frames come; not when it is stopped.
    """

    def __init__(
        self,
        number: int,
        open_camera: OpenCamera,
        on_frame: Callable[[Pixels, float], None],
        on_gone: Callable[[NeedlewrightError], None],
    ) -> None:
        self._number, self._open = number, open_camera
        self._on_frame, self._on_gone = on_frame, on_gone
        self._stopping = Event()
        self._thread = Thread(target=self._work, name="camera", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End, and wait until the camera is free again."""
        self._stopping.set()
        self._thread.join(END_WITHIN_S)

    def _work(self) -> None:
        try:
            camera = self._open(self._number)
        except NeedlewrightError as error:
            self._on_gone(error)
            return
        except Exception as error:
            self._gone("cannot be used", error)
            return
        try:
            self._read_on(camera)
        except Exception as error:
            self._gone("failed", error)
        finally:
            camera.release()

    def _read_on(self, camera: Camera) -> None:
        misses, last_s = 0, -np.inf
        while not self._stopping.is_set():
            pixels = camera.read()
            t_s = monotonic()
            if pixels is None:
                misses += 1
                if misses >= MISSES:
                    self._gone("sends no pictures any more", None)
                    return
                self._stopping.wait(0.05)
                continue
            misses = 0
            if t_s > last_s:
                last_s = t_s
                self._on_frame(pixels, t_s)

    def _gone(self, what: str, cause: Exception | None) -> None:
        if cause is not None:
            log.error("camera %s", self._number, exc_info=cause)
        self._on_gone(
            CameraError(
                f"camera {self._number} of the bench computer: {what}; look at its cable, then "
                "start the picture again"
            )
        )
