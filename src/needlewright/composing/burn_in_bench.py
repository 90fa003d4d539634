"""The bench of a burn-in: real devices that nobody need stand beside, or a rehearsal."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import isfinite
from time import thread_time
from typing import Final

import cv2
import numpy as np

from needlewright.bench.burn_in.attended import rehearsed_look_s
from needlewright.bench.burn_in.lamps import watched_lamps
from needlewright.bench.burn_in.plan import SHARES, SWEEP_S, BurnInPlan
from needlewright.bench.devices import Devices
from needlewright.composing.bench_devices import opened
from needlewright.errors import RunError, SignalError, UsageError
from needlewright.families.lamps import lamp_groups
from needlewright.families.model import Family
from needlewright.families.signal_file import SupplyFile
from needlewright.rehearsal.cluster.camera import SIZE_PX
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.warming import WarmingRehearsal
from needlewright.signals.model import FrameStimulus
from needlewright.signals.settings import BenchSettings
from needlewright.signals.wiring import signal_of

BLURS: Final = 7
CALIBRATED_DIALS: Final = 4
BESIDE_DIALS: Final = 3
"""Finding the face and taking the frame is as much work as so many dials."""
SWEEP_BLURS: Final = 2770.0
LOOK_BLURS: Final = 29.4
DWELL_BLURS: Final = 340.0
STEP_BLURS: Final = 380.0
SECOND_BLURS: Final = 1.1
"""The work of a sweep, a look of a dwell, the rest of a dwell, a step of a visit and a rehearsed
second, for a face of four dials (`python benchmarks/burn_in.py --pace`)."""
NO_LIMIT: Final = (
    "family '{name}' states no current limit: a burn-in runs without anybody there, so state what "
    'the cluster may draw as "supply": {{"limit_a": ...}} in family.json'
)

DARK_NEEDS: Final = (
    "looks at the lamps in the dark need a bench light that the program can switch, and no bench's "
    "settings name one: dim the light, or shade the face, until the run's first look sees the "
    "lamps, or look at them in the dark by hand: needlewright light"
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


def refuse_on_real_bench(plan: BurnInPlan) -> None:
    """Refuse what no real bench can do with nobody there.

    Parameters
    ----------
    plan
        Of a real cluster.

    Raises
    ------
    RunError
        If the bench's light is to be switched.
    """
    if plan.dark_lamps:
        raise RunError(DARK_NEEDS)


def lamps_beforehand(family: Family, plan: BurnInPlan) -> dict[str, tuple[str, ...]]:
    """Which lamps a burn-in can watch, as far as that is known before the first look.

    Parameters
    ----------
    family
        The cluster design.
    plan
        What is to be done.

    Returns
    -------
    dict
        Ids: `watched` have a place on the face and are lit; of those `by_hand` are switched on by
        a person at the start; `no_place` have none, and nobody looks at them.
    """
    if not plan.lamps:
        return {"watched": (), "by_hand": (), "no_place": ()}
    lamps = (*family.lamps, *family.tell_tales)
    placed = {one.id for one in watched_lamps(family)}
    by_hand = {one.id for group in lamp_groups(lamps) for one in group.by_hand}
    return {
        "watched": tuple(one.id for one in lamps if one.id in placed),
        "by_hand": tuple(one.id for one in lamps if one.id in by_hand),
        "no_place": tuple(one.id for one in lamps if one.id not in placed),
    }


@dataclass(frozen=True, slots=True)
class RehearsalWork:
    """How much work a rehearsed burn-in is to this computer, one of its cores with nothing else."""

    whole_s: float
    """Of all hours, seconds."""
    per_hour_s: float
    """Of a rehearsed hour, seconds."""


def blur_s() -> float:
    """What this computer takes to blur a picture of the rehearsed camera's size once.

    Returns
    -------
    float
        Seconds of a core; the least of a few times.
    """
    wide, high = SIZE_PX
    picture = np.zeros((high, wide, 3), np.float32)

    def once() -> float:
        begun_s = thread_time()
        cv2.GaussianBlur(picture, (0, 0), 2.0)
        return thread_time() - begun_s

    return min(once() for _ in range(BLURS))


def rehearsal_work(plan: BurnInPlan, dials: int, each_blur_s: float | None = None) -> RehearsalWork:
    """How much work a rehearsed burn-in is, to be told before it is begun.

    Parameters
    ----------
    plan
        What is to be done.
    dials
        Of the face: each is drawn and read, told something or not.
    each_blur_s
        Of `blur_s`; None: it is measured.

    Returns
    -------
    RehearsalWork
        An estimate from the work of each part, of which a blur is the unit so that computers
        compare; a fault that makes sweeps slower or brings strips of pictures costs more.
    """
    unit_s = blur_s() if each_blur_s is None else each_blur_s
    reads = (dials + BESIDE_DIALS) / (CALIBRATED_DIALS + BESIDE_DIALS)
    looks = plan.dwell_s / rehearsed_look_s(plan)
    sweep = SWEEP_BLURS * reads + SWEEP_S * SECOND_BLURS
    dwell = (looks * LOOK_BLURS + DWELL_BLURS) * reads + plan.dwell_s * SECOND_BLURS
    turn_s = plan.dwell_s + plan.sweeps_each * SWEEP_S
    turns = plan.hours * 3600.0 / turn_s
    steps = max((len(points) for points in plan.points.values()), default=len(SHARES))
    visits = 2 + int(plan.hours / plan.check_every_h)
    blurs = turns * (plan.sweeps_each * sweep + dwell) + visits * steps * STEP_BLURS * reads
    return RehearsalWork(blurs * unit_s, blurs * unit_s / plan.hours)


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
            if not all(map(isfinite, found[-1])):
                raise ValueError
        except ValueError as error:
            raise UsageError(
                f"--chamber: expected HOUR=DEGC,... as in 0=23,2=-20,6=23, found '{part}'"
            ) from error
        if not equals:
            raise UsageError(f"--chamber: expected HOUR=DEGC, found '{part}'")
    return tuple(found)
