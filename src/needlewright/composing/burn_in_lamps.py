"""Which lamps a burn-in watched, which could not be, and how often they were looked at."""

from collections.abc import Mapping
from typing import Any

from needlewright.bench.burn_in.journal import Journal, LampsSeen
from needlewright.bench.burn_in.lamps import SEEN_LIGHT, watched_lamps
from needlewright.families.model import Family


def lamps_document(journal: Journal, family: Family) -> dict[str, Any]:
    """What a report says of lamps.

    Parameters
    ----------
    journal
        Of the burn-in.
    family
        The cluster design.

    Returns
    -------
    dict
        Fields of the report that begin with `lamp`.
    """
    seen = [one for one in journal.lines if isinstance(one, LampsSeen)]
    firsts: dict[bool, Mapping[str, float]] = {}
    for one in seen:  # by the bench's light and in the dark: a lamp may be seen in one of them
        firsts.setdefault(one.dark_bench, one.light)
    first: dict[str, float] = {}
    for light in firsts.values():
        first |= {lamp: max(one, first.get(lamp, one)) for lamp, one in light.items()}
    watched = [lamp for lamp, light in first.items() if light >= SEEN_LIGHT]
    placed = {one.id for one in watched_lamps(family)}
    dark: dict[str, int] = {}
    for one in seen:
        for lamp, times in one.dark.items():
            dark[lamp] = dark.get(lamp, 0) + times
    return {
        "lamps_none": "" if watched else _why_none(family, journal, has_looked=bool(first)),
        "lamps_watched": watched,
        "lamps_drowned": [lamp for lamp in first if lamp not in watched],
        "lamps_without_place": [
            one.id for one in (*family.lamps, *family.tell_tales) if one.id not in placed
        ]
        if journal.begun.plan.lamps
        else [],
        "lamp_looks": sum(one.looks for one in seen),
        "lamp_looks_not_judged": sum(one.looks_not_judged for one in seen),
        "lamp_dark_looks": dark,
    }


def _why_none(family: Family, journal: Journal, *, has_looked: bool) -> str:
    """Why no lamp was watched."""
    if not (family.lamps or family.tell_tales):
        return "this family has no lamps"
    if not journal.begun.plan.lamps:
        return "none: they stayed off"
    if not watched_lamps(family):
        return "none: none has a place on the face"
    return "none" if has_looked else "no look at them yet"
