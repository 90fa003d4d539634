"""`needlewright needle-set run`: a job's run of its new movements, kept and read."""

from needlewright.cli.jobs_runs import taking
from needlewright.composing.job_press import MOVEMENTS

run = taking(
    MOVEMENTS,
    "Keep and read a run of a job's new movements, by which its needles are pressed on.",
    finishes=False,
)
