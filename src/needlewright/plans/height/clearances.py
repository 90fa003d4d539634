"""What a needle's height leaves to face, lens and grip: worst case, and by propagation.

Source: worst case, the sum of the tolerances (common practice, no source); propagation of
distributions by a Monte Carlo method, JCGM 101:2008, 5 to 7; sensitivities, JCGM 100:2008, 5.1.3.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from needlewright.plans.height.stack import HeightLimits, Stack, Toleranced

Side = Literal["at_least", "at_most"]
Setting = Literal["gauge", "depth"]
TRIALS: Final = 100_000
SEED: Final = 20_101
COVERAGE: Final = 0.95
_STEP_MM: Final = 1e-6

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What one length does to a clearance."""

    length: str
    per_mm: float
    u_mm: float
    """Its part of the clearance's standard uncertainty."""
    share: float
    """Of the clearance's variance, 0..1."""


@dataclass(frozen=True, slots=True)
class Clearance:
    """One clearance, held against its limit."""

    name: str
    side: Side
    limit_mm: float
    nominal_mm: float
    worst_mm: float
    """With every length at the limit that hurts most."""
    u_mm: float
    interval_mm: tuple[float, float]
    """95 %, probabilistically symmetric."""
    chance_outside: float
    """That it misses its limit."""
    sensitivities: tuple[Sensitivity, ...]
    """Largest first; those of lengths that do nothing are left out."""

    @property
    def room_mm(self) -> float:
        """How far the worst case keeps from the limit, negative where it misses it."""
        room = self.worst_mm - self.limit_mm
        return room if self.side == "at_least" else -room


def values_of(lengths: Mapping[str, Array | float], setting: Setting) -> dict[str, Array | float]:
    """Every clearance out of the lengths, for one unit or for many at once.

    Parameters
    ----------
    lengths
        By name as in `Stack`, and `set_to`: the gauge under the hub, or the depth pressed, mm.
    setting
        Which of the two `set_to` is.

    Returns
    -------
    dict
        By name of the clearance, mm; `top` is the needle's top surface at the hub above the face.
    """
    stands_out = lengths["shaft"] - lengths["face"]
    gap = lengths["set_to"] if setting == "gauge" else stands_out - lengths["set_to"]
    grip = stands_out - gap
    found: dict[str, Array | float] = {
        "hub to face": gap,
        "needle to face": gap + lengths["blade"] - lengths["droop"],
        "halo": gap,
        "grip": grip,
        "bore left": lengths["bore"] - grip,
        "top": gap + lengths["blade"] + lengths["thickness"],
    }
    if "lens" in lengths:
        highest = np.maximum(lengths["hub"], lengths["blade"] + lengths["thickness"])
        found["lens"] = lengths["lens"] - gap - highest
    return found


def clearances_of(
    stack: Stack, set_to: Toleranced, setting: Setting, limits: HeightLimits
) -> tuple[tuple[Clearance, ...], float]:
    """Every clearance of a stack, and the chance that a unit misses any limit.

    Parameters
    ----------
    stack
        The lengths.
    set_to
        Gauge under the hub, or depth pressed.
    setting
        Which of the two.
    limits
        What must be kept.

    Returns
    -------
    clearances, chance
        In the order of the work; the chance is counted from the same trials.
    """
    known = {**stack.named(), "set_to": set_to}
    nominal = values_of({name: one.mm for name, one in known.items()}, setting)
    drawn = values_of(_drawn(known), setting)
    missed = np.zeros(TRIALS, bool)
    found = []
    for want in _wanted(limits):
        if want.name not in nominal:
            continue
        seen = np.broadcast_to(np.asarray(drawn[want.name], float), (TRIALS,))
        missed |= _outside(want, seen)
        slopes = _slopes(known, setting, want.name)
        found.append(_clearance(want, float(nominal[want.name]), slopes, known, seen))
    return tuple(found), float(missed.mean())


@dataclass(frozen=True, slots=True)
class _Want:
    """A clearance and its limit."""

    name: str
    side: Side
    limit_mm: float

    def room(self, mm: float) -> float:
        return mm - self.limit_mm if self.side == "at_least" else self.limit_mm - mm


def _wanted(limits: HeightLimits) -> tuple[_Want, ...]:
    return (
        _Want("hub to face", "at_least", limits.contact_mm),
        _Want("needle to face", "at_least", limits.contact_mm),
        _Want("halo", "at_most", limits.halo_mm),
        _Want("lens", "at_least", limits.lens_mm),
        _Want("grip", "at_least", limits.grip_mm),
        _Want("bore left", "at_least", 0.0),
    )


def _drawn(known: Mapping[str, Toleranced]) -> dict[str, Array]:
    rng = np.random.default_rng(SEED)
    return {name: one.mm + deviates(one, TRIALS, rng) for name, one in known.items()}


def deviates(length: Toleranced, count: int, rng: np.random.Generator) -> Array:
    """Draws of a length about its value (JCGM 101:2008, 6.4.2 and 6.4.7), mm."""
    if length.shape == "rectangular":
        return rng.uniform(-length.tolerance_mm, length.tolerance_mm, count)
    return rng.normal(0.0, length.u_mm, count)


def _slopes(known: Mapping[str, Toleranced], setting: Setting, name: str) -> dict[str, float]:
    """How far the clearance moves for each millimetre of each length."""
    at: dict[str, Array | float] = {each: one.mm for each, one in known.items()}
    slopes = {}
    for each in known:
        more = values_of({**at, each: at[each] + _STEP_MM}, setting)[name]
        less = values_of({**at, each: at[each] - _STEP_MM}, setting)[name]
        slopes[each] = round(float(more - less) / (2 * _STEP_MM), 6)
    return slopes


def _outside(want: _Want, seen: Array) -> NDArray[np.bool_]:
    return seen < want.limit_mm if want.side == "at_least" else seen > want.limit_mm


def _away(slopes: Mapping[str, float], known: Mapping[str, Toleranced]) -> float:
    """How far the worst case lies from the nominal one."""
    return sum(abs(slope) * known[each].tolerance_mm for each, slope in slopes.items())


def _clearance(
    want: _Want,
    nominal: float,
    slopes: Mapping[str, float],
    known: Mapping[str, Toleranced],
    seen: Array,
) -> Clearance:
    away = _away(slopes, known)
    parts = {each: abs(slope) * known[each].u_mm for each, slope in slopes.items() if slope}
    u = float(np.hypot.reduce([*parts.values(), 0.0]))
    return Clearance(
        want.name,
        want.side,
        want.limit_mm,
        nominal,
        nominal - away if want.side == "at_least" else nominal + away,
        float(np.std(seen)),
        symmetric_interval(seen),
        float(_outside(want, seen).mean()),
        tuple(
            Sensitivity(each, slopes[each], part, (part / u) ** 2 if u else 0.0)
            for each, part in sorted(parts.items(), key=lambda part: -part[1])
        ),
    )


def symmetric_interval(seen: Array, coverage: float = COVERAGE) -> tuple[float, float]:
    """Probabilistically symmetric coverage interval of trials (JCGM 101:2008, 7.7.2)."""
    tail = (1 - coverage) / 2
    low, high = np.quantile(seen, (tail, 1 - tail))
    return float(low), float(high)


def gauge_window(stack: Stack, gauge: Toleranced, limits: HeightLimits) -> tuple[float, float]:
    """Gauges with which every limit is kept in the worst case.

    Parameters
    ----------
    stack
        The lengths.
    gauge
        Its tolerance counts; its length does not.
    limits
        What must be kept.

    Returns
    -------
    least_mm, most_mm
        The first is above the second where there is none.

    Notes
    -----
    Every clearance moves by one millimetre with the gauge, up or down; so each limit gives one
    end, found from any one gauge.
    """
    known = {**stack.named(), "set_to": replace(gauge, mm=0.0)}
    nominal = values_of({name: one.mm for name, one in known.items()}, "gauge")
    least, most = 0.0, inf
    for want in _wanted(limits):
        if want.name not in nominal:
            continue
        slopes = _slopes(known, "gauge", want.name)
        room = want.room(float(nominal[want.name])) - _away(slopes, known)
        if (slopes["set_to"] > 0) == (want.side == "at_least"):
            least = max(least, -room)
        else:
            most = min(most, room)
    return least, most
