"""Dials that must pass the final check, and how much chance of a fault may be left on them.

A speedometer that fails the final check gets no passing certificate, so work after which it is
likely to fail is no finished rebuild, however little it costs. Money alone does not say so: the
check finds the fault before it costs a return. What may be left is what the check must not let
through: a fault that is there and is not found, with at most `MOST_PASSED` of all clusters.
**Source**: that share is the one which a guard band as wide as the expanded uncertainty keeps in
statements of conformity (ILAC-G8:09/2019, table 1, from memory); derivation, docs/decisions/0079.
"""

from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from needlewright.plans.catalogue.model import Terms
from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.totals import total_of
from needlewright.plans.rebuild.work import Task, Workshop

MOST_PASSED: Final = Fraction(1, 40)
"""Probability, at most, that such a dial leaves with a fault and a passing certificate."""
MOST_LEFT: Final = Fraction(1, 2)
"""However good the check: a dial is not left more likely at fault than sound."""


def most_left(terms: Terms) -> Fraction:
    """The chance of a fault that may be left on a dial that must pass.

    Parameters
    ----------
    terms
        With the probability that the final check finds a fault.

    Returns
    -------
    Fraction
        From `MOST_PASSED`, where the check finds nothing, to `MOST_LEFT`.
    """
    passes = 1 - terms.check_catches
    return MOST_PASSED / passes if passes * MOST_LEFT > MOST_PASSED else MOST_LEFT


def left_of(
    things: Iterable[Thing], tasks: Iterable[Task], workshop: Workshop | None = None
) -> Fraction:
    """The chance of a fault that work leaves.

    Parameters
    ----------
    things
        Of one dial.
    tasks
        That are done; those elsewhere do nothing to it.
    workshop
        Where it is given, faults that none of its operations treats are not counted.

    Returns
    -------
    Fraction
        From 0 to 1: the faults of a dial exclude one another.
    """
    done = list(tasks)
    left = []
    for fault in (fault for thing in things for fault in thing.faults):
        if workshop is None or workshop.is_curable(fault.place, fault.state):
            chance = fault.chance
            for task in done:
                cure = task.operation.cures(fault.state) if task.place == fault.place else 0
                if cure:
                    chance *= 1 - cure
            left.append(chance)
    return total_of(left)
