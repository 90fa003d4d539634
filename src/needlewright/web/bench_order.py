"""What is asked of a bench: the run, the devices opened for it, and the places it takes."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from secrets import randbits

from needlewright.bench.devices import Devices
from needlewright.composing.bench_choice import BenchChoice, settings_of, unit_of
from needlewright.composing.bench_devices import Person, RealBench, opened, real
from needlewright.families.model import Family
from needlewright.records.opening import Shop
from needlewright.rehearsal.cluster.rehearsal import Rehearsal
from needlewright.rehearsal.movement.figures import REFERENCE_DEGC
from needlewright.web.bench_person import PersonAtPage

OpenDevices = Callable[[Shop, Family, BenchChoice, PersonAtPage], AbstractContextManager[Devices]]


@dataclass(frozen=True, slots=True)
class Order:
    """A run somebody wants to begin or to go on with."""

    shop: Shop
    family: Family
    """As it is told at this bench."""
    choice: BenchChoice
    by: str | None


def open_devices(
    shop: Shop, family: Family, choice: BenchChoice, person: PersonAtPage
) -> AbstractContextManager[Devices]:
    """The devices of a choice, to be entered.

    Parameters
    ----------
    shop
        Whose settings they are.
    family
        The cluster design.
    choice
        The bench.
    person
        Does the rest by hand.

    Returns
    -------
    AbstractContextManager
        Of the devices, open.

    Raises
    ------
    NeedlewrightError
        If a setting or a fault cannot be used.
    """
    if choice.is_rehearsal:
        # another noise each time: no two pictures of two runs are the same
        return opened(Rehearsal(family, unit_of(choice, family), noise_seed=randbits(31)))
    asked = RealBench(settings_of(shop, choice.settings), choice.camera)
    return real(asked, family, Person(person.show, person.wait, person.cut_short))


def run_place(run_id: int) -> str:
    """What a run itself is called among the places that are taken: it is on once."""
    return f"run {run_id}"


def places_of(shop: Shop, choice: BenchChoice) -> tuple[str, ...]:
    """What only one run at a time may have, whichever settings file names it.

    Parameters
    ----------
    shop
        Whose settings they are.
    choice
        The bench.

    Returns
    -------
    tuple of str
        The bench's own, then its devices.

    Raises
    ------
    NeedlewrightError
        If its settings cannot be used.
    """
    places = list(choice.places)
    settings = settings_of(shop, choice.settings)
    if settings.supply is not None:
        places.append(f"supply {settings.supply.resource.strip().upper()}")
    if settings.bus is not None:
        channel = "" if settings.bus.channel is None else f" {settings.bus.channel}"
        places.append(f"bus adapter {settings.bus.interface}{channel}")
    return tuple(places)


def temperature_of(choice: BenchChoice) -> float | None:
    """Of the cluster on the bench, degC; None: not known."""
    if choice.is_rehearsal and choice.temperature_c is None:
        return REFERENCE_DEGC
    return choice.temperature_c
