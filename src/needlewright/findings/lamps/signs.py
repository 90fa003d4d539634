"""Tell-tales and segments of displays that did not light.

A lit sign may have a tenth or ten times another's light; an unlit one has what the room and the
scatter of the lens leave. Where none of a group lights, whether it was switched on at all is the
first question, and no photo answers it.

Source: spreads and shares beforehand: common practice, no source. Bayes' rule.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, pi, sqrt
from typing import Final, Literal

from needlewright.readings.light.spots import SpotLight

PRIOR_DEAD: Final = 0.03
LIT_AT: Final = 0.7
LIT_SPREAD: Final = 0.8
"""Of the natural logarithm of a lit sign's light, in that of the brightest of its photo."""
LIT_SPREAD_KNOWN: Final = 0.35
"""The same against the same sign of a healthy unit."""
SCATTER: Final = 0.015
"""Standard deviation of an unlit sign's light, in that of a lit one: room and lens."""
ANYTHING: Final = 1e-4
"""Density of what nobody thought of."""
SURELY_LIT: Final = 1e-4
"""Probability that a sign that is blown out is dark."""
TELLING: Final = 8.0
"""Times its uncertainty, and `LEAST_LIGHT`, that the brightest sign needs for any to count as
lit."""
LEAST_LIGHT: Final = 0.02
"""Of the photo's white."""

SignKind = Literal["tell_tale", "segment"]


@dataclass(frozen=True, slots=True)
class SignState:
    """One sign, judged."""

    id: str
    kind: SignKind
    dark: float | None
    """Probability that it did not light; None: not seen."""
    light: float | None
    """In that of what it was held against; None: not seen."""
    u_light: float | None
    why: str | None
    """Why it was not seen."""
    of: str | None = None
    """The display it is part of."""


def judge_signs(
    seen: Sequence[SpotLight],
    kind: SignKind,
    *,
    not_lit: Sequence[str] = (),
    healthy: Mapping[str, float] | None = None,
    of: str | None = None,
) -> tuple[SignState, ...]:
    """Judge signs that were all told to light in one photo.

    Parameters
    ----------
    seen
        What the photo shows of each.
    kind
        What they are.
    not_lit
        Ids of those that nobody could switch on.
    healthy
        Id to the light of the same sign of a healthy unit, in any one scale.
    of
        The display they are parts of.

    Returns
    -------
    tuple of SignState
        In the same order.
    """
    told = [one for one in seen if one.spot.id not in not_lit and one.light is not None]
    held = _HeldAgainst(_scale(told, healthy), healthy)
    return tuple(
        _unseen(one, kind, "nobody could switch it on", of)
        if one.spot.id in not_lit
        else _judged(one, kind, held, of)
        for one in seen
    )


@dataclass(frozen=True, slots=True)
class _HeldAgainst:
    """What signs are held against."""

    scale: float | None
    """Light of one that lights as it should, or its share of a healthy unit's; None: none does."""
    healthy: Mapping[str, float] | None


def _scale(told: list[SpotLight], healthy: Mapping[str, float] | None) -> float | None:
    """Light of a sign that lights as it should; None: none does."""
    lit = [
        one
        for one in told
        if one.light is not None
        and one.u_light is not None
        and one.light > max(TELLING * one.u_light, LEAST_LIGHT)
    ]
    if not lit:
        return None
    if healthy is None:
        return max(one.light or 0.0 for one in lit)
    shares = sorted(
        (one.light or 0.0) / healthy[one.spot.id] for one in lit if one.spot.id in healthy
    )
    return shares[len(shares) // 2] if shares else None


def _judged(one: SpotLight, kind: SignKind, held: _HeldAgainst, of: str | None) -> SignState:
    if one.light is None or one.u_light is None:
        return _unseen(one, kind, one.why or "not seen", of)
    if held.scale is None:
        return _unseen(one, kind, "nothing of its group lights; was it switched on?", of)
    wanted, spread, at = held.scale, LIT_SPREAD, LIT_AT
    if held.healthy is not None:
        if one.spot.id not in held.healthy:
            return _unseen(one, kind, "it is dark in the healthy picture too", of)
        wanted, spread, at = held.scale * held.healthy[one.spot.id], LIT_SPREAD_KNOWN, 1.0
    light, u = one.light / wanted, one.u_light / wanted
    dark = SURELY_LIT if one.saturated else dark_probability(light, u, at, spread)
    return SignState(one.spot.id, kind, dark, light, u, None, of)


def _unseen(one: SpotLight, kind: SignKind, why: str, of: str | None) -> SignState:
    return SignState(one.spot.id, kind, None, None, None, why, of)


def dark_probability(
    light: float, u_light: float, at: float = LIT_AT, spread: float = LIT_SPREAD
) -> float:
    """Probability that a sign did not light.

    Parameters
    ----------
    light
        In that of a sign that lights as it should.
    u_light
        Standard uncertainty, k = 1.
    at
        Light in the middle of lit ones.
    spread
        Of its natural logarithm.

    Returns
    -------
    float
        0 to 1.
    """
    wide = sqrt(SCATTER**2 + u_light**2)
    # darker than its surroundings is dark: a sign's chamber lets no other light in
    dark = exp(-0.5 * (max(light, 0.0) / wide) ** 2) / (wide * sqrt(2 * pi)) + ANYTHING
    lit = ANYTHING
    if light > 0:
        off = log(light / at) / spread
        lit += exp(-0.5 * off**2) / (light * spread * sqrt(2 * pi))
    return PRIOR_DEAD * dark / (PRIOR_DEAD * dark + (1 - PRIOR_DEAD) * lit)
