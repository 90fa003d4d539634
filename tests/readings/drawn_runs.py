"""The two drawn runs as a reader would hand them over: true angles, noise at will, no flags."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np

from needlewright.families.folder import load_family
from needlewright.readings.complete import complete_run
from needlewright.readings.runs import Run, RunRow

DATA = Path(__file__).parents[1] / "data"
FAMILY = load_family(DATA / "families" / "fam-job")


def truth_lines(name: str) -> list[dict[str, str]]:
    with (DATA / "drawn-job" / "truth-rows.csv").open() as file:
        return [line for line in csv.DictReader(file) if line["run"] == name]


def drawn_run(name: str, u_deg: float = 0.05, seed: int | None = None) -> Run:
    """A run with readings off by normal noise of u_deg; without a seed they are true."""
    rng = np.random.default_rng(seed)
    rows = tuple(
        RunRow(
            run=name,
            dial=line["dial"],
            unit=line["unit"],
            approach=line["approach"],
            commanded=float(line["commanded"]) if line["commanded"] else None,
            angle_deg=float(line["true_angle_deg"])
            + (0.0 if seed is None else float(rng.normal(0.0, u_deg))),
            u_angle_deg=u_deg,
            step=int(line["step"]),
        )
        for line in truth_lines(name)
    )
    return Run(name, rows)


def completed(run: Run) -> Run:
    return complete_run(run, FAMILY)


def turned(run: Run, dial: str, offset_deg: float) -> Run:
    """The same run with one needle pressed on further clockwise."""
    return Run(
        run.name,
        tuple(
            replace(row, angle_deg=row.angle_deg + offset_deg, indicated=None, u_indicated=None)
            if row.dial == dial and row.angle_deg is not None
            else row
            for row in run.rows
        ),
    )
