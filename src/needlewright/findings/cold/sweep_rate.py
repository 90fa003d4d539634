"""How cold a movement will still work, from how fast it still runs in the warm.

A motor turns against its grease as long as its torque is the larger:

    M(T, rate) - dry friction  >  B x viscosity(T) x rate

At room temperature it holds up to some rate; at the rate the cluster asks of it, the grease may be
thicker by the same ratio before it slips. The viscosity of the family's grease goes with absolute
temperature as exp(k / T), so that ratio is a temperature. The torque is not the same at both: it
falls toward high rates, where the coils' inductance keeps the current out and the turning magnet's
own voltage takes of what is left, each about in proportion to the rate; and it grows in the cold,
copper losing 0.393 % of its resistance and a ferrite magnet gaining 0.2 % a kelvin. Neither is
known of a movement on the bench, so both ends are taken, torque that is flat and torque that falls
with the square of the rate, and the answer is a range.

Source: viscosity of liquids over temperature, E. N. da C. Andrade's law, any textbook; resistance
of copper: any handbook of electrical engineering; the magnet and how torque falls: from memory,
and held against the rehearsed physics; docs/decisions/0052-where-the-cold-begins.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Final

KELVIN: Final = 273.15
TORQUE_PER_K: Final = 0.006
"""What torque grows by for each kelvin colder, at the most."""
FALLS: Final = 2.0
"""The highest power of the rate by which torque falls."""
COVERAGE_K: Final = 2.0
COLDEST_C: Final = -60.0
"""No colder limit is stated: no grease follows its law so far."""
_ROUNDS: Final = 40


@dataclass(frozen=True, slots=True)
class RateTrial:
    """One fast move at room temperature."""

    rate_deg_s: float
    held: bool
    """Whether no step was lost."""


@dataclass(frozen=True, slots=True)
class ColdLimit:
    """How cold it will still work.

    Parameters
    ----------
    low_c, high_c
        The limit lies between them; `low_c` None: it may be colder than anything that is stated
        here. Both None: there is not enough data.
    ratio_low, ratio_high
        How much thicker than at room temperature the grease may be.
    reason
        One sentence: what it rests on, or why there is not enough data.
    """

    low_c: float | None
    high_c: float | None
    ratio_low: float | None
    ratio_high: float | None
    reason: str


def cold_limit(
    trials: Sequence[RateTrial],
    asked_deg_s: float | None,
    room_c: tuple[float, float],
    grease_k: tuple[float, float] | None,
) -> ColdLimit:
    """Say how cold a movement will still work, from a test at room temperature alone.

    Parameters
    ----------
    trials
        Moves at several rates, long enough to reach them.
    asked_deg_s
        The fastest rate the cluster itself asks of the movement; None: not known.
    room_c
        Temperature of the test and its standard uncertainty, degC.
    grease_k
        Exponent of the family's grease and its standard uncertainty, kelvin; None: not stated.

    Returns
    -------
    ColdLimit
        A range, or not enough data and why.
    """
    held = max((one.rate_deg_s for one in trials if one.held), default=None)
    slipped = min((one.rate_deg_s for one in trials if not one.held), default=None)
    missing = _missing(held, slipped, asked_deg_s, grease_k)
    if missing is not None or held is None or asked_deg_s is None or grease_k is None:
        return ColdLimit(None, None, None, None, f"not enough data: {missing}")
    least = held / asked_deg_s
    k, u_k = grease_k
    ks = (k - COVERAGE_K * u_k, k + COVERAGE_K * u_k)
    warm, cool = (room_c[0] + sign * COVERAGE_K * room_c[1] for sign in (1.0, -1.0))
    # the warmest limit: a flat torque, the grease that thickens fastest or, above the room, slowest
    high = max(_reached(least, one, warm, 0.0) for one in ks)
    most = low = None
    if slipped is not None:
        # the coldest limit: torque that falls with the rate, so that there is more of it at less
        most = slipped / asked_deg_s
        most = most ** (1.0 + FALLS) if most > 1.0 else most
        low = min(_reached(most, one, cool, TORQUE_PER_K) for one in ks)
        low = None if low < COLDEST_C else low
    words = (
        f"at {room_c[0]:.0f} °C it holds {held:.0f}°/s"
        + ("" if slipped is None else f" and slips at {slipped:.0f}")
        + f", {least:.2g} times the {asked_deg_s:.0f}°/s it is asked for"
    )
    return ColdLimit(low, high, least, most, words)


def _missing(
    held: float | None,
    slipped: float | None,
    asked_deg_s: float | None,
    grease_k: tuple[float, float] | None,
) -> str | None:
    """What a range wants and is not there; None: nothing."""
    if grease_k is None:
        return (
            "the family does not say how the grease of this movement thickens in the cold (its "
            "field grease_k)"
        )
    if asked_deg_s is None:
        return "the rate the cluster asks of it is not known"
    if held is None:
        return "no rate is known at which it holds"
    if slipped is not None and slipped <= held:
        return (
            f"it slips at {slipped:g}°/s and holds at {held:g}; repeat the test, for this is no "
            "matter of the rate"
        )
    if slipped is None and held <= asked_deg_s:
        return f"nothing slipped up to {held:g}°/s, no more than it is asked for anyway; try faster"
    return None


def _reached(ratio: float, k: float, room_c: float, torque_per_k: float) -> float:
    """Where the grease is so much thicker, allowing for torque that grows on the way there."""
    room = room_c + KELVIN
    at = room
    for _ in range(_ROUNDS):
        grown = 1.0 + torque_per_k * max(room - at, 0.0)
        at = 1.0 / (1.0 / room + log(ratio * grown) / k)
        if at < KELVIN + COLDEST_C - 40.0:
            return at - KELVIN
    return at - KELVIN
