"""Drawings of the sums about solder."""

from operator import itemgetter
from typing import Final

from needlewright.papers.sums_ladder import Bar, Ladder, draw_ladder
from needlewright.papers.sums_profile import (
    Points,
    ProfileChart,
    ProfileLevel,
    ProfileMark,
    ProfileSlope,
    Shape,
    draw_profile,
)
from needlewright.plans.sums.described.reflow import REFLOW, value_words
from needlewright.plans.sums.described.reflow_paste import UNITS
from needlewright.plans.sums.described.solder import SOLDER
from needlewright.plans.sums.reflow import Held, Reflow
from needlewright.plans.sums.reflow_limits import ReflowLimits, What
from needlewright.plans.sums.solder import MIXED_SOLIDUS_C, SolderChoice
from needlewright.rules.decision import VerdictCode

MOST_POINTS: Final = 600
"""Of a line: a drawing of this width shows no more."""
SHAPES: Final[dict[VerdictCode, Shape]] = {
    "fail": "bad",
    "conditional_fail": "bad",
    "conditional_pass": "doubt",
    "not_read": "unknown",
}
SHORT: Final[dict[What, str]] = {
    "ramp": "climb",
    "soak": "soak",
    "above": "molten",
    "peak": "peak",
    "rise": "to the peak",
    "cool": "fall",
}


def reflow(profile: Reflow) -> str:
    """The recording with every limit that is not kept."""
    names = tuple(track.name for track in profile.tracks)
    marked = [one for one in profile.held if one.is_marked]
    return draw_profile(
        ProfileChart(
            names,
            tuple(_thinned(tuple(zip(t.t_s, t.c, strict=True))) for t in profile.tracks),
            profile.limits.soak_c,
            _levels(profile.limits),
            _slopes(profile.limits),
            _limits(profile.limits),
            tuple(
                ProfileMark(
                    i,
                    SHAPES[one.code],
                    names.index(one.track),
                    one.spans,
                    _words(one, profile.limits),
                )
                for i, one in enumerate(marked, 1)
            ),
        ),
        REFLOW.drawing,
    )


def _thinned(points: Points) -> Points:
    """The ends and the least and the highest of every stretch of a long recording."""
    each = max(1, round(2 * len(points) / MOST_POINTS))
    if each == 1:
        return points
    kept = {points[0], points[-1]}
    for first in range(0, len(points), each):
        stretch = points[first : first + each]
        kept |= {min(stretch, key=itemgetter(1)), max(stretch, key=itemgetter(1))}
    return tuple(sorted(kept))


def _levels(limits: ReflowLimits) -> tuple[ProfileLevel, ...]:
    """The liquidus, and the peak's limits."""
    levels = [ProfileLevel(limits.liquidus_c, f"liquidus {limits.liquidus_c:g}")]
    for peak, sign in zip(limits.peak_c, "≥≤", strict=True):
        if peak is not None:
            words = f"{sign} {peak:g}"
            levels.append(ProfileLevel(peak, words, at_right=True, below=sign == "≥"))
    return tuple(levels)


def _slopes(limits: ReflowLimits) -> tuple[ProfileSlope, ProfileSlope]:
    """The steepest climb and the steepest fall."""
    return (
        ProfileSlope(limits.ramp_k_s, f"climb ≤ {limits.ramp_k_s:g} K/s"),
        ProfileSlope(-limits.cool_k_s, f"fall ≤ {limits.cool_k_s:g} K/s"),
    )


def _limits(limits: ReflowLimits) -> tuple[str, ...]:
    """Each limit with whose it is."""
    low, high = limits.soak_c
    words: dict[What, str] = {
        "soak": f"soak {low:g} to {high:g} °C, ",
        "above": f"above {limits.liquidus_c:g} °C ",
        "peak": "peak ",
        "rise": "to the peak ",
        "ramp": "climb ",
        "cool": "fall ",
    }
    said = [
        f"{begins}{_allowed(what, limits)}"
        for what, begins in words.items()
        if limits.of(what) != (None, None)
    ]
    return (*(f"{one};" for one in said[:-1]), f"{said[-1]}.")


def _allowed(what: What, limits: ReflowLimits) -> str:
    """Limits in few words, with whose they are: `≤ 3 K/s (standard)`, `60–120 s (paste)`."""
    low_of, high_of = limits.whose(what)
    if low_of == high_of:
        low, high = limits.of(what)
        return f"{low:g}–{high:g} {_unit(what)} ({low_of})"
    sides = (_side(what, limits, side) for side in (0, 1))
    return ", ".join(one for one in sides if one)


def _side(what: What, limits: ReflowLimits, side: int) -> str:
    limit, whose = limits.of(what)[side], limits.whose(what)[side]
    return "" if limit is None else f"{'≥≤'[side]} {limit:g} {_unit(what)} ({whose})"


def _unit(what: What) -> str:
    return UNITS[what].replace("degC", "°C")


def _words(held: Held, limits: ReflowLimits) -> str:
    """What is marked; where its two limits are of two, that one it is nearer to or past."""
    doubt = ", in doubt" if held.code in ("conditional_pass", "conditional_fail") else ""
    allowed = _allowed(held.what, limits)
    low, high = held.limits
    if low is not None and high is not None and held.value is not None and ", " in allowed:
        allowed = _side(held.what, limits, int(held.value - low > high - held.value))
    return f"{held.track}: {SHORT[held.what]} {value_words(held)}, {allowed}{doubt}"


def solder(choice: SolderChoice) -> str:
    """The solders over temperature, and the vehicle."""
    new, old = choice.new, choice.old
    bars = [Bar(f"{new.name}, put on", new.solidus_c, new.liquidus_c)]
    if old is not None and old.name != new.name:
        bars.append(Bar(f"{old.name}, there before", old.solidus_c, old.liquidus_c))
    if choice.solidus_c == MIXED_SOLIDUS_C:
        molten = max(one.liquidus_c for one in (new, old or new))
        bars.append(Bar(f"mixed: from {MIXED_SOLIDUS_C:g} °C", MIXED_SOLIDUS_C, molten))
    return draw_ladder(
        Ladder(
            tuple(bars),
            (choice.coldest_c, choice.hottest_c),
            f"in the vehicle, {choice.coldest_c:g} to {choice.hottest_c:g}".replace("-", "−"),
            choice.work_c,
            "soldered",
        ),
        SOLDER.drawing,
    )
