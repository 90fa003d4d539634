"""What of a burn-in's looks was there from the first of them on, for its report.

The trend of the looks tells what came in the burn-in. What was there before it stands in the first
of them, held against what the needle was told and what a run before had, and in what coming from
above differs from coming from below.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Any, Final

from needlewright.bench.burn_in.journal import Journal, Looked
from needlewright.composing.burn_in_statements import LeftRun
from needlewright.errors import ScaleError
from needlewright.families.model import Dial, Family
from needlewright.findings.drift import ALIKE_DEGC
from needlewright.plans.burn_in.from_the_start import Reversal, StandsOff, reversals, stands_off
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people

AIR_CORE_DEG: Final = 0.6
"""From above against from below a sound air core may differ by so much: its bearings hold it back
by some quarter of a degree either way (common practice, no source; drawn 0.51)."""
Point = tuple[str, float]


@dataclass(frozen=True, slots=True)
class _Look:
    """A needle that was read."""

    visit: int
    angle_deg: float
    u_deg: float


def first_rows(journal: Journal, family: Family, left: LeftRun | None) -> list[dict[str, Any]]:
    """Judge every check point by its first look, and by both ways of coming to it.

    Parameters
    ----------
    journal
        Of the burn-in.
    family
        The cluster design.
    left
        A run before it; None: there is none.

    Returns
    -------
    list of dict
        For the document, in the plan's order; a dial the family has no more is left out.
    """
    up, down = _looks(journal)
    points = [
        (dial, value) for dial, values in journal.begun.plan.points.items() for value in values
    ]
    differing = _differences(up, down, family)
    judged = sum(len(one) for one in differing.values())
    ways: dict[Point, Reversal] = {}
    for dial_id, by_value in differing.items():
        dial = family.dial(dial_id)
        allowed = None if dial is None else allowed_deg(dial)
        for value, one in reversals(by_value, allowed, judged).items():
            ways[dial_id, value] = one
    rows = []
    for dial_id, value in points:
        dial = family.dial(dial_id)
        if dial is None:
            continue
        looks = up.get((dial_id, value), ())
        first = looks[0] if looks else None
        told = _from_told(dial, value, first, len(points))
        before = _from_left(dial, value, first, left, len(points))
        way = ways.get((dial_id, value))
        rows.append(
            {
                "dial": dial_id,
                "value": value,
                "unit": unit_for_people(dial.unit),
                "from_told": _off_document(told),
                "from_left": _off_document(before),
                "reversal": _way_document(way),
                "words": _words(told, before, way),
            }
        )
    return rows


def allowed_deg(dial: Dial) -> float | None:
    """By how much coming from above may differ from coming from below.

    Parameters
    ----------
    dial
        Of the family.

    Returns
    -------
    float or None
        Degrees: a stepper's own repeatability, as the family states it; None: a thermal movement
        creeps for minutes, and is not judged.
    """
    kind = dial.movement.kind
    if kind == "thermal":
        return None
    return AIR_CORE_DEG if kind == "air_core" else dial.movement.repeatability_deg


def differing_points(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Check points that read differently from above and from below."""
    return [one for one in rows if one["reversal"] and one["reversal"]["code"] == "differs"]


def points_off(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Check points whose first look stood off what was told, or off the run before."""
    return [
        one for one in rows if any((one[k] or {}).get("off") for k in ("from_told", "from_left"))
    ]


def _looks(journal: Journal) -> tuple[dict[Point, list[_Look]], dict[Point, list[_Look]]]:
    """Needles that were read, from below and from above, first look of a visit each."""
    up: dict[Point, list[_Look]] = {}
    down: dict[Point, list[_Look]] = {}
    seen: set[tuple[Point, int, bool]] = set()
    for one, from_above in _read(journal):
        point = (one.dial, one.value)
        if (
            one.angle_deg is None
            or one.u_angle_deg is None
            or (point, one.visit, from_above) in seen
        ):
            continue
        seen.add((point, one.visit, from_above))
        look = _Look(one.visit, one.angle_deg, one.u_angle_deg)
        (down if from_above else up).setdefault(point, []).append(look)
    return up, down


def _read(journal: Journal) -> Iterator[tuple[Looked, bool]]:
    """Looks at about the first one's temperature, and whether a needle came from above."""
    plan, first_degc = journal.begun.plan, None
    above = plan.steps_from_above
    for one in journal.lines:
        if not isinstance(one, Looked) or one.value not in plan.points.get(one.dial, ()):
            continue
        if one.temperature_c is not None:
            first_degc = one.temperature_c if first_degc is None else first_degc
            if abs(one.temperature_c - first_degc) > ALIKE_DEGC:
                continue
        yield one, (one.dial, one.step) in above


def _differences(
    up: Mapping[Point, list[_Look]], down: Mapping[Point, list[_Look]], family: Family
) -> dict[str, dict[float, list[float]]]:
    """From above less from below, visit by visit, in the sense of the scale."""
    found: dict[str, dict[float, list[float]]] = {}
    for (dial_id, value), looks in down.items():
        dial = family.dial(dial_id)
        below = {one.visit: one.angle_deg for one in up.get((dial_id, value), ())}
        if dial is None:
            continue
        pairs = [
            dial.scale.sense * (one.angle_deg - below[one.visit])
            for one in looks
            if one.visit in below
        ]
        if pairs:
            found.setdefault(dial_id, {})[value] = pairs
    return found


def _from_told(dial: Dial, value: float, first: _Look | None, shared: int) -> StandsOff | None:
    if first is None:
        return None
    try:
        wanted = dial.programme_angle_deg(value)
    except ScaleError:  # told beyond its scale, where the programme shows nothing
        return None
    held_back = (allowed_deg(dial) or 0.0) / 2 / sqrt(3.0)  # anywhere within: JCGM 100, 4.3.7
    parts = (first.u_deg, dial.movement.repeatability_deg, held_back)
    return stands_off(first.angle_deg, wanted, parts, shared)


def _from_left(
    dial: Dial, value: float, first: _Look | None, left: LeftRun | None, shared: int
) -> StandsOff | None:
    had = None if left is None else left.angles_deg.get((dial.id, value))
    if first is None or had is None:
        return None
    repeats = dial.movement.repeatability_deg
    return stands_off(first.angle_deg, had[0], (first.u_deg, had[1], repeats, repeats), shared)


def _off_document(one: StandsOff | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "off_deg": one.off_deg,
        "expanded_deg": COVERAGE_K * one.u_deg,
        "p": one.p,
        "off": one.is_off,
    }


def _way_document(one: Reversal | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "visits": one.visits,
        "reversal_deg": one.reversal_deg,
        "expanded_deg": one.expanded_deg,
        "guard_deg": one.guard_deg,
        "allowed_deg": one.allowed_deg,
        "told_from_deg": one.told_from_deg,
        "code": one.code,
    }


def _words(told: StandsOff | None, left: StandsOff | None, way: Reversal | None) -> str:
    said = []
    for one, of in ((told, "where it was told to be"), (left, "where the run before had it")):
        if one is not None:
            stands = "STANDS OFF" if one.is_off else "stands"
            expanded = COVERAGE_K * one.u_deg
            said.append(f"{stands} {one.off_deg:+z.2f} ± {expanded:.2f} deg from {of}")
    if not said:
        said.append("not read")
    if way is not None and way.reversal_deg is not None:
        said.append(_way_words(way))
    return "; ".join(said)


def _way_words(one: Reversal) -> str:
    by = f"from above {one.reversal_deg:+z.3f}"
    if one.expanded_deg is None:
        return f"{by} deg against from below in one visit; two tell how sure that is"
    by = f"{by} ± {one.expanded_deg:.3f} deg against from below"
    if one.allowed_deg is None:
        return f"{by}; a thermal movement creeps, and is not judged by it"
    if one.code == "differs":
        return f"{by}: DIFFERS, {one.allowed_deg:g} is allowed"
    if one.code == "alike":
        return f"{by}: alike, {one.allowed_deg:g} is allowed"
    told_from = f"from {one.told_from_deg:.2f} on it is told"
    return f"{by}: in doubt, {one.allowed_deg:g} is allowed; {told_from}"
