"""What burn-ins of any length leave for the warranty: the curve beside the plan."""

from typing import Final

from needlewright.bench.burn_in.journal import Counts
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.composing.burn_in_statements import Beforehand, best_of, expected_of
from needlewright.papers import ink
from needlewright.plans.burn_in.early import PARTS, residual

POINTS: Final = 80
WIDER: Final = 2.0
"""So many times the planned hours are drawn."""
ALL: Final = "anything"


def curve_points(known: Beforehand, plan: BurnInPlan) -> dict[str, list[tuple[float, float]]]:
    """The curve, as numbers.

    Parameters
    ----------
    known
        What is known beforehand.
    plan
        What is to be done; sweeps come with its hours.

    Returns
    -------
    dict
        `(hours, probability of a failure within the warranty after them)` for anything, the
        electronics, and the movements.
    """
    last = plan.hours * WIDER
    best = best_of(known)
    if best is not None and best.hours is not None:
        last = max(last, min(1.2 * best.hours, 10 * plan.hours))
    a_sweep_h = plan.hours / max(plan.expected_sweeps, 1)
    found: dict[str, list[tuple[float, float]]] = {ALL: [], **{one: [] for one in PARTS.values()}}
    for n in range(POINTS + 1):
        hours = last * (n / POINTS) ** 2  # it falls steeply at first
        sweeps = int(hours / a_sweep_h) if plan.expected_sweeps else 0
        parts = expected_of(known, Counts(powered_s=3600.0 * hours, sweeps=sweeps))
        found[ALL].append((hours, residual(parts)))
        for part in parts:
            found[PARTS[part.law.clock]].append((hours, part.after))
    return found


def curve_svg(known: Beforehand, plan: BurnInPlan, type_stack: str = ink.SANS_STACK) -> str:
    """The curve drawn.

    Parameters
    ----------
    known
        What was known beforehand, as `curve_points` takes it.
    plan
        The burn-in's.
    type_stack
        Families of type.

    Returns
    -------
    str
        An SVG document.
    """
    from needlewright.papers.early_chart import (  # noqa: PLC0415 - slow to import
        EarlyLine,
        early_chart_svg,
    )

    best = best_of(known)
    lines = [EarlyLine(name, tuple(one)) for name, one in curve_points(known, plan).items()]
    hours = None if best is None else best.hours
    return early_chart_svg(lines, plan.hours, best=hours, type_stack=type_stack)
