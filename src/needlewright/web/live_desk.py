"""The live pictures of this workbench: few at once, and each camera of the bench in one place."""

from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Final

from needlewright.errors import CameraError
from needlewright.families.model import Family
from needlewright.readings.frame import Pixels
from needlewright.web.live_camera import Capture, OpenCamera, OpenCvCamera, cameras_here
from needlewright.web.live_session import LiveSession, Offered, Told

if TYPE_CHECKING:
    from needlewright.readings.live import LiveReader

MOST_AT_ONCE: Final = 2
"""Live pictures read at the same time; each keeps a core busy."""
Tell = Callable[[Told], None]


@dataclass(slots=True)
class _Open:
    session: LiveSession
    camera: int | None = None
    capture: Capture | None = None


class LiveDesk:
    """Opens live pictures, finds them again, and ends them.

    Parameters
    ----------
    open_camera
        Opens a camera of the bench computer.
    cameras
        Says which there are.
    """

    def __init__(
        self,
        open_camera: OpenCamera = OpenCvCamera,
        cameras: Callable[[], tuple[int, ...]] = cameras_here,
    ) -> None:
        self._open_camera, self.cameras = open_camera, cameras
        self.is_at_bench: Callable[[int], bool] = lambda camera: False
        """Whether a camera looks at a run that is on at the bench."""
        self._table: dict[str, _Open] = {}
        self._lock = Lock()

    def open(
        self, run_id: int, owner: str, family: Family, tell: Tell, camera: int | None = None
    ) -> LiveSession:
        """Begin a live picture.

        Parameters
        ----------
        run_id
            The run it is for.
        owner
            Name of the browser's session.
        family
            The cluster design.
        tell
            Called from another thread with everything there is to say.
        camera
            Number of a camera of the bench computer; None: the browser sends frames.

        Returns
        -------
        LiveSession
            To which frames are offered.

        Raises
        ------
        CameraError
            If there are too many, or the camera is used in another window.
        """
        with self._lock:
            self._refuse(camera)
            session = LiveSession(run_id, owner, lambda: _reader_of(family), tell)
            entry = _Open(session, camera)
            self._table[session.id] = entry
        if camera is not None:
            entry.capture = self._captured(session, camera)
        return session

    def find(self, session_id: str, run_id: int, owner: str) -> LiveSession:
        """A live picture of this run in this browser; raises CameraError if it has ended."""
        with self._lock:
            entry = self._table.get(session_id)
        if entry is None or (entry.session.run_id, entry.session.owner) != (run_id, owner):
            raise CameraError(
                "live picture: it has ended, or belongs to another window; nothing was stored; "
                "start the picture here"
            )
        return entry.session

    def close(self, session: LiveSession) -> None:
        """End a live picture and free its camera."""
        entry = self._table.get(session.id)
        if entry is None:
            return
        if entry.capture is not None:
            entry.capture.stop()
        session.close()
        with self._lock:
            self._table.pop(session.id, None)

    def stop(self) -> None:
        """End all of them."""
        for entry in list(self._table.values()):
            self.close(entry.session)

    def is_in_use(self, camera: int) -> bool:
        """Whether a camera of the bench computer is in a live picture."""
        with self._lock:
            return any(one.camera == camera for one in self._table.values())

    def __len__(self) -> int:
        return len(self._table)

    def _refuse(self, camera: int | None) -> None:
        if camera is not None and any(one.camera == camera for one in self._table.values()):
            raise CameraError(
                f"camera {camera} of the bench computer: is in use in another window; stop the "
                "picture there, then start it here"
            )
        if camera is not None and self.is_at_bench(camera):
            raise CameraError(
                f"camera {camera} of the bench computer: looks at a run that is on at the bench; "
                "wait until that is finished, or use another camera"
            )
        if len(self._table) >= MOST_AT_ONCE:
            raise CameraError(
                f"live picture: {MOST_AT_ONCE} others are open, and no more are read at once; stop "
                "one of them, then start it here"
            )

    def _captured(self, session: LiveSession, camera: int) -> Capture:
        count = 0

        def hand_over(pixels: Pixels, t_s: float) -> None:
            nonlocal count
            count += 1
            session.offer(Offered(count, t_s, None, pixels))

        return Capture(camera, self._open_camera, hand_over, session.say_over)


def _reader_of(family: Family) -> "LiveReader":
    """Imported only when a picture is really read."""
    from needlewright.readings.live import LiveReader  # noqa: PLC0415

    return LiveReader(family)
