"""A bench's devices, watched while a run uses them: what the camera sees is shown as it comes."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from needlewright.bench.devices import Camera, Devices
from needlewright.readings.frame import Pixels

FRAME_S: Final = 0.1
"""Of a wait on the camera's own clock, so much is spent on a picture of it at the end."""


@dataclass(frozen=True, slots=True)
class Watchers:
    """Who is told of what the devices do."""

    frame: Callable[[Pixels, float], None]
    """A frame that is read next."""
    passing: Callable[[Pixels], None]
    """A frame nobody reads: needles on their way."""
    key: Callable[[bool], None]
    """The key is being turned."""
    idle: Callable[[], None]
    """Called before each frame of a clock that is let loose: a run that is held is in no hurry."""


def watched(devices: Devices, watchers: Watchers, *, is_rehearsed: bool) -> Devices:
    """The same devices, with somebody looking on.

    Parameters
    ----------
    devices
        Open.
    watchers
        Told in the run's own thread.
    is_rehearsed
        Whether the clock is let loose: then few of the frames that pass are drawn.

    Returns
    -------
    Devices
        To be given to the run.
    """
    camera = _Watched(devices.camera, watchers, watchers.idle if is_rehearsed else None)

    def key(on: bool) -> None:
        watchers.key(on)
        devices.key(on)

    def wait(seconds: float) -> None:
        if is_rehearsed and seconds <= FRAME_S:
            devices.wait(seconds)
        elif is_rehearsed:
            devices.wait(seconds - FRAME_S)
            watchers.passing(devices.camera.frame()[0])
        else:
            _look_on(devices.camera, seconds, watchers.passing)

    film = None if devices.film is None else _Filmed(devices.film, watchers)
    return replace(devices, camera=camera, film=film, key=key, wait=wait)


class _Watched:
    """A camera whose frames are handed on before they are read."""

    def __init__(self, camera: Camera, watchers: Watchers, idle: Callable[[], None] | None) -> None:
        self._camera, self._watchers, self._idle = camera, watchers, idle

    def frame(self) -> tuple[Pixels, float]:
        """Wait for the next frame."""
        if self._idle is not None:
            self._idle()
        pixels, t_s = self._camera.frame()
        self._watchers.frame(pixels, t_s)
        return pixels, t_s

    def close(self) -> None:
        """Let go of it."""
        self._camera.close()


class _Filmed:
    """A camera that films a sweep: needles on their way in every frame."""

    def __init__(self, camera: Camera, watchers: Watchers) -> None:
        self._camera, self._watchers = camera, watchers

    def frame(self) -> tuple[Pixels, float]:
        """Wait for the next frame."""
        pixels, t_s = self._camera.frame()
        self._watchers.passing(pixels)
        return pixels, t_s

    def close(self) -> None:
        """Let go of it."""
        self._camera.close()


def _look_on(camera: Camera, seconds: float, passing: Callable[[Pixels], None]) -> None:
    """Let time pass on a camera's own clock; every frame is taken, so that none is old later."""
    pixels, began_s = camera.frame()
    passing(pixels)
    t_s = began_s
    while t_s - began_s < seconds:
        pixels, t_s = camera.frame()
        passing(pixels)
