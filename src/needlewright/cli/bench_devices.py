"""The devices of a bench run, as the command line has them: real ones, or a rehearsal."""

from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from typing import Final

from needlewright.bench.camera import BenchCamera
from needlewright.bench.devices import Devices
from needlewright.cli import console
from needlewright.cli.signal_send import done_by_hand, show_lines
from needlewright.errors import TransportError
from needlewright.families.model import Family
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit
from needlewright.signals.settings import BenchSettings
from needlewright.signals.transports.bench import Bench
from needlewright.signals.transports.vehicle import IN_VEHICLE_CAUTION, refuse_in_vehicle
from needlewright.signals.words import BENCH_CAUTION

REHEARSED: Final = "nothing of this was seen on a real cluster"


@dataclass(frozen=True, slots=True)
class RealBench:
    """What is asked of the real devices."""

    settings: BenchSettings
    camera: int
    in_vehicle: bool


@contextmanager
def rehearsed(family: Family, unit: Unit) -> Iterator[Devices]:
    """The devices of a rehearsal, open.

    Parameters
    ----------
    family
        The cluster design.
    unit
        The cluster on the bench.

    Yields
    ------
    Devices
        Ready.

    Raises
    ------
    UsageError
        If a movement cannot have its fault.
    """
    rehearsal = Rehearsal(family, unit)
    try:
        with rehearsal.transport as transport:
            yield Devices(
                transport,
                rehearsal.camera,
                rehearsal.key,
                rehearsal.pass_time,
                bus=lambda: rehearsal.bus.status,
            )
    finally:
        rehearsal.close()


@contextmanager
def real(asked: RealBench, family: Family) -> Iterator[Devices]:
    """The devices of the bench, open; the caution is shown first.

    Parameters
    ----------
    asked
        Which.
    family
        The cluster design, for the supply's limits.

    Yields
    ------
    Devices
        Ready; nothing is on the wires, and the cluster is off.

    Raises
    ------
    TransportError
        If a device is absent, or the bus is a vehicle's and that is not meant.
    CameraError
        If the camera is.
    """
    if asked.settings.bus is not None:
        refuse_in_vehicle(asked.settings.bus.where, asked.in_vehicle)
    caution = IN_VEHICLE_CAUTION if asked.in_vehicle else BENCH_CAUTION
    console.err.print(caution, markup=False)
    with closing(BenchCamera(asked.camera)) as camera:
        bench = Bench(
            asked.settings,
            family.supply,
            show=show_lines,
            wait=done_by_hand,
            in_vehicle=asked.in_vehicle,
        )
        with bench:
            yield Devices(
                bench,
                camera,
                _key_of(bench),
                camera.wait,
                supply_v=lambda: None if bench.supply is None else bench.supply.reading().volts,
                bus=lambda: None if bench.bus is None else bench.bus.status,
            )


def _key_of(bench: Bench) -> Callable[[bool], None]:
    """The supply is the key where there is one; else a person turns it."""

    def key(on: bool) -> None:
        if bench.supply is None:
            show_lines([f"switch the cluster {'on' if on else 'off'} (key and supply)"])
            if not done_by_hand():
                raise TransportError("the key was not turned: given up at the bench")
        elif on:
            bench.power()

    return key
