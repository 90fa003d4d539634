"""Instruments whose own calibration was due before they were used."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, Final

from needlewright.records.facts import local_day
from needlewright.records.views import InstrumentView, JobSheet, RunSheet

NEXT: Final = "have it calibrated or use another one; papers name it as overdue"


def is_overdue(due: date | None, day: date) -> bool:
    """Whether a calibration due then was overdue on a day; on the day itself it is not yet."""
    return due is not None and due < day


def overdue_at_run(job: JobSheet, run: RunSheet) -> tuple[str, ...]:
    """What is to be said of the job's instruments on the day a run was taken.

    Parameters
    ----------
    job
        With its instruments.
    run
        One of its runs.

    Returns
    -------
    tuple of str
        One sentence for each that was overdue, without a full stop.
    """
    return _sentences(job.instruments, local_day(run.started_at))


def overdue_on_paper(document: Mapping[str, Any]) -> tuple[str, ...]:
    """The same for a proof, on the day of its work.

    Parameters
    ----------
    document
        Of the proof, as JSON.

    Returns
    -------
    tuple of str
        One sentence for each that was overdue, without a full stop.
    """
    used = [
        InstrumentView(
            one["name"],
            one["number"],
            None if one["due"] is None else date.fromisoformat(one["due"]),
            one["traceable_to"],
            retired=False,
        )
        for one in document["instruments"]
    ]
    day = document["work"] or document["found_on"] or document["issued"]
    return _sentences(used, date.fromisoformat(day))


def _sentences(instruments: Iterable[InstrumentView], day: date) -> tuple[str, ...]:
    return tuple(
        f"{one.name}, number {one.number}: its calibration{_whose(one)} was due on {one.due}, "
        f"before it was used on {day}; {NEXT}"
        for one in instruments
        if is_overdue(one.due, day)
    )


def _whose(one: InstrumentView) -> str:
    return f" by {one.traceable_to}" if one.traceable_to else ""
