"""A proof of the drawn job for tests: job facts, runs, and what can be changed about them."""

from dataclasses import replace
from datetime import date
from typing import Any

from needlewright.proofs.certificate import MeasuredRun, certify
from needlewright.proofs.job_facts import JobFacts
from needlewright.proofs.proof_model import Proof
from needlewright.readings.complete import complete_run
from needlewright.readings.runs import Run, RunRow
from proofs.drawn_job import FAMILY, true_run

FACTS: dict[str, Any] = {
    "shop": "Test Bench",
    "place": "2 Test Road, Testing",
    "customer": "C. Ustomer",
    "customer_contact": "post box 7",
    "vehicle": "an invented van",
    "tag": "T-77",
    "serial": "S-123",
    "condition": "two screws missing",
    "received": date(2026, 3, 2),
    "found_on": date(2026, 3, 3),
    "work": date(2026, 3, 5),
    "issued": date(2026, 3, 6),
    "number": "TB-2026-77",
    "authorised_by": "A. Uthor, bench lead",
    "supply": "13.5 V, limited to 2 A",
    "instruments": ({"name": "thermometer", "number": "TH-9", "due": date(2026, 9, 30)},),
    "work_done": ("movement of the speedometer replaced",),
    "odometer": {"unit": "km", "as_received": 184213, "as_returned": 184213},
}


def job(**changes: Any) -> JobFacts:
    """The job's facts, with some of them changed; None leaves one out."""
    facts = {k: v for k, v in (FACTS | changes).items() if v is not None}
    return JobFacts.model_validate(facts)


def measured(name: str, at_c: float | None = 21.5, **more: Any) -> MeasuredRun:
    """A run of the drawn job as a perfect reader sees it, photos named."""
    rows = tuple(
        replace(row, photo=f"{name}/{row.step:02d}.jpg", temperature_c=at_c, **more)
        for row in true_run(name).rows
    )
    return MeasuredRun(complete_run(Run(name, rows), FAMILY))


def with_rows(run: MeasuredRun, dial: str, change: Any) -> MeasuredRun:
    """A run in which `change(row)` takes the place of each row of one dial; None drops it."""
    rows = [change(row) if row.dial == dial else row for row in run.run.rows]
    return replace(run, run=Run(run.run.name, tuple(row for row in rows if row is not None)))


def turned(turn_deg: float) -> Any:
    """A change that turns a needle, its value following."""

    def turn(row: RunRow) -> RunRow:
        dial = FAMILY.dial(row.dial)
        assert dial is not None
        angle = row.angle_deg + turn_deg
        return replace(row, angle_deg=angle, indicated=dial.scale.value_at(angle))

    return turn


def proof(left: MeasuredRun | None = None, **changes: Any) -> Proof:
    """The drawn job proved, as left or with another run in its place."""
    return certify(FAMILY, job(**changes), measured("as-found"), left or measured("as-left"))
