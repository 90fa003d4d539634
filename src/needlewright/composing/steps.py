"""The steps of a run before it is taken: what every dial is told for each photo.

A step is a photo, and one photo shows every dial; so the dials climb their scales together, each
through its own check points, and come down through the same ones.
"""

from collections.abc import Iterable
from typing import Final

from needlewright.errors import ScaleError
from needlewright.families.model import Dial, Family
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.runs import Approach
from needlewright.records.told import Told

POINTS: Final = 6
"""Values a dial is told on the way up, its first mark among them (common practice, no source)."""


def proposed_steps(
    family: Family, *, max_speed: float | None = None, temperature_c: float | None = None
) -> tuple[Told, ...]:
    """Propose the steps of a run: at rest, up through the check points, and down again.

    Parameters
    ----------
    family
        The cluster design.
    max_speed
        The vehicle's maximum design speed in the speedometer's unit; it decides the check points
        of some rules. None takes the scale's last mark.
    temperature_c
        Of the bench, written to every row.

    Returns
    -------
    tuple of Told
        Step 0 is the rest; every dial is told something at every step.

    Raises
    ------
    RuleError
        If a dial's rule does not fit it.
    """
    values = {dial.id: check_values(dial, max_speed=max_speed) for dial in family.dials}
    count = max((len(one) for one in values.values()), default=0)
    climb = [
        {dial: one[min(i, len(one) - 1)] for dial, one in values.items()} for i in range(count)
    ]
    rows = [Told(0, d.id, d.unit, "rest", None, temperature_c) for d in family.dials]
    up: list[tuple[Approach, dict[str, float]]] = [("up", told) for told in climb]
    down: list[tuple[Approach, dict[str, float]]] = [("down", told) for told in climb[-2::-1]]
    for step, (approach, told) in enumerate([*up, *down], start=1):
        rows += [
            Told(step, d.id, d.unit, approach, told[d.id], temperature_c) for d in family.dials
        ]
    return tuple(rows)


def check_values(dial: Dial, *, max_speed: float | None = None) -> tuple[float, ...]:
    """The values one dial is told on the way up.

    Parameters
    ----------
    dial
        The dial.
    max_speed
        As for `proposed_steps`.

    Returns
    -------
    tuple of float
        Rising, in the dial's unit: the first mark, the check points its rule names, and more in
        between and above until there are `POINTS`.

    Raises
    ------
    RuleError
        If the dial's rule does not fit it.
    """
    rule = rule_of(dial, max_speed=max_speed)
    first = dial.scale.values[0]
    named = [] if rule is None else [p for p in rule.check_points() if _on_scale(dial, p)]
    if not named:
        return _evenly(dial)
    chosen = sorted({first, *named})
    marks = [mark for mark in dial.scale.values if _on_scale(dial, mark)]
    while len(chosen) < POINTS:
        free = [mark for mark in marks if mark not in chosen]
        if not free:
            break
        chosen.append(max(free, key=lambda mark: _distance(mark, chosen)))
    return tuple(sorted(chosen))


def _evenly(dial: Dial) -> tuple[float, ...]:
    """Even shares of the scale, moved to the nearest graduation where that keeps them apart."""
    first, last = dial.scale.values[0], _last_on_scale(dial)
    even = [first + (last - first) * i / (POINTS - 1) for i in range(POINTS)]
    grid = dial.graduation_or_step
    tidy = [min(first + grid * round((value - first) / grid), last) for value in even]
    values = tidy if len(set(tidy)) == POINTS else even
    return tuple(float(f"{value:.6g}") for value in values)


def _last_on_scale(dial: Dial) -> float:
    return max(
        (mark for mark in dial.scale.values if _on_scale(dial, mark)), default=dial.scale.values[-1]
    )


def _on_scale(dial: Dial, value: float) -> bool:
    """Whether a sound unit told this value would show it between the end marks."""
    try:
        dial.programme_angle_deg(value)
    except ScaleError:
        return False
    return dial.scale.values[0] <= value and (
        dial.programme.shown_at(value) <= dial.scale.values[-1]
    )


def _distance(value: float, others: Iterable[float]) -> float:
    return min(abs(value - other) for other in others)
