"""A whole simulated cluster: it hears a bus and its own wires, and turns its needles in time."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Final

import can
import numpy as np

from needlewright.families.model import Dial, Family
from needlewright.families.signal_file import ResistanceFile
from needlewright.rehearsal.cluster.consumption import ELECTRONICS_A
from needlewright.rehearsal.cluster.faults import Injected, faults_of
from needlewright.rehearsal.cluster.firmware import DialFirmware
from needlewright.rehearsal.cluster.lamp_bank import LampBank
from needlewright.rehearsal.movement.figures import REFERENCE_DEGC
from needlewright.signals.model import Command
from needlewright.signals.transports.adapter import frame_of
from needlewright.signals.wiring import signals_of

SLICE_S: Final = 0.01
"""How often the bus is listened to."""
INVENTED_OHM: Final = (240.0, 33.0)
"""Of the sender that is invented for a dial whose family states no signal."""


class SimulatedCluster:
    """One cluster on the bench.

    Parameters
    ----------
    family
        The design.
    injected
        What is wrong with this unit.
    temperature_degc
        Of its movements.
    seed
        Of what is left to chance.
    bus
        Where it listens; None: it hears its own wires only.

    Raises
    ------
    UsageError
        If a movement cannot have its fault.
    SignalError
        If a signal of the family cannot be used.
    """

    def __init__(
        self,
        family: Family,
        injected: Iterable[Injected] = (),
        *,
        temperature_degc: float = REFERENCE_DEGC,
        seed: int = 0,
        bus: can.BusABC | None = None,
    ) -> None:
        self.family, self.temperature_degc = family, temperature_degc
        self.now_s = 0.0
        self._bus = bus
        signals, faults = signals_of(family), tuple(injected)
        self.dials = {
            dial.id: DialFirmware(
                dial,
                signals.get(dial.id),
                faults_of(dial, faults),
                temperature_degc=temperature_degc,
                rng=np.random.default_rng([seed, 11, place]),
            )
            for place, dial in enumerate(family.dials)
        }
        self.lamps = LampBank(family, faults)
        self.key = False

    def key_on(self) -> None:
        """Switch on; every movement finds its zero."""
        self.key = True
        for dial in self.dials.values():
            dial.key_on()

    def key_off(self) -> None:
        """Switch off; needles are driven to rest first."""
        self.key = False
        self.lamps.all_off()
        for dial in self.dials.values():
            dial.key_off()

    def wire(self, commands: Iterable[Command]) -> None:
        """Put stimuli on the dials' own wires, where they stay.

        Parameters
        ----------
        commands
            One a dial.
        """
        for command in commands:
            dial = self.dials.get(command.dial)
            if dial is not None:
                dial.hear(command.stimulus, self.now_s, steady=True)

    def unwire(self) -> None:
        """Take everything off the dials' own wires."""
        for dial in self.dials.values():
            dial.hear_nothing()

    def run(self, seconds: float, send: Callable[[], float | None] | None = None) -> None:
        """Let time pass.

        Parameters
        ----------
        seconds
            How much.
        send
            Puts on the bus what is due by now, and says when more is, seconds of the cluster's
            time; None: it must be called each time the bus is listened to. Left out: what comes to
            the bus comes from elsewhere.
        """
        left = round(seconds / SLICE_S)
        while left > 0:
            due_s = None if send is None else send()
            self._listen()
            left -= self._slices(left, due_s)
        for dial in self.dials.values():
            dial.catch_up()

    def _slices(self, most: int, due_s: float | None) -> int:
        """Let slices pass in which nothing comes to the bus, one at least; how many they were."""
        count, now_s = 1, self.now_s + SLICE_S
        if due_s is not None:
            lapse_s = min((dial.lapses_s for dial in self.dials.values()), default=due_s)
            until_s = min(due_s, lapse_s - SLICE_S)
            while count < most and now_s < until_s:
                count, now_s = count + 1, now_s + SLICE_S
        for dial in self.dials.values():
            dial.run(round(SLICE_S / dial.tick_s), self.now_s, times=count)
        self.now_s = now_s
        return count

    def angles_deg(self) -> Mapping[str, float]:
        """Where every needle stands now, degrees clockwise from 12 o'clock."""
        return {name: dial.angle_deg for name, dial in self.dials.items()}

    def lit(self) -> Mapping[str, float]:
        """Light of every lamp that is switched on now, as a share of a sound one's."""
        return self.lamps.shares(self.now_s) if self.key else {}

    def current_a(self, volts: float) -> float:
        """What the cluster draws now.

        Parameters
        ----------
        volts
            Of its supply.

        Returns
        -------
        float
            Amperes: electronics, coils and lamps; 0 with the key off.
        """
        if not self.key:
            return 0.0
        coils = sum(dial.current_a for dial in self.dials.values())
        return ELECTRONICS_A + coils + self.lamps.current_a(self.now_s, volts)

    def _listen(self) -> None:
        if self._bus is None:
            return
        while (message := self._bus.recv(0)) is not None:
            frame = frame_of(message)
            if frame is None or not self.key:
                continue
            self.lamps.hear(frame, self.now_s)
            for dial in self.dials.values():
                dial.hear(frame, self.now_s)


def with_signals(family: Family) -> Family:
    """A family whose every dial can be told something.

    Parameters
    ----------
    family
        The design.

    Returns
    -------
    Family
        A dial that states no signal has an invented sender: its resistance falls as the value
        rises.
    """
    dials = tuple(
        dial if dial.signal is not None else replace(dial, signal=_sender())
        for dial in family.dials
    )
    return replace(family, dials=dials)


def invented_senders(family: Family) -> tuple[Dial, ...]:
    """The dials for which `with_signals` invents a sender."""
    return tuple(dial for dial in family.dials if dial.signal is None)


def _sender() -> ResistanceFile:
    return ResistanceFile(kind="resistance", pair=INVENTED_OHM, table=None, steinhart_hart=None)
