"""One live picture: the newest frame is read in a thread of its own, and what stands is taken."""

import logging
from collections.abc import Callable, Collection
from concurrent.futures import Future
from dataclasses import dataclass
from secrets import token_urlsafe
from threading import Condition, Thread
from typing import TYPE_CHECKING, Final

import cv2

from needlewright.errors import CameraError, NeedlewrightError, PictureError
from needlewright.readings.frame import Pixels
from needlewright.web.live_frames import decoded

if TYPE_CHECKING:  # the reader and its kernels are imported when a picture is really read
    from needlewright.readings.live import LiveLook, LiveReader
    from needlewright.readings.live_taking import TakenFrames

TAKE_WITHIN_S: Final = 30.0
END_WITHIN_S: Final = 10.0
log = logging.getLogger("needlewright.web")


@dataclass(frozen=True, slots=True, eq=False)
class Offered:
    """A frame on its way to be read."""

    number: int
    t_s: float
    file: bytes | None
    """JPEG; None where it came as pixels."""
    pixels: Pixels | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What is told of a frame, or of the picture as a whole."""

    number: int
    """Of the frame; those before it that were not read are passed over."""
    look: "LiveLook | None" = None
    pixels: Pixels | None = None
    wrong: NeedlewrightError | None = None
    is_over: bool = False
    """Whether nothing comes after it."""
    is_ready: bool = False
    """Whether it only says that frames may come."""


@dataclass(frozen=True, slots=True, eq=False)
class _Order:
    dials: Collection[str]
    name: str
    taken: "Future[TakenFrames]"


class LiveSession:
    """Reads frames as they come; where they come quicker than they are read, the newest one.

    Parameters
    ----------
    run_id
        The run they are for.
    owner
        Name of the browser's session.
    make_reader
        Makes the reader, in the session's own thread.
    tell
        Called from that thread with everything there is to say.
    """

    def __init__(
        self,
        run_id: int,
        owner: str,
        make_reader: Callable[[], "LiveReader"],
        tell: Callable[[Told], None],
    ) -> None:
        self.id, self.run_id, self.owner = token_urlsafe(12), run_id, owner
        self._make_reader, self._tell = make_reader, tell
        self._changed = Condition()
        self._newest: Offered | None = None
        self._orders: list[_Order] = []
        self._is_over = False
        self._thread = Thread(target=self._work, name="live", daemon=True)
        self._thread.start()

    def offer(self, frame: Offered) -> None:
        """Hand a frame over; one that still waits is passed over."""
        with self._changed:
            self._newest = frame
            self._changed.notify_all()

    def await_taken(self, within_s: float) -> None:
        """Wait until the frame handed over last is being read, or nothing is read any more.

        For frames whose clock waits for whoever looks, so that none has to be passed over.
        """
        with self._changed:
            self._changed.wait_for(lambda: self._is_over or self._newest is None, within_s)

    def say_over(self, error: NeedlewrightError) -> None:
        """Say that no more frames come, and why."""
        self._tell(Told(0, wrong=error, is_over=True))

    def take(self, dials: Collection[str], name: str) -> "TakenFrames":
        """Take what stands.

        Parameters
        ----------
        dials
            Those that must not move.
        name
            What the photo is called.

        Returns
        -------
        TakenFrames
            The frame to keep, and what is read.

        Raises
        ------
        PictureError
            If it does not stand.
        CameraError
            If the picture has ended.
        """
        order = _Order(dials, name, Future())
        with self._changed:
            if self._is_over:
                raise _ended()
            self._orders.append(order)
            self._changed.notify_all()
        try:
            return order.taken.result(TAKE_WITHIN_S)
        except TimeoutError as error:
            order.taken.cancel()
            raise CameraError(
                "live picture: reading it took too long; nothing was stored; take it again"
            ) from error

    def close(self) -> None:
        """End it; what waits is refused."""
        with self._changed:
            self._is_over = True
            self._changed.notify_all()
        self._thread.join(END_WITHIN_S)

    def _work(self) -> None:
        cv2.setNumThreads(1)  # the page is answered by the other cores
        try:
            reader = self._make_reader()
            self._tell(Told(0, is_ready=True))
            while (what := self._next()) is not None:
                if isinstance(what, _Order):
                    _carry_out(reader, what)
                else:
                    self._read(reader, what)
        except NeedlewrightError as error:
            self.say_over(error)
        except Exception:
            log.exception("reading a live picture")
            self.say_over(
                CameraError(
                    "live picture: reading it failed; the terminal of the workbench says why; "
                    "start the picture again"
                )
            )
        finally:
            self._refuse_orders()

    def _next(self) -> Offered | _Order | None:
        with self._changed:
            while not (self._is_over or self._orders or self._newest):
                self._changed.wait()
            if self._is_over:
                return None
            if self._orders:
                return self._orders.pop(0)
            frame, self._newest = self._newest, None
            self._changed.notify_all()
            return frame

    def _read(self, reader: "LiveReader", frame: Offered) -> None:
        try:
            pixels = decoded(frame.file or b"") if frame.pixels is None else frame.pixels
            look = reader.look(pixels, frame.t_s, frame.file)
        except PictureError as error:
            self._tell(Told(frame.number, wrong=error))
            return
        self._tell(Told(frame.number, look, pixels))

    def _refuse_orders(self) -> None:
        with self._changed:
            self._is_over = True
            self._changed.notify_all()
            for order in self._orders:
                if order.taken.set_running_or_notify_cancel():
                    order.taken.set_exception(_ended())
            self._orders.clear()


def _carry_out(reader: "LiveReader", order: _Order) -> None:
    if not order.taken.set_running_or_notify_cancel():
        return
    try:
        order.taken.set_result(reader.take(order.dials, order.name))
    except NeedlewrightError as error:
        order.taken.set_exception(error)
    except BaseException as error:
        order.taken.set_exception(error)
        raise


def _ended() -> CameraError:
    return CameraError("live picture: it has ended; nothing was stored; start the picture again")
