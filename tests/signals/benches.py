"""Transports on benches that are simulated: buses in the process, a supply that is a file."""

import threading
from itertools import count
from pathlib import Path

import can

from needlewright.errors import TransportError
from needlewright.families.signal_file import SupplyFile
from needlewright.signals.model import Command, FrameStimulus, ResistanceStimulus, VoltageStimulus
from needlewright.signals.settings import BusSettings, SupplySettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.supply import SupplyTransport
from needlewright.signals.transports.visa import open_visa

SUPPLY = SupplySettings(
    resource="TCPIP0::localhost::5025::SOCKET",
    library=f"{Path(__file__).parent / 'data' / 'supply.yaml'}@sim",
)
LIMITS = SupplyFile(nominal_v=13.5, lowest_v=9.0, highest_v=16.0, limit_a=2.0)
NUMBERS = count()


def virtual() -> BusSettings:
    """A bus of its own in the process."""
    return BusSettings(interface="virtual", channel=f"test {next(NUMBERS)}")


def supply() -> SupplyTransport:
    """The invented supply, drawing what a sound cluster draws; it remembers within a process."""
    session = open_visa(SUPPLY)
    session.write("TEST:CURR 0.300")
    session.write("TEST:VOLT 13.500")
    session.close()
    return SupplyTransport(SUPPLY, LIMITS)


def frame_command(dial: str, number: int, value: int, period_s: float = 0.002) -> Command:
    """A dial told a number in the first byte of an 11-bit frame."""
    data = bytes((value,)) + bytes(7)
    stimulus = FrameStimulus(number, False, data, 0xFF << 56, period_s)
    return Command(dial, "rpm", value, value, 0.0, stimulus)


def volts_command(dial: str, volts: float) -> Command:
    """A dial told volts."""
    return Command(dial, "V", volts, volts, None, VoltageStimulus(volts))


def ohm_command(dial: str, ohm: float) -> Command:
    """A dial told a resistance."""
    return Command(dial, "ohm", ohm, ohm, None, ResistanceStimulus(ohm))


class Plug:
    """An adapter that can be pulled out and put back, on a bus in the process."""

    def __init__(self) -> None:
        self.plugged = True
        self.opened = 0
        self.let_go = threading.Event()
        """Set when the adapter is given up."""

    def open(self, settings: BusSettings) -> can.BusABC:
        """Opens where it is plugged in."""
        if not self.plugged:
            raise TransportError("adapter virtual: cannot be opened: no such device")
        self.opened += 1
        bus = open_adapter(settings)
        send, shutdown = bus.send, bus.shutdown

        def send_if_plugged(message: can.Message, timeout: float | None = None) -> None:
            if not self.plugged:
                raise can.CanOperationError("no such device")
            send(message, timeout)

        def shut_down_and_say_so() -> None:
            shutdown()
            self.let_go.set()

        bus.send, bus.shutdown = send_if_plugged, shut_down_and_say_so
        return bus
