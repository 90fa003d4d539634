"""Which part makes a needle go wrong in a sweep: movement, needle, driver, stop or supply.

What happened to a needle has a kind, a place and company: a needle that touches face or lens is
held back at the same angle each way; a driver loses its needle anywhere; a stop stands at an end;
where several needles fail in the same instant it is what feeds them all. Each part makes each of
these more or less likely, and Bayes' theorem turns that round.

How often each part is at fault, and what it does: common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from types import MappingProxyType
from typing import Final

from needlewright.families.model import Dial
from needlewright.findings.event import Event, EventFault
from needlewright.findings.evidence import Evidence, ratio_within
from needlewright.findings.sweep_passes import Pass, Placed, Places, passes_of, placed, places_of
from needlewright.findings.sweep_words import Part, sweep_words
from needlewright.readings.track import DialTrack

PARTS: Final[tuple[Part, ...]] = ("movement", "needle", "driver", "stop", "supply")

ANALYSIS: Final = "sweep"
PRIOR: Final[Mapping[Part, float]] = MappingProxyType(
    {"movement": 0.5, "needle": 0.2, "driver": 0.12, "stop": 0.1, "supply": 0.08}
)
KINDS: Final[Mapping[Part, Mapping[EventFault, float]]] = MappingProxyType(
    {
        "movement": {
            "lost_steps": 0.35, "dragging": 0.24, "backlash": 0.3, "stalled": 0.06, "blocked": 0.05
        },
        "needle": {
            "lost_steps": 0.08, "dragging": 0.75, "backlash": 0.01, "stalled": 0.01, "blocked": 0.15
        },
        "driver": {
            "lost_steps": 0.4, "dragging": 0.08, "backlash": 0.01, "stalled": 0.5, "blocked": 0.01
        },
        "stop": {
            "lost_steps": 0.08, "dragging": 0.01, "backlash": 0.01, "stalled": 0.1, "blocked": 0.8
        },
        "supply": {
            "lost_steps": 0.5, "dragging": 0.2, "backlash": 0.01, "stalled": 0.28, "blocked": 0.01
        },
    }
)  # fmt: skip
"""What a part that is at fault does to its needle in a sweep."""
PLACES: Final[Mapping[Part, tuple[float, float, float]]] = MappingProxyType(
    {
        "movement": (0.5, 0.25, 0.25),
        "needle": (0.08, 0.9, 0.02),
        "driver": (0.98, 0.01, 0.01),
        "stop": (0.02, 0.28, 0.7),
        "supply": (0.98, 0.01, 0.01),
    }
)
"""Shares of: anywhere; at one angle each way; at one angle in one way. A bad tooth of the last
wheel is at one angle too."""
AT_END: Final[Mapping[Part, float]] = MappingProxyType(
    {"movement": 0.15, "needle": 0.1, "driver": 0.1, "stop": 0.6, "supply": 0.1}
)
"""Share of blocks that stand near an end of the scale; a wire or a broken pin stands anywhere."""
TOGETHER: Final[Mapping[Part, float]] = MappingProxyType(
    {"movement": 0.05, "needle": 0.05, "driver": 0.3, "stop": 0.05, "supply": 0.95}
)
"""How often most of what happens happens to another needle in the same instant."""

FOUND: Final = {True: 0.9, False: 0.4}
"""Share of sweeps with a fault in which one is named, by whether the command is known."""
FALSE: Final = 0.02
"""Share of sound sweeps in which a fault is named; docs/sweep-events.md."""
LARGEST_RATIO: Final = 100.0
INSTANT_S: Final = 0.12
AT_END_DEG: Final = 6.0
LEAST_SWEPT_DEG: Final = 60.0
_PLACED: Final = ("lost_steps", "dragging", "blocked")
_ORDER: Final[tuple[EventFault, ...]] = (
    "stalled", "blocked", "dragging", "lost_steps", "backlash"
)  # fmt: skip
_SPEAKS: Final[Mapping[EventFault, str]] = MappingProxyType(
    {"dragging": "sticks", "backlash": "ways_differ", "blocked": "stops_short"}
)


@dataclass(frozen=True, slots=True)
class SweepFinding:
    """What a sweep says of one dial.

    Parameters
    ----------
    dial
        Its id.
    cause
        What happened, by the vocabulary; None: nothing.
    parts
        Each with its probability, most probable first, adding up to one; empty where nothing
        happened.
    size_deg, u_size_deg
        Of the largest of what happened, as the vocabulary says; None: nothing did.
    at_deg
        The angle it comes back at; None: it comes anywhere, or is of no angle.
    passes, seen
        Passes of the needle, and those of them in which it happened.
    together
        Whether most of it happened to another needle in the same instant.
    kinds
        Everything that happened, by kind.
    commanded
        Whether the command was known.
    words
        For people.
    """

    dial: str
    cause: EventFault | None
    parts: tuple[tuple[Part, float], ...]
    size_deg: float | None
    u_size_deg: float | None
    at_deg: float | None
    passes: int
    seen: int
    together: bool
    kinds: tuple[EventFault, ...]
    commanded: bool
    words: str


def judge_sweep(
    dials: Sequence[Dial],
    tracks: Mapping[str, DialTrack],
    events: Sequence[Event],
    commanded: frozenset[str] = frozenset(),
) -> tuple[SweepFinding, ...]:
    """Judge every dial of a sweep.

    Parameters
    ----------
    dials
        Of the family.
    tracks
        Every needle through the video.
    events
        What happened (`findings.sweep_events`).
    commanded
        Ids of the dials whose command was known.

    Returns
    -------
    tuple of SweepFinding
        Of dials to which something happened, or that swept far enough to say that nothing did.
    """
    found = []
    for dial in dials:
        track = tracks[dial.id]
        mine = [event for event in events if event.dial == dial.id]
        passes = passes_of(track)
        swept = max((one.high_deg - one.low_deg for one in passes), default=0.0)
        if mine:
            others = [event for event in events if event.dial != dial.id]
            known = dial.id in commanded
            found.append(_judged(dial, track, passes, mine, others, known=known))
        elif swept >= LEAST_SWEPT_DEG:
            words = f"{dial.id}: nothing went wrong in {len(passes)} passes"
            known = dial.id in commanded
            found.append(
                SweepFinding(
                    dial.id, None, (), None, None, None, len(passes), 0, False, (), known, words
                )
            )
    return tuple(found)


def sweep_evidence(found: SweepFinding, seen_in: str) -> tuple[Evidence, ...]:
    """What a sweep says of a dial, as evidence.

    Parameters
    ----------
    found
        Of one dial.
    seen_in
        The video.

    Returns
    -------
    tuple of Evidence
        `sweep_uneven`, and what else the kind says. One look is one piece of evidence: where it
        speaks for two findings, each has the square root of its ratio.
    """
    if found.cause is None:
        ratio = ratio_within(1.0 - FOUND[found.commanded], 1.0 - FALSE)
        return (
            Evidence("sweep_uneven", found.dial, ratio, found.words, seen_in, analysis=ANALYSIS),
        )
    ratio = _ratio(found)
    part = found.parts[0][0] if found.parts[0][1] > 1 / 2 else None
    of_kind = _SPEAKS.get(found.cause)
    if of_kind is None and part in ("driver", "supply"):
        of_kind = "jumps"
    names = ("sweep_uneven",) if of_kind is None else ("sweep_uneven", of_kind)
    if found.cause == "backlash":
        names = ("ways_differ",)  # play is no unevenness
    shared = ratio ** (1.0 / len(names))
    return tuple(
        Evidence(
            name,
            found.dial,
            shared,
            found.words,
            seen_in,
            found.size_deg,
            found.u_size_deg,
            "deg",
            part,
            ANALYSIS,
        )
        for name in names
    )


def _ratio(found: SweepFinding) -> float:
    """Found against falsely found; what comes back in other passes is less likely to be false."""
    again = max(found.seen - 1, 0)
    ratio = FOUND[found.commanded] / FALSE * 2.0 ** min(again, 4)
    return min(ratio_within(ratio, 1.0), LARGEST_RATIO)


def _judged(
    dial: Dial,
    track: DialTrack,
    passes: Sequence[Pass],
    mine: Sequence[Event],
    others: Sequence[Event],
    *,
    known: bool,
) -> SweepFinding:
    kinds = tuple(kind for kind in _ORDER if any(event.fault == kind for event in mine))
    cause = _cause(mine, kinds)
    of_cause = [event for event in mine if event.fault == cause]
    where = placed(track, passes, of_cause)
    places = places_of(passes, where) if cause in _PLACED else None
    # when a needle stalls is when its command begins, which needles share
    apart = [event for event in others if event.fault != "stalled"]
    shared = [any(abs(e.t_s - o.t_s) <= INSTANT_S for o in apart) for e in mine]
    together = sum(shared) > len(mine) / 2
    at_end = cause == "blocked" and _at_end(dial, where)
    parts = _parts(cause, places, together=together, company=bool(apart), at_end=at_end)
    largest = max(of_cause, key=lambda event: abs(event.size_deg))
    seen = len({one.number for one in where if one.number >= 0})
    at_deg = None
    if places is not None and max(places.fixed, places.one_way) > places.anywhere and seen > 1:
        at_deg = places.at_deg
    return SweepFinding(
        dial.id,
        cause,
        parts,
        largest.size_deg,
        largest.u_size_deg,
        at_deg,
        len(passes),
        seen,
        together,
        kinds,
        known,
        sweep_words(dial.id, cause, parts, at_deg, (seen, len(passes)), together=together),
    )


def _cause(mine: Sequence[Event], kinds: Sequence[EventFault]) -> EventFault:
    """The kind that stands for all: what is blocked also loses steps, what is frequent counts."""
    if kinds[0] in ("stalled", "blocked"):
        return kinds[0]
    count = {kind: sum(event.fault == kind for event in mine) for kind in kinds}
    return max(kinds, key=lambda kind: count[kind])


def _at_end(dial: Dial, where: Sequence[Placed]) -> bool:
    angles = dial.scale.angles_deg
    ends = (dial.stop_angle_deg, dial.rest_angle_deg, angles[0], angles[-1])
    near = [min(abs(one.angle_deg - end) for end in ends) <= AT_END_DEG for one in where]
    return sum(near) > len(near) / 2


def _parts(
    cause: EventFault, places: Places | None, *, together: bool, company: bool, at_end: bool
) -> tuple[tuple[Part, float], ...]:
    level = {}
    for part in PARTS:
        one = log(PRIOR[part]) + log(KINDS[part][cause])
        if places is not None:
            laws = (places.anywhere, places.fixed, places.one_way)
            top = max(laws)
            one += log(sum(s * exp(v - top) for s, v in zip(PLACES[part], laws, strict=True)))
        if company:
            one += log(TOGETHER[part] if together else 1 - TOGETHER[part])
        if cause == "blocked":
            one += log(AT_END[part] if at_end else 1 - AT_END[part])
        level[part] = one
    top = max(level.values())
    total = sum(exp(one - top) for one in level.values())
    shares = ((part, exp(one - top) / total) for part, one in level.items())
    return tuple(sorted(shares, key=lambda one: -one[1]))
