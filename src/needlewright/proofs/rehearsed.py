"""Runs that no real cluster was seen in: they prove nothing, and an invented job says so."""

from collections.abc import Sequence
from typing import Final

from needlewright.errors import PaperError
from needlewright.proofs.job_facts import JobFacts
from needlewright.readings.runs import Run

NOT_SEEN: Final = "nothing of it was seen on a real cluster"


def owning_up(job: JobFacts, runs: Sequence[Run]) -> JobFacts:
    """Let a rehearsed run into a paper of an invented job only, and say of it there what it is.

    Parameters
    ----------
    job
        What no photo knows.
    runs
        The paper is about.

    Returns
    -------
    JobFacts
        With a remark on every rehearsed run that has none.

    Raises
    ------
    PaperError
        If a run was rehearsed and the job is not invented.
    """
    rehearsed = [run.name for run in runs if run.is_rehearsed]
    if rehearsed and not job.invented:
        raise PaperError(
            f"run {rehearsed[0]} was rehearsed: {NOT_SEEN}; take the run on the cluster, or state "
            "'invented = true' in the job file where the job is invented too"
        )
    said = [f"Run {name}: rehearsed; {NOT_SEEN}." for name in rehearsed if not _is_said(job, name)]
    return job.model_copy(update={"remarks": (*job.remarks, *said)})


def _is_said(job: JobFacts, run: str) -> bool:
    return any(one.startswith(f"Run {run}: ") and NOT_SEEN in one for one in job.remarks)
