"""The devices of a bench run, as the command line asks for them: at a terminal."""

from collections.abc import Iterator
from contextlib import contextmanager

from needlewright.bench.devices import Devices
from needlewright.cli import console
from needlewright.cli.signal_send import done_by_hand, show_lines
from needlewright.composing import bench_devices
from needlewright.composing.bench_devices import REHEARSED, Person, RealBench, rehearsed
from needlewright.families.model import Family
from needlewright.signals.transports.vehicle import IN_VEHICLE_CAUTION, refuse_in_vehicle
from needlewright.signals.words import BENCH_CAUTION

__all__ = ["REHEARSED", "RealBench", "real", "rehearsed"]


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
    person = Person(show_lines, done_by_hand)
    with bench_devices.real(asked, family, person) as devices:
        yield devices
