"""Every adapter python-can knows: cyclic sending, receiving, recording, in a thread of its own."""

import threading
import time
from collections.abc import Callable, Mapping
from typing import ClassVar, Final

import can

from needlewright.errors import SignalError, TransportError
from needlewright.signals.model import Command, Frame, FrameStimulus, Stimulus
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import frame_of, open_adapter
from needlewright.signals.transports.bus_link import BusLink, BusStatus
from needlewright.signals.transports.recording import Recorder
from needlewright.signals.transports.schedule import Schedule
from needlewright.signals.transports.transport import Transport
from needlewright.signals.transports.vehicle import refuse_in_vehicle

LONGEST_WAIT_S: Final = 0.005
"""How long the thread listens before it looks whether something new is to be sent."""
RETRY_S: Final = 0.25
"""How often a bus that is down is tried again."""
PATIENCE_S: Final = 5.0
"""How long a bus may be down before a run is told to end."""


class _Asked:
    """A request whose answer is waited for."""

    def __init__(self, is_answer: Callable[[Frame], bool]) -> None:
        self.is_answer = is_answer
        self.answer: Frame | None = None
        self.arrived = threading.Event()


class BusTransport(Transport):
    """Sends the frames of all dials, each at its rate, and hands on what is received.

    A bus that drops is opened again and sending goes on; a run learns of it by `status`, and by
    `check` when it lasts longer than `PATIENCE_S`. Sending ends with `stop`, with `close`, and with
    the thread that opened it.

    Parameters
    ----------
    settings
        The adapter.
    in_vehicle
        Whether somebody has said that sending in a vehicle is meant; show `IN_VEHICLE_CAUTION`.
    recorder
        Takes every message received; closed with the transport.
    heard
        Called with every frame received, from the transport's thread.
    opened_by
        Opens the adapter; another in tests.
    """

    name: ClassVar[str] = "bus adapter"

    def __init__(
        self,
        settings: BusSettings,
        *,
        in_vehicle: bool = False,
        recorder: Recorder | None = None,
        heard: Callable[[Frame], None] | None = None,
        opened_by: Callable[[BusSettings], can.BusABC] = open_adapter,
    ) -> None:
        super().__init__()
        self._where = settings.where
        self._in_vehicle = in_vehicle
        self._recorder = recorder
        self._heard = heard
        self._link = BusLink(settings, opened_by)
        self._lock = threading.RLock()
        self._schedule = Schedule()
        self._thread: threading.Thread | None = None
        self._ending = threading.Event()
        self._asked: list[_Asked] = []
        self._others: set[tuple[int, bool]] = set()
        self._trouble = ""
        self._latest_s = 0.0

    @property
    def status(self) -> BusStatus:
        """How the bus is doing now."""
        return self._link.status

    @property
    def latest_s(self) -> float:
        """The latest a frame was sent after it was due, seconds."""
        return self._latest_s

    def carries(self, stimulus: Stimulus) -> bool:
        """Frames that are repeated."""
        return isinstance(stimulus, FrameStimulus) and stimulus.period_s is not None

    def send_once(self, frame: Frame) -> None:
        """Send one frame now.

        Parameters
        ----------
        frame
            Total distance is withheld, see `status`.

        Raises
        ------
        TransportError
            If the transport is not open, the bus is down, or it is a vehicle's and not meant.
        """
        if self._state != "open":
            raise TransportError(f"the {self.name} is {self._state}; open it first")
        refuse_in_vehicle(self._where, self._in_vehicle)
        if not self._link.send(frame):
            raise TransportError(f"frame {frame.text} was not sent: {self.status.words}")

    def ask(self, request: Frame, is_answer: Callable[[Frame], bool], timeout_s: float) -> Frame:
        """Send a request and wait for its answer.

        Parameters
        ----------
        request
            Sent once.
        is_answer
            Whether a received frame is the answer.
        timeout_s
            How long to wait.

        Returns
        -------
        Frame
            The first answer.

        Raises
        ------
        TransportError
            If it cannot be sent, or nothing answers in time.
        """
        asked = _Asked(is_answer)
        with self._lock:
            self._asked.append(asked)
        try:
            self.send_once(request)
            asked.arrived.wait(timeout_s)
        finally:
            with self._lock:
                self._asked.remove(asked)
        if asked.answer is None:
            raise TransportError(f"nothing answered {request.text} within {timeout_s:g} s")
        return asked.answer

    def _open(self) -> None:
        self._link.open()
        self._others, self._trouble = set(), ""
        self._ending.clear()
        owner = threading.current_thread()
        self._thread = threading.Thread(target=self._work, args=(owner,), daemon=True)
        self._thread.start()

    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        refuse_in_vehicle(self._where, self._in_vehicle)
        frames = [c.stimulus for c in wanted.values() if isinstance(c.stimulus, FrameStimulus)]
        with self._lock:
            for command in new:
                self._refuse_second_sender(command)
            try:
                self._schedule.replace(frames, time.monotonic())
            except SignalError as error:
                raise TransportError(str(error)) from error

    def _refuse_second_sender(self, command: Command) -> None:
        """A bench has one sender of a frame; a second one looks like a vehicle."""
        stimulus = command.stimulus
        if not isinstance(stimulus, FrameStimulus) or self._in_vehicle:
            return
        if (stimulus.arbitration_id, stimulus.extended) in self._others:
            raise TransportError(
                f"dial '{command.dial}': another unit already sends frame "
                f"{stimulus.frame().text.partition('#')[0]}, as in a vehicle; unplug it, or say "
                "that sending in a vehicle is meant"
            )

    def _check(self) -> None:
        status = self.status
        if self._trouble:
            raise TransportError(self._trouble)
        if status.down_s > PATIENCE_S:
            raise TransportError(
                f"the bus has been down for {status.down_s:.0f} s: {status.words}; check the plug "
                "and the power, then go on from the same check point"
            )
        if self._thread is None or not self._thread.is_alive():
            raise TransportError("the bus adapter's thread has ended; open it again")

    def _stop(self) -> None:
        with self._lock:  # a frame is sent with the lock held, so none follows
            self._schedule.clear()

    def _close(self) -> None:
        self._ending.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        self._link.close()
        if self._recorder is not None:
            self._recorder.close()
            self._recorder = None

    def _work(self, owner: threading.Thread) -> None:
        while not self._ending.is_set():
            if not owner.is_alive():  # whoever ran the run is gone, so nobody would stop it
                self._stop()
                return
            with self._lock:
                wait_s = self._send_due()
            if not self.status.up:
                self._ending.wait(RETRY_S)
                if not self._ending.is_set():
                    self._link.reopen()
                continue
            message = self._link.receive(wait_s)
            if message is not None:
                self._take(message)

    def _send_due(self) -> float:
        """Send what is due; how long to listen then."""
        for frame, due_s in self._schedule.take_due(time.monotonic()):
            if self._link.send(frame):
                self._latest_s = max(self._latest_s, time.monotonic() - due_s)
        next_s = self._schedule.next_due_s()
        if next_s is None:
            return LONGEST_WAIT_S
        return min(max(next_s - time.monotonic(), 0.0), LONGEST_WAIT_S)

    def _take(self, message: can.Message) -> None:
        frame = frame_of(message)
        try:
            if self._recorder is not None:
                self._recorder.write(message)
        except TransportError as error:
            self._trouble = self._trouble or str(error)
        if frame is None or not message.is_rx:
            return
        with self._lock:
            self._note(frame)
        if self._heard is not None:
            self._heard(frame)

    def _note(self, frame: Frame) -> None:
        key = (frame.arbitration_id, frame.extended)
        self._others.add(key)
        if key in self._schedule.identifiers and not self._in_vehicle:
            self._trouble = (
                f"another unit sends frame {frame.text.partition('#')[0]} too, as in a vehicle; "
                "sending has stopped"
            )
            self._schedule.clear()
        for asked in self._asked:
            if asked.answer is None and asked.is_answer(frame):
                asked.answer = frame
                asked.arrived.set()
