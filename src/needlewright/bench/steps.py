"""The steps of a bench run: rests over the key-ons, then up through the check points and down."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType
from typing import Final, Literal

from needlewright.errors import RunError
from needlewright.families.lamps import lamp_groups
from needlewright.families.model import Family
from needlewright.readings.runs import Approach, Run, RunRow
from needlewright.units import unit_for_people

KEY_ONS: Final = (0, 1, 3, 5)
"""Key-ons after which the needles are looked at, at rest: a movement that slips creeps home."""


StepKind = Literal["look", "sweep", "lamps"]
"""What happens at a step: needles are read, all dials sweep, a group of lamps is looked at."""


@dataclass(frozen=True, slots=True)
class RunStep:
    """One look at the cluster, or what follows the looks."""

    number: int
    approach: Approach
    told: Mapping[str, float]
    """What each dial is told, in its unit; empty at rest."""
    key_ons: int
    """Key-ons since the run began, before the look."""
    kind: StepKind = "look"
    group: str = ""
    """Of the lamps that are looked at; empty at other steps."""


@dataclass(frozen=True, slots=True)
class RunPlan:
    """All steps of a run, in order."""

    steps: tuple[RunStep, ...]

    @property
    def dials(self) -> tuple[str, ...]:
        """Ids of the dials that are told something."""
        return tuple(dict.fromkeys(dial for step in self.steps for dial in step.told))


def plan_run(values: Mapping[str, Sequence[float]], key_ons: Sequence[int] = KEY_ONS) -> RunPlan:
    """Lay out a run: rests, then all dials together up through their values and down again.

    Parameters
    ----------
    values
        Rising values by dial, in its unit. A dial with fewer than another waits at its last.
    key_ons
        Key-ons after which the needles are looked at, at rest; rising.

    Returns
    -------
    RunPlan
        The highest values are told once, at the turn.

    Raises
    ------
    RunError
        If there is nothing to tell, or the values or the key-ons do not rise.
    """
    if not any(values.values()):
        raise RunError("no dial has a check point; give at least one value")
    for dial, one in values.items():
        if any(b <= a for a, b in pairwise(one)):
            found = ", ".join(f"{value:g}" for value in one)
            raise RunError(f"dial '{dial}': check points must rise, found {found}")
    if any(b <= a for a, b in pairwise(key_ons)) or min(key_ons, default=0) < 0:
        raise RunError(f"key-ons must rise from 0 or more, found {', '.join(map(str, key_ons))}")
    told_dials = {dial: one for dial, one in values.items() if one}
    count = max(len(one) for one in told_dials.values())
    climb = [
        {dial: one[min(i, len(one) - 1)] for dial, one in told_dials.items()} for i in range(count)
    ]
    steps = [RunStep(i, "rest", MappingProxyType({}), ons) for i, ons in enumerate(key_ons)]
    on = max(key_ons, default=0) + 1
    ways: list[tuple[Approach, dict[str, float]]] = [("up", told) for told in climb]
    ways += [("down", told) for told in climb[-2::-1]]
    for number, (approach, told) in enumerate(ways, start=len(steps)):
        steps.append(RunStep(number, approach, MappingProxyType(told), on))
    return RunPlan(tuple(steps))


def with_checks(
    plan: RunPlan, family: Family, *, sweep: bool = True, lamps: bool = True
) -> RunPlan:
    """Lay out what follows the check points: the sweep, then the lamps.

    Parameters
    ----------
    plan
        The looks.
    family
        The cluster design.
    sweep
        Whether all dials that are told something are driven to full scale and back.
    lamps
        Whether each group of lamps is looked at.

    Returns
    -------
    RunPlan
        The sweep comes after the check points: it may free a needle that sticks, or lose steps,
        and what is read must be as found. The lamps come last, for the bench is made dark.
    """
    last = plan.steps[-1]
    after = RunStep(last.number + 1, "rest", MappingProxyType({}), max(last.key_ons, 1))
    extra: list[RunStep] = []
    if sweep and plan.dials:
        extra.append(replace(after, kind="sweep"))
    if lamps:
        groups = lamp_groups((*family.lamps, *family.tell_tales))
        extra += [replace(after, kind="lamps", group=group.name) for group in groups]
    numbered = [replace(step, number=last.number + 1 + n) for n, step in enumerate(extra)]
    return RunPlan((*plan.steps, *numbered))


def plan_again(run: Run, family: Family) -> RunPlan:
    """Lay out the same run once more, point for point.

    Parameters
    ----------
    run
        As found. Rows of one step are told together; rows without a step are steps of their own.
    family
        The cluster design.

    Returns
    -------
    RunPlan
        With the same values, approaches and key-ons.

    Raises
    ------
    RunError
        If the run is empty, or names a dial the family has not.
    """
    if not run.rows:
        raise RunError(f"run '{run.name}' has no rows to repeat")
    for row in run.rows:
        if family.dial(row.dial) is None:
            known = ", ".join(d.id for d in family.dials)
            raise RunError(
                f"run '{run.name}': family '{family.name}' has no dial '{row.dial}': {known}"
            )
    steps: list[RunStep] = []
    for rows in _by_step(run.rows):
        told = {row.dial: row.commanded for row in rows if row.commanded is not None}
        approach = rows[0].approach
        before = steps[-1].key_ons if steps else 0
        stated = rows[0].key_cycle
        least = before if approach == "rest" else max(before, 1)
        key_ons = least if stated is None else max(stated, least)
        steps.append(RunStep(len(steps), approach, MappingProxyType(told), key_ons))
    return RunPlan(tuple(steps))


def step_words(step: RunStep, family: Family) -> str:
    """A step for people: what the dials are told.

    Parameters
    ----------
    step
        The step.
    family
        The cluster design.

    Returns
    -------
    str
        Like `speed 80 km/h, fuel 0.5, from below`.
    """
    if step.kind == "sweep":
        return "all dials to full scale and back"
    if step.kind == "lamps":
        return f"lamps: {step.group}"
    if not step.told:
        times = "key-on" if step.key_ons == 1 else "key-ons"
        return f"at rest after {step.key_ons} {times}" if step.key_ons else "at rest, as received"
    units = {dial.id: unit_for_people(dial.unit) for dial in family.dials}
    told = ", ".join(f"{dial} {value:g} {units[dial]}" for dial, value in step.told.items())
    return f"{told}, from {'below' if step.approach == 'up' else 'above'}"


def _by_step(rows: Sequence[RunRow]) -> list[list[RunRow]]:
    """Rows that were seen together: of one step, one approach, each dial once."""
    groups: list[list[RunRow]] = []
    for row in rows:
        last = groups[-1] if groups else []
        together = (
            last
            and row.step is not None
            and row.step == last[0].step
            and row.approach == last[0].approach
            and all(row.dial != other.dial for other in last)
        )
        if together:
            last.append(row)
        else:
            groups.append([row])
    return groups
