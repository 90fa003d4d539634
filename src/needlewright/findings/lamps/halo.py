"""A halo at a hub: light leaks round it where the needle stands too high, its press fit loose.

It is said as it is, with what to do; no fault of the vocabulary is a needle set too high, so no
belief follows from it.

Source: common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, pi, sqrt
from typing import Final

from needlewright.readings.light.hubs import HubLight

SOUND_SPREAD: Final = 0.015
"""Standard deviation of the light round a sound hub, in that of lit print."""
HALO_TO: Final = 1.5
"""Light of a halo lies anywhere up to here."""
PRIOR: Final = 0.03
REMEDY: Final = (
    "set {dial}'s needle at its height with the family's gauge, and see that it is tight on its "
    "shaft: a needle that stands too high may sit loose"
)


@dataclass(frozen=True, slots=True)
class HubState:
    """One hub, judged."""

    dial: str
    halo: float | None
    """Probability that there is one; None: not seen."""
    light: float | None
    """Of the ring over its surroundings, in the light of lit print."""
    u_light: float | None
    why: str | None
    """Why it was not seen."""
    remedy: str | None = None
    """What to do; None: nothing."""


def judge_hubs(
    seen: Sequence[HubLight], healthy: Mapping[str, float] | None = None
) -> tuple[HubState, ...]:
    """Judge hubs.

    Parameters
    ----------
    seen
        Light round each.
    healthy
        Dial to the same of a healthy unit; None: there is no such picture.

    Returns
    -------
    tuple of HubState
        In the same order.
    """
    return tuple(_judged(one, healthy or {}) for one in seen)


def _judged(one: HubLight, healthy: Mapping[str, float]) -> HubState:
    if one.light is None or one.u_light is None:
        return HubState(one.dial, None, None, None, one.why)
    light = one.light - healthy.get(one.dial, 0.0)
    probability = halo_probability(light, one.u_light)
    remedy = REMEDY.format(dial=one.dial) if probability > 0.5 else None
    return HubState(one.dial, probability, light, one.u_light, None, remedy)


def halo_probability(light: float, u_light: float) -> float:
    """Probability that the light round a hub is a halo.

    Parameters
    ----------
    light
        Of the ring over its surroundings, in that of lit print.
    u_light
        Standard uncertainty, k = 1.

    Returns
    -------
    float
        0 to 1.
    """
    wide = sqrt(SOUND_SPREAD**2 + u_light**2)
    none = exp(-0.5 * (light / wide) ** 2) / (wide * sqrt(2 * pi))
    one = 1 / HALO_TO if light > 0 else exp(-0.5 * (light / wide) ** 2) / HALO_TO
    return PRIOR * one / (PRIOR * one + (1 - PRIOR) * max(none, 1e-12))
