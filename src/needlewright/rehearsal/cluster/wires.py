"""What carries the bench's commands to a simulated cluster, on a clock let loose.

Frames go out by python-can on a virtual bus, each when it is due by the cluster's own time, so that
a run takes as long as the machine needs and the cluster sees the rates it would see.
"""

from collections.abc import Callable, Mapping
from itertools import count
from math import inf
from typing import ClassVar, Final

import can

from needlewright.errors import SignalError, TransportError
from needlewright.rehearsal.cluster.cluster import SimulatedCluster
from needlewright.signals.model import Command, FrameStimulus, Stimulus
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.bus import PATIENCE_S, RETRY_S
from needlewright.signals.transports.bus_link import BusLink, BusStatus
from needlewright.signals.transports.schedule import Schedule
from needlewright.signals.transports.transport import Transport

_NUMBERS: Final = count(1)


def virtual_bus() -> BusSettings:
    """Settings of a virtual bus that nobody else in this process is on."""
    return BusSettings(interface="virtual", channel=f"rehearsal-{next(_NUMBERS)}")


class LooseBus(Transport):
    """Sends the frames of all dials, each at its rate, by a clock that is handed in.

    Parameters
    ----------
    settings
        The adapter.
    clock
        Seconds of the cluster's time.
    opened_by
        Opens the adapter; another in tests.
    """

    name: ClassVar[str] = "bus adapter"

    def __init__(
        self,
        settings: BusSettings,
        clock: Callable[[], float],
        *,
        opened_by: Callable[[BusSettings], can.BusABC] = open_adapter,
    ) -> None:
        super().__init__()
        self._link, self._clock = BusLink(settings, opened_by), clock
        self._is_alone = opened_by is open_adapter
        self._schedule = Schedule()
        self._down_since_s: float | None = None
        self._tried_s = 0.0

    @property
    def status(self) -> BusStatus:
        """How the bus is doing now."""
        return self._link.status

    def carries(self, stimulus: Stimulus) -> bool:
        """Frames that are repeated."""
        return isinstance(stimulus, FrameStimulus) and stimulus.period_s is not None

    def send_due(self) -> float | None:
        """Send what is due by now; a bus that is down is tried again.

        Returns
        -------
        float or None
            When more is due, by the clock; None: the bus is down, or its adapter is one that may
            go down at any time, so that it is asked again at once.
        """
        now_s = self._clock()
        if not self._link.status.up:
            self._down_since_s = now_s if self._down_since_s is None else self._down_since_s
            if now_s - self._tried_s < RETRY_S or not self._again(now_s):
                return None
        self._down_since_s = None
        for frame, _ in self._schedule.take_due(now_s):
            self._link.send(frame)
        if not self._is_alone:
            while self._link.receive(0.0) is not None:  # nobody else reads what comes back
                pass
            return None
        if not self._link.status.up:
            return None
        due_s = self._schedule.next_due_s()
        return inf if due_s is None else due_s

    def _again(self, now_s: float) -> bool:
        self._tried_s = now_s
        return self._state == "open" and self._link.reopen()

    def _open(self) -> None:
        self._link.open()
        self._down_since_s = None

    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        del new
        frames = [c.stimulus for c in wanted.values() if isinstance(c.stimulus, FrameStimulus)]
        try:
            self._schedule.replace(frames, self._clock())
        except SignalError as error:
            raise TransportError(str(error)) from error

    def _check(self) -> None:
        since_s = self._down_since_s
        if since_s is not None and self._clock() - since_s > PATIENCE_S:
            raise TransportError(
                f"the bus has been down for {self._clock() - since_s:.0f} s: {self.status.words}; "
                "check the plug and the power, then go on from the same check point"
            )

    def _stop(self) -> None:
        self._schedule.clear()

    def _close(self) -> None:
        self._link.close()


class OwnWires(Transport):
    """Every other stimulus, straight to the simulated cluster: it stays until it is taken off.

    Parameters
    ----------
    cluster
        At the other end.
    """

    name: ClassVar[str] = "wires of the rehearsal"

    def __init__(self, cluster: SimulatedCluster) -> None:
        super().__init__()
        self._cluster = cluster

    def carries(self, stimulus: Stimulus) -> bool:
        """Whatever it is."""
        del stimulus
        return True

    def _open(self) -> None:
        return

    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        del wanted
        self._cluster.wire(new)

    def _check(self) -> None:
        return

    def _stop(self) -> None:
        self._cluster.unwire()

    def _close(self) -> None:
        return
