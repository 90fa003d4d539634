"""The key-on test: where a needle rests before and after one, three and five key-ons.

At each key-on a movement is driven down to its stop. A sound one is home after the first; a needle
that sits turned rests as far off after each; a movement that slips comes a part of the way each
time. Each is a law of the rest angles in the order of the key-ons, weighed by the probability it
gives to them:

    creeps home    a number of cycles, or quarters of one, that falls from look to look, any fall
                   as likely as another, and is still falling after the first key-on
    sound, seat    the same from the first key-on on; before it perhaps anywhere
    dead           the same throughout, wherever it stands
    erratic        scatter without an order

Source: Bayes' theorem; the sum over all falling sequences is the forward recursion of a hidden
Markov chain, any textbook. How often each is met, and the widths: common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log
from types import MappingProxyType
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.findings.evidence import Evidence, ratio_within
from needlewright.findings.wording import share_words
from needlewright.readings.runs import RunRow

Array = NDArray[np.float64]
KeyFault = Literal["sound", "needle_offset", "lost_steps", "stalled", "erratic"]

ANALYSIS: Final = "key_cycles"
PRIOR: Final[Mapping[KeyFault, float]] = MappingProxyType(
    {"sound": 0.6, "needle_offset": 0.15, "lost_steps": 0.12, "stalled": 0.05, "erratic": 0.08}
)
"""How often each is met (common practice, no source)."""
RELIEF: Final = "This is relief for days, not a repair: the movement slips and will slip again."
"""What the owner is told, in those words."""
LARGEST_RATIO: Final = 40.0
SMALLEST_RATIO: Final = 0.06
"""No test is surer: in `benchmarks/cold.py` all of 60 needles that creep had a ratio above 10, none
of 540 that are sound, turned or dead, and 11 of 180 that scatter. Each kind counts as often as
`PRIOR` has it, and as badly as the drawn ones allow (95 %, one-sided). The other way round none of
the 60 had a ratio of 1 or less, and at least 158 of 180 of each other kind."""
_ELSE: Final[Mapping[KeyFault, str]] = MappingProxyType(
    {
        "lost_steps": "it creeps home",
        "sound": "it is sound",
        "needle_offset": "it sits turned",
        "stalled": "it does not move",
        "erratic": "it rests anywhere and came in this order by chance",
    }
)
LEAST_LOOKS: Final = 3
"""Two do not tell a needle that creeps from one that comes home at the first key-on."""
_SEAT_DEG: Final = 0.5
_OFFSET_DEG: Final = 6.0
_REACH_DEG: Final = 130.0
_BEFORE: Final = 0.2
"""Share of needles that stand anywhere before the first key-on: the power went at a reading."""
_WHOLE: Final = 0.7
_SCATTER_DEG: Final = (0.5, 10.0)
_UNKNOWN_U_DEG: Final = 0.2
_SEATS: Final = np.linspace(-12.0, 12.0, 97)


@dataclass(frozen=True, slots=True)
class RestLook:
    """One look at a needle at rest."""

    key_ons: int
    """So far."""
    angle_deg: float
    u_deg: float
    """Of the reading."""


@dataclass(frozen=True, slots=True)
class KeyCycleFinding:
    """What the key-on test says of one dial.

    Parameters
    ----------
    dial
        Its id.
    looks
        By rising key-ons.
    faults
        Each with its probability, most probable first; they add up to one.
    crept_deg
        Last rest angle less the first, degrees clockwise.
    u_crept_deg
        Its standard uncertainty (k = 1).
    left_deg
        What the last rest is off the family's, degrees clockwise.
    ratio
        How much likelier the angles are if the movement creeps home than if it does not.
    words
        For people.
    """

    dial: str
    looks: tuple[RestLook, ...]
    faults: tuple[tuple[KeyFault, float], ...]
    crept_deg: float
    u_crept_deg: float
    left_deg: float
    ratio: float
    words: str

    @property
    def creeps(self) -> bool:
        """Whether it most probably creeps home."""
        return self.faults[0][0] == "lost_steps"


def rest_looks(rows: Sequence[RunRow]) -> tuple[RestLook, ...]:
    """Where a needle rested at each count of key-ons.

    Parameters
    ----------
    rows
        Of one dial of a run; those at rest whose `key_cycle` is known and that were read count.

    Returns
    -------
    tuple of RestLook
        By rising key-ons; looks at one count are averaged.
    """
    by_count: dict[int, list[RunRow]] = {}
    for row in rows:
        if row.approach == "rest" and row.key_cycle is not None and row.angle_deg is not None:
            by_count.setdefault(row.key_cycle, []).append(row)
    return tuple(_averaged(count, by_count[count]) for count in sorted(by_count))


def _averaged(count: int, rows: Sequence[RunRow]) -> RestLook:
    angle = np.mean([row.angle_deg for row in rows if row.angle_deg is not None])
    u = [_UNKNOWN_U_DEG if row.u_angle_deg is None else row.u_angle_deg for row in rows]
    return RestLook(count, float(angle), float(np.mean(u)))


def judge_key_cycle(dial: Dial, rows: Sequence[RunRow]) -> KeyCycleFinding | None:
    """Judge a dial by its rest angles over key-ons.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its rows.

    Returns
    -------
    KeyCycleFinding or None
        None where it was not looked at, at rest, at three counts of key-ons or more, and of
        movements that are no steppers: nothing drives those home.
    """
    looks = rest_looks(rows)
    if len(looks) < LEAST_LOOKS or dial.movement.kind != "stepper":
        return None
    # a sound needle comes to lie between its stop and its rest, as its firmware leaves it
    half_deg = abs(dial.rest_target_deg - dial.stop_angle_deg) / 2
    home_deg = (dial.rest_target_deg + dial.stop_angle_deg) / 2
    seat_deg = float(np.hypot(_SEAT_DEG, half_deg / 3**0.5))
    rise = dial.scale.sense * np.array([look.angle_deg - home_deg for look in looks])
    read_u = np.maximum([look.u_deg for look in looks], 0.02)
    u = np.hypot(read_u, dial.movement.repeatability_deg)
    unkeyed = looks[0].key_ons == 0
    level: dict[KeyFault, float] = {
        "sound": _stays(rise, u, seat_deg, unkeyed=unkeyed),
        "needle_offset": _stays(rise, u, _OFFSET_DEG, unkeyed=unkeyed),
        "lost_steps": _creeps(rise, u, dial.movement.cycle_deg, seat_deg, unkeyed=unkeyed),
        "stalled": _dead(rise, read_u, 2.0 * dial.scale.reach_deg, seat_deg),
        "erratic": _scatters(rise, u),
    }
    top = max(level.values())
    posterior = {code: PRIOR[code] * np.exp(one - top) for code, one in level.items()}
    total = sum(posterior.values())
    faults = tuple(
        sorted(((code, float(p / total)) for code, p in posterior.items()), key=lambda one: -one[1])
    )
    first, last = looks[0], looks[-1]
    u_crept = float(np.hypot(u[0], u[-1]))
    return KeyCycleFinding(
        dial.id,
        looks,
        faults,
        last.angle_deg - first.angle_deg,
        u_crept,
        last.angle_deg - dial.rest_target_deg,
        _ratio(level),
        _words(dial, looks, faults),
    )


def key_cycle_evidence(found: KeyCycleFinding, seen_in: str) -> tuple[Evidence, ...]:
    """What the key-on test says, as evidence.

    Parameters
    ----------
    found
        Of one dial.
    seen_in
        The run.

    Returns
    -------
    tuple of Evidence
        One.
    """
    return (
        Evidence(
            "creeps_home",
            found.dial,
            found.ratio,
            found.words,
            seen_in,
            found.crept_deg,
            found.u_crept_deg,
            "deg",
            "movement" if found.creeps else None,
            ANALYSIS,
        ),
    )


def _ratio(level: Mapping[KeyFault, float]) -> float:
    others = [code for code in PRIOR if code != "lost_steps"]
    weight = sum(PRIOR[code] for code in others)
    top = max(level.values())
    no = sum(PRIOR[code] / weight * float(np.exp(level[code] - top)) for code in others)
    ratio = ratio_within(float(np.exp(level["lost_steps"] - top)), no)
    return min(max(ratio, SMALLEST_RATIO), LARGEST_RATIO)


def _words(dial: Dial, looks: Sequence[RestLook], faults: Sequence[tuple[KeyFault, float]]) -> str:
    fault, probability = faults[0]
    seen = ", ".join(
        f"{look.angle_deg - dial.rest_target_deg:+.1f} after {look.key_ons}".replace("-", "\u2212")
        for look in looks
    )
    share = share_words(probability)
    said: Mapping[KeyFault, str] = {
        "sound": f"it rests where it belongs ({share})",
        "needle_offset": f"it rests as far off each time, so it sits turned ({share})",
        "lost_steps": (
            f"it comes nearer with each, so it creeps home ({share}), or else "
            f"{_ELSE[faults[1][0]]} ({share_words(faults[1][1])}). {RELIEF}"
        ),
        "stalled": f"it does not move at all ({share})",
        "erratic": f"it rests anywhere, in no order ({share})",
    }
    return f"{dial.id}: off its rest, degrees clockwise by key-ons: {seen}; {said[fault]}"


def _normal(apart: Array, u: Array) -> Array:
    """Logarithm of the normal density."""
    return np.asarray(-((apart / u) ** 2) / 2 - np.log(u) - log(2 * np.pi) / 2, dtype=np.float64)


def _same(rise: Array, u: Array, width_deg: float) -> float:
    """All at one angle, which is normal about the rest: a normal with a common part."""
    covariance = np.diag(u**2) + width_deg**2
    _, determinant = np.linalg.slogdet(covariance)
    spread = float(rise @ np.linalg.solve(covariance, rise))
    return float(-(spread + determinant + len(rise) * log(2 * np.pi)) / 2)


def _stays(rise: Array, u: Array, width_deg: float, *, unkeyed: bool) -> float:
    same = _same(rise, u, width_deg)
    if not unkeyed:
        return same
    home = _same(rise[1:], u[1:], width_deg) - log(_REACH_DEG)
    return float(np.logaddexp(log(1 - _BEFORE) + same, log(_BEFORE) + home))


def _dead(rise: Array, u: Array, span_deg: float, seat_deg: float) -> float:
    at_deg = np.linspace(-10.0, span_deg + 10.0, 2000)
    level = _normal(rise[:, None] - at_deg, u[:, None]).sum(axis=0)
    anywhere = float(np.logaddexp.reduce(level) - log(len(at_deg)))
    return float(np.logaddexp(log(0.6) + anywhere, log(0.4) + _same(rise, u, seat_deg)))


def _scatters(rise: Array, u: Array) -> float:
    widths = np.geomspace(*_SCATTER_DEG, 9)
    level = [_same(rise, np.hypot(u, width), _OFFSET_DEG) for width in widths]
    return float(np.logaddexp.reduce(level) - log(len(widths)))


def _creeps(rise: Array, u: Array, cycle_deg: float, seat_deg: float, *, unkeyed: bool) -> float:
    seat = np.exp(_normal(_SEATS, np.full(len(_SEATS), seat_deg)))
    seat += 0.25 * np.exp(_normal(_SEATS, np.full(len(_SEATS), _OFFSET_DEG)))
    log_seat = np.log(seat / seat.sum())
    whole, partly = (
        float(np.logaddexp.reduce(_falls(rise, u, step_deg, unkeyed=unkeyed) + log_seat))
        for step_deg in (cycle_deg, cycle_deg / 4)
    )
    return float(np.logaddexp(log(_WHOLE) + whole, log(1 - _WHOLE) + partly))


def _falls(rise: Array, u: Array, step_deg: float, *, unkeyed: bool) -> Array:
    """How likely the angles are, seat by seat, over all sequences of steps that fall."""
    count = np.arange(round(_REACH_DEG / step_deg) + 1)
    begins = np.where(count > 0, 1.0 / (1.0 + count), 0.0)
    begins /= begins.sum()
    stand = _SEATS[:, None] + step_deg * count
    seen = [
        np.exp(_normal(r - stand, np.full_like(stand, s))) for r, s in zip(rise, u, strict=True)
    ]
    anything = [np.ones_like(stand) for _ in seen]
    likely = _falling(seen, begins, unkeyed=unkeyed)
    possible = _falling(anything, begins, unkeyed=unkeyed)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.maximum(likely, 0.0)) - np.log(possible), dtype=np.float64)


def _falling(seen: Sequence[Array], begins: Array, *, unkeyed: bool) -> Array:
    """Sum over falling sequences, less those that have come to rest by the first key-on."""
    ways = np.arange(len(begins)) + 1.0

    def fall(weight: Array) -> Array:
        """From each count to any that is no higher, all as likely."""
        return np.cumsum((weight / ways)[:, ::-1], axis=1)[:, ::-1]

    falls = begins * seen[0]
    later = seen[1:]
    if unkeyed:
        falls, later = fall(falls) * seen[1], seen[2:]
    rests = falls.copy()
    for one in later:
        falls, rests = fall(falls) * one, rests / ways * one
    return np.asarray((falls - rests).sum(axis=1), dtype=np.float64)
