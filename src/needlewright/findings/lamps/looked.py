"""What was looked at of lamps and currents, thing by thing, so that two looks can be compared.

Evidence says of all lamps together which question they answer. What a repair did to one of them
wants each by itself: zones, signs, segments, hubs, currents.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from needlewright.findings.evidence import Evidence
from needlewright.findings.lamps.halo import HubState
from needlewright.findings.lamps.signs import SignState
from needlewright.findings.lamps.zones import FaceState
from needlewright.findings.supply import JOINT_DROPS, CurrentFinding

LookedKind = Literal["zone", "tell_tale", "segment", "hub", "current"]
Condition = Literal["right", "dim", "dark", "halo", "off"]
HOW_BAD: Final[dict[Condition, int]] = {"right": 0, "dim": 1, "dark": 2, "halo": 2, "off": 2}
"""Of two conditions of one thing the larger is the worse one."""
NAMED: Final = 0.5
"""Probability from which a sign, a halo or a current is called wrong."""


@dataclass(frozen=True, slots=True)
class Looked:
    """One thing that was looked at.

    Parameters
    ----------
    kind
        What it is.
    id
        The zone, the tell-tale, the segment, the dial of the hub; of a current `rest`, `sweep`, or
        `key_ons` for its drops between them.
    of
        The display a segment is of; else None.
    condition
        Which it is in most probably; None: it could not be said.
    probability
        Of that condition; None with it.
    size
        Light in that of the brightest zones or signs, over its surroundings at a hub; a current in
        amperes; None: not measured.
    u_size
        Its standard uncertainty (k = 1).
    why
        Why nothing can be said; None: it can.
    """

    kind: LookedKind
    id: str
    of: str | None
    condition: Condition | None
    probability: float | None
    size: float | None = None
    u_size: float | None = None
    why: str | None = None

    @property
    def name(self) -> tuple[LookedKind, str | None, str]:
        """What the same thing is called in another look."""
        return self.kind, self.of, self.id


def looked_at(
    face: FaceState | None, signs: Sequence[SignState], hubs: Sequence[HubState]
) -> tuple[Looked, ...]:
    """Put what was judged of lamps into one list.

    Parameters
    ----------
    face
        Its zones; None: no photo of the backlight was judged.
    signs
        Tell-tales and segments.
    hubs
        For halos.

    Returns
    -------
    tuple of Looked
        Zones, signs, hubs.
    """
    return (*_zones(face), *(_sign(one) for one in signs), *(_hub(one) for one in hubs))


def looked_at_currents(currents: Sequence[CurrentFinding]) -> tuple[Looked, ...]:
    """What was judged of currents, one for each state that was read.

    Parameters
    ----------
    currents
        Against the family's ranges.

    Returns
    -------
    tuple of Looked
        In their order.
    """
    return tuple(_current(one) for one in currents)


def looked_at_drops(drops: Sequence[Evidence]) -> Looked:
    """Whether a current drops from one key-on to the next.

    Parameters
    ----------
    drops
        What the drops say, as evidence; none: there was no drop.

    Returns
    -------
    Looked
        A joint that drops out is caught at it half the time, so that none in one run says little.
        Its probability is that of even odds beforehand.
    """
    ratio = drops[0].ratio if drops else 1.0 - JOINT_DROPS
    condition, share = _called("off", ratio / (1.0 + ratio))
    return Looked("current", "key_ons", None, condition, share)


def _zones(face: FaceState | None) -> Iterator[Looked]:
    for one in () if face is None else face.zones:
        seen, state = one.seen, one.state
        condition: Condition | None = "right" if state == "sound" else state
        share = None if one.probabilities is None or state is None else one.probabilities[state]
        yield Looked(
            "zone", seen.zone.id, None, condition, share, seen.light, seen.u_light, seen.why
        )


def _sign(one: SignState) -> Looked:
    condition, share = _called("dark", one.dark)
    return Looked(one.kind, one.id, one.of, condition, share, one.light, one.u_light, one.why)


def _hub(one: HubState) -> Looked:
    condition, share = _called("halo", one.halo)
    return Looked("hub", one.dial, None, condition, share, one.light, one.u_light, one.why)


def _current(one: CurrentFinding) -> Looked:
    condition, share = _called("off", one.outside)
    return Looked("current", one.state, None, condition, share, one.amperes, one.u_amperes, None)


def _called(wrong: Condition, probability: float | None) -> tuple[Condition | None, float | None]:
    if probability is None:
        return None, None
    return (wrong, probability) if probability > NAMED else ("right", 1.0 - probability)
