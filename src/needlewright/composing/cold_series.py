"""Where the cold begins for each dial of a temperature series, or of runs that were typed."""

from collections.abc import Sequence
from math import sqrt
from pathlib import Path
from typing import Any, Final

from needlewright.bench.series import KeptSeries
from needlewright.bench.series_state import AtTemperature, StepTemperature
from needlewright.composing.series_summary import outcome_of
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.findings.cold.judged import ColdFinding, judge_cold
from needlewright.findings.cold.moves import RunInCold, SweepInCold
from needlewright.findings.cold.onset import TENTH
from needlewright.readings.complete import complete_run
from needlewright.readings.run_csv import read_run
from needlewright.readings.runs import Run, RunRow

PLACE: Final = "thermometer"
"""What all temperatures of a series may be off by together."""
STRETCH_C: Final = 5.0
"""Rows of one run that are further apart were taken at another temperature."""


def cold_findings(kept: KeptSeries, family: Family) -> tuple[ColdFinding, ...]:
    """Where each dial of a series begins to slip or stall.

    Parameters
    ----------
    kept
        The series.
    family
        The cluster design.

    Returns
    -------
    tuple of ColdFinding
        In the family's order; dials of which no move can be judged are left out.

    Raises
    ------
    RunError
        If a run, or what it gave beside its rows, cannot be read.
    """
    runs = []
    for place, at in enumerate(kept.state.temperatures):
        path = kept.run_path(place)
        if path.exists():
            run = complete_run(read_run(path), family)
            parts = {step: _parts(one) for step, one in at.steps.items()}
            runs.append(RunInCold(run, parts, sweep=_sweep_in_cold(at, run, path)))
    return judged_dials(runs, family)


def cold_findings_of_runs(
    runs: Sequence[Run], family: Family, u_degc: float
) -> tuple[ColdFinding, ...]:
    """Where each dial begins to slip or stall, from runs whose rows say how warm they were.

    Parameters
    ----------
    runs
        Completed with the family.
    family
        The cluster design.
    u_degc
        Standard uncertainty of the temperatures, common to all of them.

    Returns
    -------
    tuple of ColdFinding
        In the family's order; dials of which no move can be judged are left out.

    Raises
    ------
    RunError
        If no row says how warm it was, or no move can be judged.
    """
    if not any(row.temperature_c is not None for run in runs for row in run.rows):
        names = ", ".join(f"'{run.name}'" for run in runs)
        raise RunError(
            f"{'run' if len(runs) == 1 else 'runs'} {names}: no row says how warm the cluster was; "
            "type it under 'temperature_c'"
        )
    stretches = [one for run in runs for one in _stretches(run)]
    found = judged_dials([RunInCold(one, common={PLACE: u_degc}) for one in stretches], family)
    if not found:
        raise RunError(
            "no move of a dial can be judged: no row has a command, a reading and a temperature"
        )
    return found


def judged_dials(runs: Sequence[RunInCold], family: Family) -> tuple[ColdFinding, ...]:
    """Judge every dial of a family by runs at several temperatures.

    Parameters
    ----------
    runs
        With what their temperatures may be off by.
    family
        The cluster design.

    Returns
    -------
    tuple of ColdFinding
        In the family's order; dials of which no move can be judged are left out.
    """
    found = (judge_cold(dial, runs, family.winter_degc) for dial in family.dials)
    return tuple(one for one in found if one is not None)


def _stretches(run: Run) -> list[Run]:
    """A run that was typed through several temperatures, as a run for each."""
    stretches: list[list[RunRow]] = [[]]
    began_c: float | None = None
    for row in run.rows:
        degc = row.temperature_c
        if degc is not None and began_c is not None and abs(degc - began_c) > STRETCH_C:
            stretches.append([])
            began_c = None
        began_c = degc if began_c is None else began_c
        stretches[-1].append(row)
    return [Run(f"{run.name}, {n}", tuple(rows)) for n, rows in enumerate(stretches, start=1)]


def _parts(step: StepTemperature) -> dict[str, float]:
    """What a temperature may be off by, each part named after its stay but the thermometer's.

    Readings of a thermometer tie the parts of a stay to each other; they are shrunk to what is left
    of their sum, as if they were independent still.
    """
    place = step.parts_c.get(PLACE, 0.0)
    others = {name: part for name, part in step.parts_c.items() if name != PLACE}
    of_parts = sqrt(sum(part**2 for part in others.values()))
    left = sqrt(max(step.u_temperature_c**2 - place**2, 0.0))
    share = left / of_parts if of_parts > 0 else 0.0
    named = {f"{name} of stay {step.stay}": share * part for name, part in others.items()}
    return {**named, PLACE: place}


def _sweep_in_cold(at: AtTemperature, run: Run, run_csv: Path) -> SweepInCold | None:
    """The sweep of a run, at the temperature it began at."""
    sweep = outcome_of(run_csv).sweep
    looked = {row.step for row in run.rows}
    steps = [step for step in at.steps if step not in looked]
    if sweep is None or sweep.found is None or sweep.found.problem is not None or not steps:
        return None
    step = at.steps[max(steps)]
    events = tuple((event.dial, event.fault) for event in sweep.found.events)
    return SweepInCold(step.temperature_c, _parts(step), sweep.dials, events)


def cold_document(found: ColdFinding) -> dict[str, Any]:
    """What a series says of one dial, as JSON."""
    onset, winter = found.onset, found.winter
    tenth = onset.where_fails(TENTH)
    return {
        "dial": found.dial,
        "onset": onset.where,
        "at_c": _two(onset.at_c),
        "u_at_c": _two(onset.u_c),
        "low_c": _two(onset.low_c),
        "high_c": _two(onset.high_c),
        "tenth": None
        if tenth is None
        else dict(zip(("low_c", "at_c", "high_c"), map(_two, tenth), strict=True)),
        "moves": onset.moves,
        "failed": onset.failed,
        "short": found.moves.short,
        "untold": found.moves.untold,
        "without_temperature": found.moves.without_temperature,
        "coldest_c": _two(onset.coldest_c),
        "warmest_c": _two(onset.warmest_c),
        "cold_wrong_ratio": float(f"{found.ratio:.6g}"),
        "winter": None
        if winter is None
        else {
            "state": winter.winter,
            "winter_degc": winter.winter_degc,
            "margin_c": _two(winter.margin_c),
            "probability": None if winter.probability is None else round(winter.probability, 4),
        },
        "words": found.words,
        "warning": found.winter_words,
    }


def _two(degc: float | None) -> float | None:
    return None if degc is None else round(degc, 2) + 0.0
