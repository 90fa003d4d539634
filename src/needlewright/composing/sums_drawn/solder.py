"""Drawings of the sums about solder."""

from operator import itemgetter
from typing import Final

from needlewright.papers.sums_ladder import Bar, Ladder, draw_ladder
from needlewright.papers.sums_profile import Points, ProfileChart, ProfileMark, Shape, draw_profile
from needlewright.plans.sums.described.reflow import REFLOW, UNITS, value_words
from needlewright.plans.sums.described.solder import SOLDER
from needlewright.plans.sums.reflow import Held, Reflow, What
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
            profile.limits.liquidus_c,
            profile.limits.peak_c,
            tuple(
                ProfileMark(i, SHAPES[one.code], names.index(one.track), one.spans, _words(one))
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


def _words(held: Held) -> str:
    doubt = ", in doubt" if held.code in ("conditional_pass", "conditional_fail") else ""
    low, high = held.limits
    unit = UNITS[held.what].replace("degC", "°C")
    limit = f"≤ {high:g}" if low is None else f"≥ {low:g}" if high is None else f"{low:g}–{high:g}"
    return f"{held.track}: {SHORT[held.what]} {value_words(held)} ({limit} {unit}){doubt}"


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
