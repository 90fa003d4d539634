"""Which zones of a face are dark or dim.

A zone's light is held against what sound, dim and dark zones show. Sound lamps of one face differ
by a tenth or so; a dim one may have any light between a sound one's and nearly none; a dead one
leaves what its neighbours throw over.

Source: spreads and shares beforehand: common practice, no source. Bayes' rule.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import dist, erf, exp, pi, sqrt
from typing import Final, Literal

from needlewright.readings.light.zone_light import Evenness, FaceLight, ZoneLight, evenness_of

SOUND_SPREAD: Final = 0.10
"""Relative standard deviation between sound lamps of one face."""
DARK_BELOW: Final = 0.35
"""Light of a dead lamp's zone lies anywhere from 0 to here: neighbours light it too."""
DIM: Final = (0.2, 0.85)
"""Light of a dim zone lies anywhere between these."""
NEIGHBOUR_SPREAD: Final = 0.22
"""The same where the nearest zone is dark: a sound lamp misses what that one threw over."""
PRIOR: Final = {"sound": 0.85, "dim": 0.10, "dark": 0.05}
"""Of a zone beforehand."""

State = Literal["sound", "dim", "dark"]
STATES: Final[tuple[State, ...]] = ("sound", "dim", "dark")


@dataclass(frozen=True, slots=True)
class ZoneState:
    """One zone, judged."""

    seen: ZoneLight
    probabilities: dict[State, float] | None
    """None: it was not seen."""
    against: Literal["brightest", "mirror"] = "brightest"
    """What decided: the brightest zones, or its mirror image."""

    @property
    def state(self) -> State | None:
        """The most probable; None: not seen."""
        found = self.probabilities
        return None if found is None else max(found.items(), key=lambda one: one[1])[0]


@dataclass(frozen=True, slots=True)
class FaceState:
    """A face, judged."""

    face: FaceLight
    zones: tuple[ZoneState, ...]
    evenness: Evenness | None


def judge_zones(face: FaceLight) -> FaceState:
    """Judge every zone of a face.

    Parameters
    ----------
    face
        What was measured.

    Returns
    -------
    FaceState
        Zones in the same order.
    """
    first = tuple(_judged(zone, face) for zone in face.zones)
    dark = [one.seen for one in first if one.state == "dark"]
    again = tuple(
        _judged(one.seen, face, NEIGHBOUR_SPREAD) if _beside(one.seen, dark, face) else one
        for one in first
    )
    return FaceState(face, again, evenness_of(face))


def _beside(zone: ZoneLight, dark: Sequence[ZoneLight], face: FaceLight) -> bool:
    """Whether a dark zone is the nearest one, or as near as that."""
    if zone in dark or not dark:
        return False
    nearest = min(_apart(zone, other) for other in face.zones if other is not zone)
    return any(_apart(zone, other) < 1.2 * nearest for other in dark)


def _apart(one: ZoneLight, other: ZoneLight) -> float:
    return dist(one.zone.middle_mm, other.zone.middle_mm)


def _judged(zone: ZoneLight, face: FaceLight, spread: float = SOUND_SPREAD) -> ZoneState:
    if zone.light is None or zone.u_light is None:
        return ZoneState(zone, None)
    mirror = zone.against_mirror
    if face.reference == "print" and mirror is not None and mirror.light < zone.light:
        # its mirror image has the same inks: what the print cannot say, that one can
        return ZoneState(zone, state_probabilities(mirror.light, mirror.u_light, spread), "mirror")
    return ZoneState(zone, state_probabilities(zone.light, zone.u_light, spread))


def state_probabilities(
    light: float, u_light: float, spread: float = SOUND_SPREAD
) -> dict[State, float]:
    """What a zone's light says of it.

    Parameters
    ----------
    light
        Beside that of sound zones, 0 or more.
    u_light
        Standard uncertainty, k = 1.
    spread
        Relative standard deviation between sound zones.

    Returns
    -------
    dict
        State to probability; they sum to one.
    """
    u = max(u_light, 1e-4)
    wide = sqrt(spread**2 + u**2)
    # brighter than sound ones is sound: nothing else makes a zone bright
    sound = exp(-0.5 * (min(light - 1.0, 0.0) / wide) ** 2) / (wide * sqrt(2 * pi))
    likely = {
        "sound": sound,
        "dim": _between(min(light, 1.0), u, *DIM),
        "dark": _between(min(light, 1.0), u, 0.0, DARK_BELOW),
    }
    weights = {state: PRIOR[state] * max(likely[state], 1e-12) for state in STATES}
    total = sum(weights.values())
    return {state: weights[state] / total for state in STATES}


def _between(light: float, u: float, low: float, high: float) -> float:
    """Density of a light that lies anywhere between two, measured with an uncertainty."""
    above, below = (0.5 * (1 + erf((light - edge) / (u * sqrt(2)))) for edge in (low, high))
    return (above - below) / (high - low)
