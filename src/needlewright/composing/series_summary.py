"""What a temperature series shows at a glance: how warm, and how far off each needle at most."""

from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from needlewright.bench.keeping import outcome_path
from needlewright.bench.outcome import Outcome, SweepEvent
from needlewright.bench.series import KeptSeries
from needlewright.bench.series_state import AtTemperature
from needlewright.errors import RunError
from needlewright.families.model import Dial, Family
from needlewright.readings.run_csv import read_run
from needlewright.readings.runs import Run


@dataclass(frozen=True, slots=True)
class LargestError:
    """How far a needle was off at most at one temperature."""

    dial: str
    read: int
    """Rows with a reading that say where the needle stands; those on a stop do not."""
    error_deg: float | None
    """Angle less that of the programme, positive clockwise; None: nothing was read."""
    commanded: float | None


@dataclass(frozen=True, slots=True)
class TemperatureSummary:
    """One temperature."""

    at: AtTemperature
    rows: int
    coldest_c: float | None
    warmest_c: float | None
    u_c: float | None
    """The largest standard uncertainty of a step's temperature."""
    errors: tuple[LargestError, ...]
    events: tuple[SweepEvent, ...]
    """Found in its sweep."""


def summaries(kept: KeptSeries, family: Family) -> tuple[TemperatureSummary, ...]:
    """Sum up every temperature, from cold to warm.

    Parameters
    ----------
    kept
        The series.
    family
        The cluster design.

    Returns
    -------
    tuple of TemperatureSummary
        Those that are not begun with no row.

    Raises
    ------
    RunError
        If a run, or what it gave beside its rows, cannot be read.
    """
    found = []
    for place, at in enumerate(kept.state.temperatures):
        path = kept.run_path(place)
        run = read_run(path) if path.exists() else Run(path.stem, ())
        found.append(_summary(at, run, family, _events(path)))
    return tuple(sorted(found, key=lambda one: one.at.at_c))


def outcome_of(run_csv: Path) -> Outcome:
    """What a run gave beside its rows.

    Parameters
    ----------
    run_csv
        The run's file.

    Returns
    -------
    Outcome
        Empty where it gave nothing.

    Raises
    ------
    RunError
        If its file is damaged.
    """
    path = outcome_path(run_csv)
    try:
        return TypeAdapter(Outcome).validate_json(path.read_bytes())
    except FileNotFoundError:
        return Outcome()
    except (OSError, ValidationError) as error:
        raise RunError(f"{path}: cannot be read; the run beside it is whole") from error


def _events(run_csv: Path) -> tuple[SweepEvent, ...]:
    sweep = outcome_of(run_csv).sweep
    return () if sweep is None or sweep.found is None else sweep.found.events


def _summary(
    at: AtTemperature, run: Run, family: Family, events: tuple[SweepEvent, ...]
) -> TemperatureSummary:
    degc = [row.temperature_c for row in run.rows if row.temperature_c is not None]
    kept = {row.step for row in run.rows}
    u_c = [one.u_temperature_c for step, one in at.steps.items() if step in kept]
    told = {row.dial for row in run.rows if row.commanded is not None}
    return TemperatureSummary(
        at,
        len(run.rows),
        min(degc, default=None),
        max(degc, default=None),
        max(u_c, default=None),
        tuple(_largest(run, dial) for dial in family.dials if dial.id in told),
        events,
    )


def _largest(run: Run, dial: Dial) -> LargestError:
    errors = [
        (row.angle_deg - dial.programme_angle_deg(row.commanded), row.commanded)
        for row in run.of_dial(dial.id)
        if row.angle_deg is not None and row.commanded is not None and not row.on_stop
    ]
    if not errors:
        return LargestError(dial.id, 0, None, None)
    error_deg, commanded = max(errors, key=lambda each: abs(each[0]))
    return LargestError(dial.id, len(errors), error_deg, commanded)
