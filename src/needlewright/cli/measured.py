"""A run's file as the papers' commands take it: read, completed, with its evidence."""

from pathlib import Path

from needlewright.cli import console
from needlewright.composing.bench_devices import REHEARSED
from needlewright.families.model import Family
from needlewright.proofs.certificate import MeasuredRun
from needlewright.readings.complete import complete_run
from needlewright.readings.evidence import read_evidence
from needlewright.readings.run_csv import read_run
from needlewright.readings.runs import Run


def measured_run(family: Family, run_csv: Path, name: str | None = None) -> MeasuredRun:
    """Read a run's CSV and what lies beside it.

    Parameters
    ----------
    family
        The cluster design.
    run_csv
        The run's file.
    name
        Which run, where the file holds several.

    Returns
    -------
    MeasuredRun
        Rows completed with their dials.

    Raises
    ------
    RunError
        If the file, or the evidence beside it, cannot be used.
    """
    run = complete_run(read_run(run_csv, name), family)
    return MeasuredRun(run, read_evidence(run_csv), run_csv.parent)


def say_rehearsed(*runs: Run, as_json: bool = False) -> None:
    """Say in one line that a run was rehearsed; beside a document on standard error."""
    names = " and ".join(run.name for run in runs if run.is_rehearsed)
    if names:
        where = console.err if as_json else console.out
        where.print(f"run {names}: rehearsed: {REHEARSED}", markup=False)
