"""What a run at the bench is to do: the check points of each dial, or those of the run as found."""

from collections.abc import Mapping, Sequence

from needlewright.bench.steps import RunPlan, plan_again
from needlewright.composing.steps import check_values
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.readings.runs import Approach, Run, RunRow
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet, run_that_counts
from needlewright.records.views import RunSheet, ToldView
from needlewright.signals.instruments import Instruments
from needlewright.signals.wiring import signal_of


def proposed_values(
    family: Family, max_speed: float | None = None
) -> Mapping[str, Sequence[float]]:
    """Check points of every dial, by its rule and marks.

    Parameters
    ----------
    family
        The cluster design.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    Mapping
        Rising values by dial.

    Raises
    ------
    RuleError
        If a dial's rule does not fit it.
    """
    return {dial.id: check_values(dial, max_speed=max_speed) for dial in family.dials}


def plan_as_found(shop: Shop, tag: str, family: Family) -> RunPlan:
    """Lay out the run as left: the run as found once more, point for point.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    family
        The cluster design.

    Returns
    -------
    RunPlan
        With the same values, approaches and key-ons.

    Raises
    ------
    RecordError
        If there is no run as found.
    RunError
        If it names a dial the family has not.
    """
    run = run_sheet(shop, run_that_counts(shop, tag, "found"))
    cycles = _key_cycles(run)
    rows = tuple(
        RunRow(
            run.name,
            row.dial,
            row.unit,
            _approach(row),
            row.commanded,
            step=row.step,
            key_cycle=cycles.get(row.step),
        )
        for row in run.told
    )
    return plan_again(Run(run.name, rows), family)


def require_told(plan: RunPlan, family: Family, instruments: Instruments) -> None:
    """Refuse a plan of which a value cannot be told.

    Parameters
    ----------
    plan
        The steps.
    family
        The cluster design, as it is told at this bench.
    instruments
        Of the bench.

    Raises
    ------
    SignalError
        If a value is out of range, or a dial states no signal.
    """
    signals = {dial: signal_of(family, dial) for dial in plan.dials}
    for dial, value in dict.fromkeys(pair for step in plan.steps for pair in step.told.items()):
        signals[dial].command(value, bench=instruments)


def points_in(text: str, where: str, most: int) -> tuple[float, ...]:
    """Check points as typed: `0, 20, 40`.

    Parameters
    ----------
    text
        Numbers with commas, semicolons or blanks between.
    where
        Named first in the sentence.
    most
        How many at most.

    Returns
    -------
    tuple of float
        In the order typed.

    Raises
    ------
    RunError
        If one is no number, or there are too many.
    """
    typed = text.replace(";", " ").replace(",", " ").replace("\u2212", "-").split()
    if len(typed) > most:
        raise RunError(f"{where}: {len(typed)} values; at most {most} are told; leave some out")
    values = []
    for one in typed:
        try:
            values.append(float(one))
        except ValueError as error:
            raise RunError(
                f"{where}: expected numbers like 0, 20, 40.5, found '{one[:20]}'; correct it"
            ) from error
        if not abs(values[-1]) < 1e9:
            raise RunError(f"{where}: expected numbers like 0, 20, 40.5, found '{one[:20]}'")
    return tuple(values)


def _key_cycles(run: RunSheet) -> Mapping[int, int]:
    return {row.step: row.key_cycle for row in run.told if row.key_cycle is not None}


def _approach(row: ToldView) -> Approach:
    return "up" if row.approach == "up" else "down" if row.approach == "down" else "rest"
