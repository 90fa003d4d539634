"""What stands at a bench: the cluster's wires, its key, a camera; and what a person wants."""

from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock
from typing import Literal, Protocol

from needlewright.families.lamps import LampGroup
from needlewright.readings.frame import Pixels
from needlewright.signals.transports.bus_link import BusStatus
from needlewright.signals.transports.transport import Transport

Wish = Literal["go_on", "pause", "stop", "skip", "redo"]


class Camera(Protocol):
    """Looks at the cluster, and keeps the run's time."""

    def frame(self) -> tuple[Pixels, float]:
        """Wait for the next frame.

        Returns
        -------
        tuple
            The picture, height x width x 3, blue, green, red; and its time, seconds.

        Raises
        ------
        UnusableInput
            If the camera is gone.
        """

    def close(self) -> None:
        """Let go of it."""


def no_supply() -> float | None:
    """The voltage of a supply nobody can ask."""
    return None


def no_bus() -> BusStatus | None:
    """The state of a bus that is not there."""
    return None


def leave_light(dark: bool) -> None:
    """Nobody can make the bench dark."""
    del dark


def nobody(lamps: LampGroup, on: bool) -> bool:
    """There is nobody who could switch lamps."""
    del lamps, on
    return False


def nothing() -> None:
    """There is nobody who is waited for."""


@dataclass(frozen=True, slots=True)
class Devices:
    """One bench, with a cluster on it or a rehearsed one."""

    transport: Transport
    """Open."""
    camera: Camera
    key: Callable[[bool], None]
    """Switches the cluster on or off; what is on the wires is taken off before it goes off."""
    wait: Callable[[float], None]
    """Lets so many seconds of the camera's time pass."""
    supply_v: Callable[[], float | None] = no_supply
    """What the supply measures at its output, where there is one."""
    bus: Callable[[], BusStatus | None] = no_bus
    """How the bus is doing, where there is one."""
    supply_a: Callable[[], float | None] = no_supply
    """What the cluster draws, where there is a supply that says so, amperes."""
    film: Camera | None = None
    """Gives frames fast enough for needles that sweep; None: the camera does."""
    darken: Callable[[bool], None] = leave_light
    """Makes the bench dark, so that lamps can be looked at, or light again."""
    light: Callable[[LampGroup, bool], bool] = nobody
    """Switches lamps that no frame switches on or off; whether that was done."""
    let_go: Callable[[], None] = nothing
    """Ends the wait for a person who is asked to do something; called from another thread."""


class CutShort(Exception):
    """A person who does something by hand is waited for no longer: something else is wanted.

    Nobody knows then whether it was done.
    """


@dataclass(slots=True)
class Wishes:
    """What the person at the bench wants; set from any thread, looked at with every frame."""

    _now: Wish = "go_on"
    _lock: Lock = field(default_factory=Lock)

    def want(self, wish: Wish) -> None:
        """Say it.

        Parameters
        ----------
        wish
            `pause` holds the run where it is until `go_on`; `skip` leaves this step out; `redo`
            goes back to the step before; `stop` ends the run, which can be taken up again.
        """
        with self._lock:
            self._now = wish

    @property
    def stopping(self) -> bool:
        """Whether the run is to end."""
        with self._lock:
            return self._now == "stop"

    def look(self) -> Wish:
        """What is wanted now; a wish for one step is taken up by being looked at."""
        with self._lock:
            wish = self._now
            if wish in ("skip", "redo"):
                self._now = "go_on"
            return wish

    def instead(self) -> Wish | None:
        """What is wanted instead of the step in hand; None: nothing. Taken up as by `look`."""
        wish = self.look()
        return None if wish in ("go_on", "pause") else wish
