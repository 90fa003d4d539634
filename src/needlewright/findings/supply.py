"""The supply: what the cluster draws against its family's range, and what fails all at once.

A current is read with an error; whether it lies outside the family's range is a matter of how much
of what it may be lies outside. Currents that jump from one key-on to the next, and needles that
fail in the same instant, point at a joint that feeds all of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np
from scipy.special import ndtr
from scipy.stats import poisson

from needlewright.findings.event import Event
from needlewright.findings.evidence import Evidence, ratio_within

Side = Literal["below", "within", "above", "unsure"]
While = Literal["rest", "sweep"]

ANALYSIS: Final = "supply"
U_READ_A: Final = 0.005
U_READ_SHARE: Final = 0.02
"""Standard uncertainty of a bench supply's own ammeter (common practice, no source)."""
SURE: Final = 0.95
LARGEST_RATIO: Final = 100.0
MOST_A: Final = 5.0
"""No cluster draws more; a current outside the range lies anywhere up to it."""
DROP: Final = 0.3
"""A current that changes by so much of itself while nothing is switched has dropped out."""
INSTANT_S: Final = 0.12
FALSE_DROP: Final = 0.1
"""How often a sound cluster's current changes so much (sleep, a display; common practice)."""
_OF_THE_COMMAND: Final = ("stalled", "backlash")
"""Their times are those of the command, which all needles share."""
JOINT_DROPS: Final = 0.5
"""How often a joint that drops out is caught at it in a sweep (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A current that was read."""

    amperes: float
    label: str
    """When: `after 3 key-ons`, `in the sweep`."""
    u_amperes: float | None = None
    """Standard uncertainty (k = 1); None: that of a supply's own ammeter."""

    @property
    def u(self) -> float:
        """Standard uncertainty (k = 1), amperes."""
        if self.u_amperes is not None:
            return self.u_amperes
        return float(np.hypot(U_READ_A, U_READ_SHARE * self.amperes))


@dataclass(frozen=True, slots=True)
class CurrentFinding:
    """What the cluster draws, against its range.

    Parameters
    ----------
    state
        `rest` or `sweep`.
    side
        Where it lies; `unsure`: within its uncertainty of an end.
    amperes, u_amperes
        Mean of the readings and its standard uncertainty (k = 1).
    range_a
        Of the family.
    outside
        Probability that it lies outside, either being as likely beforehand.
    ratio
        How much likelier the readings are with a current outside than with one inside.
    words
        For people.
    """

    state: While
    side: Side
    amperes: float
    u_amperes: float
    range_a: tuple[float, float]
    outside: float
    ratio: float
    words: str


@dataclass(frozen=True, slots=True)
class Together:
    """Needles that fail in the same instant, and currents that drop.

    Parameters
    ----------
    instants_s
        When two needles or more failed within `INSTANT_S`.
    dials
        Those that did.
    drops
        Changes of the current that nothing explains, amperes, with where.
    chance
        How many instants chance alone would give.
    words
        For people.
    """

    instants_s: tuple[float, ...]
    dials: tuple[str, ...]
    drops: tuple[tuple[float, str], ...]
    chance: float
    words: str


def judge_current(
    state: While, drawn: Sequence[Drawn], range_a: tuple[float, float] | None
) -> CurrentFinding | None:
    """Hold what was drawn against the family's range.

    Parameters
    ----------
    state
        At rest or in the sweep.
    drawn
        Readings of the same state.
    range_a
        Least and most a sound cluster draws then; None: the family states none.

    Returns
    -------
    CurrentFinding or None
        None without a reading or without a range.
    """
    if not drawn or range_a is None:
        return None
    amperes = float(np.mean([one.amperes for one in drawn]))
    # an ammeter's error is the same in all its readings
    u = max(float(np.mean([one.u for one in drawn])), 1e-4)
    low, high = range_a
    inside = _share(amperes, u, low, high)
    below, above = _share(amperes, u, 0.0, low), _share(amperes, u, high, max(MOST_A, 2 * high))
    width = (low + max(MOST_A, 2 * high) - high) or 1.0
    likely_out, likely_in = (below + above) / width, inside / (high - low)
    if likely_out + likely_in == 0.0:
        likely_out = 1.0  # far beyond everything
    outside = likely_out / (likely_out + likely_in)
    side: Side = "within" if outside < 1 - SURE else "unsure"
    if outside > SURE:
        side = "below" if amperes < low else "above"
    ratio = min(max(ratio_within(likely_out, likely_in), 1 / LARGEST_RATIO), LARGEST_RATIO)
    where = "at rest" if state == "rest" else "in the sweep"
    said = {
        "within": "within",
        "unsure": "too near an end to say whether within",
        "below": "below",
        "above": "above",
    }[side]
    words = (
        f"the cluster draws {amperes:.3f} ± {2 * u:.3f} A {where} (k = 2), {said} the family's "
        f"range of {low:g} to {high:g} A"
    )
    return CurrentFinding(state, side, amperes, u, range_a, outside, ratio, words)


def current_evidence(found: Sequence[CurrentFinding], seen_in: str) -> tuple[Evidence, ...]:
    """What the currents say, as evidence.

    Parameters
    ----------
    found
        At rest, in the sweep, or both.
    seen_in
        The run.

    Returns
    -------
    tuple of Evidence
        One, of the current that says most either way: both are read by one ammeter.
    """
    if not found:
        return ()
    worst = max(found, key=lambda one: one.ratio)
    return (
        Evidence(
            "current_off",
            None,
            worst.ratio,
            worst.words,
            seen_in,
            worst.amperes,
            worst.u_amperes,
            "A",
            analysis=ANALYSIS,
        ),
    )


def fails_together(
    events: Sequence[Event], whole_s: float, drawn: Sequence[Drawn] = ()
) -> Together:
    """Look for what fails all at once.

    Parameters
    ----------
    events
        Of all needles of a sweep.
    whole_s
        How long it was filmed.
    drawn
        Currents of one state in the order they were read, the key on and nothing switched between.

    Returns
    -------
    Together
        Nothing in it where nothing came together.
    """
    ordered = sorted(
        (one for one in events if one.fault not in _OF_THE_COMMAND), key=lambda event: event.t_s
    )
    groups: list[list[Event]] = []
    for event in ordered:
        if groups and event.t_s - groups[-1][0].t_s <= INSTANT_S:
            groups[-1].append(event)
        else:
            groups.append([event])
    joint = [group for group in groups if len({one.dial for one in group}) > 1]
    counts = [sum(one.dial == dial for one in ordered) for dial in {one.dial for one in ordered}]
    pairs = (sum(counts) ** 2 - sum(n**2 for n in counts)) / 2
    chance = pairs * 2 * INSTANT_S / max(whole_s, INSTANT_S)
    drops = tuple(
        (after.amperes - before.amperes, after.label)
        for before, after in pairwise(drawn)
        if abs(after.amperes - before.amperes)
        > max(DROP * max(before.amperes, after.amperes), 4 * float(np.hypot(before.u, after.u)))
    )
    dials = tuple(dict.fromkeys(one.dial for group in joint for one in group))
    instants = tuple(float(np.mean([one.t_s for one in group])) for group in joint)
    return Together(instants, dials, drops, chance, _words(instants, dials, drops))


def together_evidence(
    found: Together, dials_swept: int, seen_in: str, *, knocked: bool = False
) -> tuple[Evidence, ...]:
    """What failed together, as evidence.

    Parameters
    ----------
    found
        In a sweep.
    dials_swept
        How many needles were swept; of one nothing can come together.
    seen_in
        The video.
    knocked
        Whether the cluster was knocked or flexed meanwhile: then it is an answer to that test.

    Returns
    -------
    tuple of Evidence
        `knocking` where it was knocked, else `all_at_once`; none where one needle alone was swept
        and no current is known to have dropped.
    """
    if dials_swept <= 1 and not found.drops:
        return ()
    name = "knocking" if knocked else "all_at_once"
    count = len(found.instants_s)
    if not count and not found.drops:
        # a joint that holds for a whole sweep is common: the quiet says little
        return (Evidence(name, None, 1.0 - JOINT_DROPS, found.words, seen_in, analysis=ANALYSIS),)
    by_chance = float(poisson.sf(count - 1, max(found.chance, 0.02))) if count else 1.0
    by_chance *= FALSE_DROP ** min(len(found.drops), 2)
    ratio = min(ratio_within(JOINT_DROPS, by_chance), LARGEST_RATIO)
    return (
        Evidence(
            name, None, max(ratio, 1.0), found.words, seen_in, part="supply", analysis=ANALYSIS
        ),
    )


def _words(
    instants: Sequence[float], dials: Sequence[str], drops: Sequence[tuple[float, str]]
) -> str:
    said = []
    if instants:
        times = ", ".join(f"{t:.2f}" for t in instants[:5])
        said.append(f"{', '.join(dials)} fail in the same instant, at {times} s")
    said += [
        f"the current changes by {f'{change:+.3f}'.replace('-', '−')} A {label}"
        for change, label in drops
    ]
    return "; ".join(said) or "no needles failed together, and no current dropped"


def _share(amperes: float, u: float, low: float, high: float) -> float:
    """How much of a normal law about a reading lies between two ends."""
    if high <= low:
        return 0.0
    return float(ndtr((high - amperes) / u) - ndtr((low - amperes) / u))
