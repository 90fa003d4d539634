"""The bench of a burn-in: real devices that nobody need stand beside, or a rehearsal."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.devices import Devices
from needlewright.composing.bench_devices import opened
from needlewright.errors import RunError, SignalError, UsageError
from needlewright.families.model import Family
from needlewright.families.signal_file import SupplyFile
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.warming import WarmingRehearsal
from needlewright.signals.model import FrameStimulus
from needlewright.signals.settings import BenchSettings
from needlewright.signals.wiring import signal_of

NO_LIMIT: Final = (
    "family '{name}' states no current limit: a burn-in runs without anybody there, so state what "
    'the cluster may draw as "supply": {{"limit_a": ...}} in family.json'
)


def limit_of(family: Family) -> float:
    """What a cluster may draw, as its family states it.

    Parameters
    ----------
    family
        The cluster design.

    Returns
    -------
    float
        Amperes.

    Raises
    ------
    RunError
        If it states none.
    """
    supply = family.supply
    if supply is None or "limit_a" not in supply.model_fields_set:
        raise RunError(NO_LIMIT.format(name=family.name))
    return float(supply.limit_a)


def rehearsed_limit(family: Family) -> float:
    """The same of a rehearsal, where nothing can burn."""
    return float((family.supply or SupplyFile()).limit_a)


def dials_without_a_person(family: Family, settings: BenchSettings) -> tuple[str, ...]:
    """The dials that a bench tells their values with nobody there.

    Parameters
    ----------
    family
        The cluster design.
    settings
        Of the bench.

    Returns
    -------
    tuple of str
        Ids, in the family's order.

    Raises
    ------
    RunError
        If the bench has no supply that can be asked and switched off, or tells no dial anything.
    """
    if settings.supply is None:
        raise RunError(
            "the bench has no supply that the program can limit and switch off: a burn-in runs "
            "without anybody there; state [supply] in the bench's settings"
        )
    found = []
    for dial in family.dials:
        try:
            command = signal_of(family, dial.id).command(dial.scale.values[0])
        except SignalError:
            continue
        stimulus = command.stimulus
        if settings.bus is not None and isinstance(stimulus, FrameStimulus):
            found.append(dial.id)
    if not found:
        raise RunError(
            f"no dial of family '{family.name}' is told its values by this bench without a person; "
            "state [bus] in the bench's settings"
        )
    return tuple(found)


@contextmanager
def rehearsed_burn_in(
    family: Family, unit: Unit, plan: BurnInPlan, hours: Callable[[], float]
) -> Iterator[Devices]:
    """The devices of a rehearsal whose chamber follows the plan.

    Parameters
    ----------
    family
        The cluster design.
    unit
        The cluster on the bench.
    plan
        With the chamber's temperatures.
    hours
        Of the burn-in until now.

    Yields
    ------
    Devices
        Ready.

    Raises
    ------
    UsageError
        If a movement cannot have its fault.
    """
    rehearsal = WarmingRehearsal(family, unit)
    if plan.chamber:

        def degc(seconds: float) -> float:
            del seconds
            told = plan.temperature_degc(hours())
            return unit.temperature_degc if told is None else told

        rehearsal.warm_by(degc)
    with opened(rehearsal) as devices:
        yield devices


def chamber_of(text: str) -> tuple[tuple[float, float], ...]:
    """A chamber's temperatures, as typed.

    Parameters
    ----------
    text
        Like `0=23,2=-20,6=23`: hours and degC.

    Returns
    -------
    tuple
        Hours and degC.

    Raises
    ------
    UsageError
        If it is something else.
    """
    found = []
    for part in filter(None, (one.strip() for one in text.split(","))):
        hour, equals, degc = part.partition("=")
        try:
            found.append((float(hour), float(degc)))
        except ValueError as error:
            raise UsageError(
                f"--chamber: expected HOUR=DEGC,... as in 0=23,2=-20,6=23, found '{part}'"
            ) from error
        if not equals:
            raise UsageError(f"--chamber: expected HOUR=DEGC, found '{part}'")
    return tuple(found)
