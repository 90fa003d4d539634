"""One adapter that may drop: sends and receives while it is there, and opens it again."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

import can

from needlewright.errors import TransportError
from needlewright.signals.model import Frame
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import BUS_ERRORS, message_of
from needlewright.signals.transports.vehicle import never_sent


@dataclass(frozen=True, slots=True)
class BusStatus:
    """How the bus is doing."""

    up: bool
    drops: int
    """How often it was lost."""
    down_s: float
    """For how long it has been down now."""
    sent: int
    received: int
    withheld: int
    """Frames of total distance that were asked for and not sent."""
    words: str
    """Why it is down; empty when it is up."""


class BusLink:
    """The adapter and its losses; safe to use from several threads.

    Parameters
    ----------
    settings
        The adapter.
    opened_by
        Opens it, now and again after a loss.
    """

    def __init__(
        self, settings: BusSettings, opened_by: Callable[[BusSettings], can.BusABC]
    ) -> None:
        self._settings = settings
        self._opened_by = opened_by
        self._lock = threading.RLock()
        self._bus: can.BusABC | None = None
        self._closed = True
        self._lost_at_s: float | None = None
        self._words = ""
        self._drops = self._sent = self._received = self._withheld = 0

    @property
    def status(self) -> BusStatus:
        """How the bus is doing now."""
        with self._lock:
            down_s = 0.0 if self._lost_at_s is None else time.monotonic() - self._lost_at_s
            return BusStatus(
                self._bus is not None,
                self._drops,
                down_s,
                self._sent,
                self._received,
                self._withheld,
                self._words,
            )

    def open(self) -> None:
        """Open the adapter for the first time.

        Raises
        ------
        TransportError
            If it is absent.
        """
        bus = self._opened_by(self._settings)
        with self._lock:
            self._bus, self._closed, self._lost_at_s, self._words = bus, False, None, ""

    def reopen(self) -> bool:
        """Try a lost adapter once more; whether it is up."""
        try:
            bus = self._opened_by(self._settings)
        except TransportError as error:
            with self._lock:
                self._words = str(error)
            return False
        with self._lock:
            if self._closed or self._bus is not None:
                bus.shutdown()
                return self._bus is not None
            self._bus, self._lost_at_s, self._words = bus, None, ""
        return True

    def close(self) -> None:
        """Let go of the adapter."""
        with self._lock:
            self._closed = True
            self._drop()

    def send(self, frame: Frame) -> bool:
        """Send one frame; whether it went out, or was one that is never sent."""
        with self._lock:
            if never_sent(frame):
                self._withheld += 1
                return True
            if self._bus is None:
                return False
            try:
                self._bus.send(message_of(frame))
            except BUS_ERRORS as error:
                self._lose(error)
                return False
            self._sent += 1
            return True

    def receive(self, wait_s: float) -> can.Message | None:
        """The next message within a time; None: nothing came, or the bus is down."""
        bus = self._bus
        if bus is None:
            return None
        try:
            message = bus.recv(wait_s)
        except (*BUS_ERRORS, ValueError) as error:  # of a socket closed meanwhile, ValueError
            with self._lock:
                if self._bus is bus:
                    self._lose(error)
            return None
        if message is not None:
            with self._lock:
                self._received += 1
        return message

    def _lose(self, error: Exception) -> None:
        self._drops += 1
        self._lost_at_s = time.monotonic()
        self._words = " ".join(str(error).split()) or type(error).__name__
        self._drop()

    def _drop(self) -> None:
        bus, self._bus = self._bus, None
        if bus is None:
            return
        try:
            bus.shutdown()
        except BUS_ERRORS as error:
            self._words = self._words or str(error)
