"""The work in its order: opened as far as needed, done from the inside out, closed, checked."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import sqrt
from typing import Literal

from needlewright.plans.catalogue.model import Check, Need, Way
from needlewright.plans.rebuild.choices import Decision
from needlewright.plans.rebuild.findings import Place
from needlewright.plans.rebuild.search import Costs
from needlewright.plans.rebuild.work import LevelAt, Task, Workshop

StepKind = Literal["open", "work", "close", "check"]


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step.

    Parameters
    ----------
    kind
        Opening, the work itself, closing, a check.
    words
        What is done.
    place
        To which dial; None: to the whole.
    minutes, u_minutes
        Expected, and their standard deviation; None: none are stated, as for some checks.
    reasons
        Why; none where it is only on the way.
    parts
        To pull from the stock for it.
    cautions
        Said beside it.
    guide
        Id of the guide that tells how.
    task
        Name of the operation; None: of a way in or out, or a check.
    """

    kind: StepKind
    words: str
    place: Place
    minutes: Fraction | None
    u_minutes: float | None = None
    reasons: tuple[str, ...] = ()
    parts: tuple[Need, ...] = ()
    cautions: tuple[str, ...] = ()
    guide: str | None = None
    task: str | None = None


def steps_of(
    workshop: Workshop, costs: Costs, decisions: Sequence[Decision]
) -> tuple[PlanStep, ...]:
    """Put the work of a set of operations into its order.

    Parameters
    ----------
    workshop
        Of the catalogue and the dials.
    costs
        The set, and what is opened for it.
    decisions
        Whose reasons stand beside the work.

    Returns
    -------
    tuple of PlanStep
        Ways in; then operations as the way out comes by the level they are done at: what is done
        to the whole while it is open furthest, so that lamps are in before the face is back, and
        needles are set last. What a way out contains is that step. A check that states a level
        stands before the way out of that. At last what needs nothing open, and all other checks.
    """
    inward = _inward(workshop, costs.levels)
    known = workshop.catalogue.levels
    steps = [_way(workshop, known[name].way_in, place, "open") for name, place in inward]
    waiting = sorted(costs.tasks, key=lambda task: _place_in_order(workshop, task))
    checks = _checks(workshop, waiting, inward)
    for at in reversed(inward):
        here = [task for task in waiting if _done_at(workshop, task, inward) == at]
        own = [task for task in here if task.operation.included_in is None]
        steps += [_work(workshop, task, decisions) for task in own]
        steps += checks.get(at, ())
        out = _way(workshop, known[at[0]].way_out, at[1], "close")
        for task in (task for task in here if task not in own):
            out = _contains(out, _work(workshop, task, decisions))
        steps.append(out)
    outside = [task for task in waiting if not workshop.open_for([task])]
    steps += [_work(workshop, task, decisions) for task in outside]
    return (*steps, *checks.get(None, ()))


def _checks(
    workshop: Workshop, tasks: Sequence[Task], inward: Sequence[LevelAt]
) -> dict[LevelAt | None, list[PlanStep]]:
    """Of all that was done and opened, each once, by the level that still stands open for it.

    None: everything is closed by then. Of those, what was opened furthest is checked first: a
    burn-in moves what the readings at every check point are to find as it stays.
    """
    asked: dict[tuple[str, Place], list[tuple[Check, int]]] = {}
    levels = workshop.catalogue.levels
    every = [(task.place, task.operation.open, task.operation.checks) for task in tasks]
    every += [(place, (name,), levels[name].checks) for name, place in inward]
    for place, opened, checks in every:
        deep = _depth(workshop.opening(opened, place))
        for check in checks:
            words = workshop.named(check.words, place)
            asked.setdefault((words, place), []).append((check, deep))
    found: dict[LevelAt | None, list[PlanStep]] = {}
    # whatever asks for it last has it done; the sort keeps equals in their order
    for (words, place), of in sorted(asked.items(), key=lambda one: -min(d for _, d in one[1])):
        at = next((check.at for check, _ in of if check.at is not None), None)
        here = None if at is None else (at, place if levels[at].scope == "dial" else None)
        said = tuple(dict.fromkeys(one for check, _ in of for one in check.cautions))
        step = PlanStep("check", words, place, None, cautions=said)
        minutes = next((check.minutes for check, _ in of if check.minutes is not None), None)
        if minutes is not None:
            step = replace(step, minutes=minutes.mean, u_minutes=sqrt(minutes.variance))
        found.setdefault(here if here in inward else None, []).append(step)
    return found


def _depth(levels: Iterable[LevelAt]) -> int:
    """How far it is opened."""
    return len({name for name, _ in levels})


def _contains(way: PlanStep, work: PlanStep) -> PlanStep:
    """A way out that is the work as well: its minutes are those of the way."""
    return replace(
        way,
        words=f"{way.words}; with that: {work.words}",
        reasons=(*way.reasons, *work.reasons),
        parts=(*way.parts, *work.parts),
        cautions=tuple(dict.fromkeys((*way.cautions, *work.cautions))),
        guide=way.guide or work.guide,
        task=work.task,
    )


def parts_of(tasks: Iterable[Task]) -> tuple[Need, ...]:
    """What is pulled from the stock for all of these, each part once."""
    counts: dict[str, Need] = {}
    for need in (need for task in tasks for need in task.operation.needs):
        before = counts.get(need.part.id)
        count = need.count + (0 if before is None else before.count)
        counts[need.part.id] = Need(need.part, count)
    return tuple(counts[code] for code in sorted(counts))


def _inward(workshop: Workshop, levels: Iterable[LevelAt]) -> list[LevelAt]:
    """Levels, what others need before those."""
    known = workshop.catalogue.levels
    order = {name: number for number, name in enumerate(known)}

    def depth(name: str) -> int:
        return 1 + max((depth(below) for below in known[name].needs), default=0)

    places = {place: number for number, place in enumerate(workshop.places)}
    return sorted(levels, key=lambda at: (depth(at[0]), order[at[0]], places[at[1]]))


def _done_at(workshop: Workshop, task: Task, inward: Sequence[LevelAt]) -> LevelAt | None:
    """Where on the way out it is done: of the whole before anything of it is closed again."""
    needed = workshop.open_for([task])
    if task.place is None and needed:
        return next(at for at in reversed(inward) if at[1] is None)
    return next((at for at in reversed(inward) if at in needed), None)


def _place_in_order(workshop: Workshop, task: Task) -> tuple[int, int, int]:
    """What lies deepest first, then by place and as the catalogue has it."""
    ids = list(workshop.catalogue.operations)
    return (
        -_depth(workshop.open_for([task])),
        workshop.places.index(task.place),
        ids.index(task.operation.id),
    )


def _way(workshop: Workshop, way: Way, place: Place, kind: StepKind) -> PlanStep:
    return PlanStep(
        kind=kind,
        words=workshop.named(way.words, place),
        place=place,
        minutes=way.minutes.mean,
        u_minutes=sqrt(way.minutes.variance),
        cautions=way.cautions,
    )


def _work(workshop: Workshop, task: Task, decisions: Sequence[Decision]) -> PlanStep:
    one = task.operation
    why = [
        f"{decision.words}: {decision.reason}"
        for decision in decisions
        if task.name in decision.own
    ]
    return PlanStep(
        kind="work",
        words=workshop.named(one.words, task.place),
        place=task.place,
        minutes=one.minutes.mean,
        u_minutes=sqrt(one.minutes.variance),
        reasons=tuple(why),
        parts=one.needs,
        cautions=one.cautions,
        guide=one.guide,
        task=task.name,
    )
