"""A bench to rehearse on: cluster, bus, wires and camera, with one clock that is let loose."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import can

from needlewright.families.lamps import LampGroup
from needlewright.families.model import Family
from needlewright.families.signal_file import SupplyFile
from needlewright.rehearsal.cluster.camera import FRAMES_HZ, SIZE_PX, Bench, ClusterCamera, view_of
from needlewright.rehearsal.cluster.cluster import SimulatedCluster, with_signals
from needlewright.rehearsal.cluster.faults import Injected
from needlewright.rehearsal.cluster.wires import LooseBus, OwnWires, virtual_bus
from needlewright.rehearsal.movement.figures import REFERENCE_DEGC
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.together import TransportsTogether


@dataclass(frozen=True, slots=True)
class Unit:
    """Which cluster is rehearsed on."""

    injected: tuple[Injected, ...] = ()
    temperature_degc: float = REFERENCE_DEGC
    seed: int = 0


class Rehearsal:
    """Everything a bench needs, simulated. Time passes only while a frame is waited for.

    Parameters
    ----------
    family
        The design; a dial without a signal gets an invented sender.
    unit
        What is wrong with the cluster, and how cold it is.
    size_px
        Of the camera's frames.
    frames_hz
        Frames a second of the cluster's time.
    noise_seed
        Of the camera's noise, so that the same unit gives other pictures another time; None: that
        of the unit.
    opened_by
        Opens the bench's adapter; another in tests.

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
        unit: Unit | None = None,
        *,
        size_px: tuple[int, int] = SIZE_PX,
        frames_hz: float = FRAMES_HZ,
        noise_seed: int | None = None,
        opened_by: Callable[[BusSettings], can.BusABC] = open_adapter,
    ) -> None:
        unit = unit or Unit()
        self.family, self.unit = with_signals(family), unit
        settings = virtual_bus()
        self._ear = open_adapter(settings)
        self.cluster = SimulatedCluster(
            self.family,
            unit.injected,
            temperature_degc=unit.temperature_degc,
            seed=unit.seed,
            bus=self._ear,
        )
        self.bus = LooseBus(settings, lambda: self.cluster.now_s, opened_by=opened_by)
        self.transport = TransportsTogether([self.bus, OwnWires(self.cluster)])
        view = view_of(self.family, size_px=size_px, seed=unit.seed, noise_seed=noise_seed)
        self._bench = Bench(view)
        limits = family.supply or SupplyFile()
        self._volts = limits.nominal_v
        self.camera = self.filming(frames_hz)

    def filming(self, frames_hz: float) -> ClusterCamera:
        """A camera in the same place, with another number of frames a second.

        Parameters
        ----------
        frames_hz
            Of the cluster's time.

        Returns
        -------
        ClusterCamera
            Of the same cluster.
        """
        return ClusterCamera(self.cluster, self.pass_time, bench=self._bench, frames_hz=frames_hz)

    def key(self, on: bool) -> None:
        """Turn the key.

        Parameters
        ----------
        on
            Whether it is on then.
        """
        if on:
            self.cluster.key_on()
        else:
            self.cluster.key_off()

    def darken(self, dark: bool) -> None:
        """Make the bench dark, or light again.

        Parameters
        ----------
        dark
            Whether it is dark then.
        """
        self._bench.dark = dark

    def light(self, group: LampGroup, on: bool) -> bool:
        """Switch lamps that no frame switches, as a person would.

        Parameters
        ----------
        group
            The lamps.
        on
            Whether they are on then.

        Returns
        -------
        bool
            True: it is always done.
        """
        self.cluster.lamps.switch([lamp.id for lamp in group.lamps], on)
        return True

    def supply_v(self) -> float:
        """What the supply of the bench measures at its output."""
        return self._volts if self.cluster.key else 0.0

    def supply_a(self) -> float:
        """What the cluster draws now, to a milliampere as supplies show it."""
        return round(self.cluster.current_a(self._volts), 3)

    def pass_time(self, seconds: float) -> None:
        """Let time pass on the bus and in the cluster.

        Parameters
        ----------
        seconds
            How much.
        """
        self.cluster.run(seconds, self.bus.send_due)

    def close(self) -> None:
        """Let go of the bus."""
        self._ear.shutdown()


def faults_said(injected: Iterable[Injected]) -> str:
    """What is wrong with a unit, for people."""
    return ", ".join(fault.text for fault in injected) or "sound"
