"""The drawn job: its family and the true rows of its two runs, as a perfect reader sees them."""

import csv
from pathlib import Path

from needlewright.families.folder import load_family
from needlewright.readings.runs import Run, RunRow

DATA = Path(__file__).parents[1] / "data"
FAMILY = load_family(DATA / "families" / "fam-job")


def true_run(name: str, u_angle_deg: float = 0.05) -> Run:
    """Rows with the true angle of every needle and a stated reading uncertainty."""
    with (DATA / "drawn-job" / "truth-rows.csv").open() as file:
        lines = [line for line in csv.DictReader(file) if line["run"] == name]
    return Run(
        name,
        tuple(
            RunRow(
                run=name,
                dial=line["dial"],
                unit=line["unit"],
                approach=line["approach"],
                commanded=float(line["commanded"]) if line["commanded"] else None,
                angle_deg=float(line["true_angle_deg"]),
                u_angle_deg=u_angle_deg,
                flags=("on_stop",) if line["on_stop"] == "true" else (),
                step=int(line["step"]),
            )
            for line in lines
        ),
    )


def row(dial: str, commanded: float | None, indicated: float | None, **more) -> RunRow:
    """One row that shows a value, u 0.2 of the dial's unit unless said otherwise."""
    found = FAMILY.dial(dial)
    settings = {
        "run": "typed",
        "dial": dial,
        "unit": found.unit,
        "approach": "rest" if commanded is None else "up",
        "commanded": commanded,
        "indicated": indicated,
        "u_indicated": None if indicated is None else 0.2,
    } | more
    return RunRow(**settings)
