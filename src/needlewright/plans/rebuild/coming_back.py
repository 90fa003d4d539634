"""How probable it is that a cluster comes back at all under warranty, after some work.

The expected number of returns counts a cluster that comes back twice as two. Here it counts once.
The model is that of the losses: the faults of a dial exclude one another, those of the whole do
not; every weak point fails by itself; one that is at fault already and was not mended cannot fail
once more. **Source**: derivation, docs/plan.md.
"""

from collections.abc import Iterable
from fractions import Fraction

from needlewright.plans.rebuild.losses import Losses
from needlewright.plans.rebuild.risks import FaultNow, Thing
from needlewright.plans.rebuild.work import Task

ONE = Fraction(1)


def any_return(losses: Losses, things: Iterable[Thing], tasks: frozenset[Task]) -> Fraction:
    """Probability of at least one return under warranty.

    Parameters
    ----------
    losses
        What is expected after work.
    things
        Of the whole cluster.
    tasks
        That are done.

    Returns
    -------
    Fraction
        From 0 to 1, exact.
    """
    every = list(things)
    none = ONE
    for place in dict.fromkeys(thing.place for thing in every):
        own = [thing for thing in every if thing.place == place]
        none *= _whole(losses, own, tasks) if place is None else _dial(losses, own, tasks)
    return 1 - none


def _dial(losses: Losses, things: list[Thing], tasks: frozenset[Task]) -> Fraction:
    """That nothing of a dial comes back: one of its faults is there at most."""
    faults = [fault for thing in things for fault in thing.faults]
    sound = 1 - sum((fault.chance for fault in faults), Fraction(0))
    stays = _lasts(losses, things, tasks, None)
    none = sound * stays
    for fault in faults:
        none += _stays(losses, fault, tasks) * _lasts(losses, things, tasks, fault)
    return none


def _whole(losses: Losses, things: list[Thing], tasks: frozenset[Task]) -> Fraction:
    """That nothing of the whole comes back: each of its faults is there or not by itself."""
    none = ONE
    for thing in things:
        # a weak point depends on the fault it becomes, and on no other
        for fault in thing.faults:
            of_fault = [wear for wear in thing.wear if wear.state == fault.state]
            own = [Thing(thing.place, thing.part, thing.faults, tuple(of_fault))]
            none *= _stays(losses, fault, tasks) * _lasts(losses, own, tasks, fault) + (
                1 - fault.chance
            ) * _lasts(losses, own, tasks, None)
        states = {fault.state for fault in thing.faults}
        rest = tuple(wear for wear in thing.wear if wear.state not in states)
        none *= _lasts(losses, [Thing(thing.place, thing.part, (), rest)], tasks, None)
    return none


def _stays(losses: Losses, fault: FaultNow, tasks: frozenset[Task]) -> Fraction:
    """That a fault is there and does not bring the cluster back."""
    return fault.chance - losses.of_fault(fault, tasks).expected_returns


def _lasts(
    losses: Losses, things: Iterable[Thing], tasks: frozenset[Task], fault: FaultNow | None
) -> Fraction:
    """That no weak point fails within the warranty, one fault being there or none."""
    lasts = ONE
    for thing in things:
        for wear in thing.wear:
            mended = any(t.place == wear.place and t.operation.cures(wear.state) for t in tasks)
            if fault is not None and fault.state == wear.state and not mended:
                continue  # it is at fault already
            bare = Thing(thing.place, thing.part, (), ())
            lasts *= 1 - losses.of_wear(bare, wear, tasks).expected_returns
    return lasts
