"""The devices of a bench run, put together: real ones, or a rehearsal."""

from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from typing import Final, Protocol

from needlewright.bench.camera import BenchCamera
from needlewright.bench.devices import Camera, Devices, nothing
from needlewright.bench.lamp_check import lamps_said
from needlewright.errors import TransportError
from needlewright.families.lamps import LampGroup
from needlewright.families.model import Family
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit, faults_said
from needlewright.signals.settings import BenchSettings
from needlewright.signals.transports.bench import Bench
from needlewright.signals.transports.vehicle import refuse_in_vehicle

REHEARSED: Final = "nothing of this was seen on a real cluster"
SWEEP_HZ: Final = 25.0
"""Frames a second of a rehearsed sweep, as a plain camera gives them."""


class WaitingCamera(Camera, Protocol):
    """A camera that lets time pass without keeping frames that would be old by then."""

    def wait(self, seconds: float) -> None:
        """Let so much time pass.

        Parameters
        ----------
        seconds
            How long.
        """


@dataclass(frozen=True, slots=True)
class RealBench:
    """What is asked of the real devices."""

    settings: BenchSettings
    camera: int
    """As the system counts, from 0."""
    in_vehicle: bool = False


@dataclass(frozen=True, slots=True)
class Person:
    """Whoever does by hand what no device carries."""

    show: Callable[[list[str]], None]
    """Puts lines before the person."""
    wait: Callable[[], bool]
    """Returns True when it is done, False when it is given up; raises `CutShort` when something
    else is wanted of the run."""
    let_go: Callable[[], None] = nothing
    """Ends such a wait from another thread, where that can be."""


def unit_words(unit: Unit) -> str:
    """What stands on the bench in place of a cluster, for people and for the records."""
    return (
        f"rehearsed, {faults_said(unit.injected)}, {unit.temperature_degc:g} degC, seed {unit.seed}"
    )


@contextmanager
def opened(rehearsal: Rehearsal) -> Iterator[Devices]:
    """The devices of a rehearsal, open.

    Parameters
    ----------
    rehearsal
        Not open yet; it is closed in the end.

    Yields
    ------
    Devices
        Ready.
    """
    try:
        with rehearsal.transport as transport:
            yield Devices(
                transport,
                rehearsal.camera,
                rehearsal.key,
                rehearsal.pass_time,
                supply_v=rehearsal.supply_v,
                bus=lambda: rehearsal.bus.status,
                supply_a=rehearsal.supply_a,
                film=rehearsal.filming(SWEEP_HZ),
                darken=rehearsal.darken,
                light=rehearsal.light,
            )
    finally:
        rehearsal.close()


@contextmanager
def rehearsed(family: Family, unit: Unit) -> Iterator[Devices]:
    """The devices of a rehearsal, made and opened.

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
    with opened(Rehearsal(family, unit)) as devices:
        yield devices


@contextmanager
def real(
    asked: RealBench,
    family: Family,
    person: Person,
    open_camera: Callable[[int], WaitingCamera] = BenchCamera,
) -> Iterator[Devices]:
    """The devices of the bench, open.

    Parameters
    ----------
    asked
        Which.
    family
        The cluster design, for the supply's limits.
    person
        Does the rest.
    open_camera
        Opens the camera of that number; another in tests.

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
    with closing(open_camera(asked.camera)) as camera:
        bench = Bench(
            asked.settings,
            family.supply,
            show=person.show,
            wait=person.wait,
            in_vehicle=asked.in_vehicle,
        )
        with bench:
            yield Devices(
                bench,
                camera,
                _key_of(bench, person),
                camera.wait,
                supply_v=lambda: None if bench.supply is None else bench.supply.reading().volts,
                bus=lambda: None if bench.bus is None else bench.bus.status,
                supply_a=lambda: None if bench.supply is None else bench.supply.reading().amperes,
                darken=_darkened_by(person),
                light=_lit_by(person),
                let_go=person.let_go,
            )


def _darkened_by(person: Person) -> Callable[[bool], None]:
    """The bench is made dark by a person, who is only told when it may be light again."""

    def darken(dark: bool) -> None:
        if not dark:
            person.show(["the bench may be light again"])
            return
        person.show(
            [
                "make the bench dark, so that only the cluster's own lamps light it",
                "leave the camera where it is",
            ]
        )
        if not person.wait():
            raise TransportError("the bench was not made dark: given up; go on from the lamps")

    return darken


def _lit_by(person: Person) -> Callable[[LampGroup, bool], bool]:
    """Lamps without a signal of their own are switched by a person; no is an answer too."""

    def light(group: LampGroup, on: bool) -> bool:
        if on:
            person.show(
                [
                    f"switch on the lamps of the group '{group.name}': {lamps_said(group.lamps)}",
                    "with the cluster's own switch or a wire; give up where it cannot be done",
                ]
            )
            return person.wait()
        person.show([f"switch the lamps of the group '{group.name}' off again"])
        return person.wait()

    return light


def _key_of(bench: Bench, person: Person) -> Callable[[bool], None]:
    """The supply is the key where there is one; else a person turns it."""

    def key(on: bool) -> None:
        if bench.supply is None:
            person.show([f"switch the cluster {'on' if on else 'off'} (key and supply)"])
            if not person.wait():
                raise TransportError("the key was not turned: given up at the bench")
        elif on:
            bench.power()

    return key
