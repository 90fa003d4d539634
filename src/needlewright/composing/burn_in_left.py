"""Where the last run before a burn-in had the needles, so that its first looks have a reference."""

from needlewright.composing.burn_in_statements import LeftRun
from needlewright.composing.explained_runs import run_rows
from needlewright.errors import NeedlewrightError, RecordError
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet, run_that_counts
from needlewright.records.sheet import job_sheet
from needlewright.records.views import RunSheet
from needlewright.records.words import RunSide

SIDES: tuple[RunSide, ...] = ("left", "other")
"""As left, or a check of the needles; the run as found was before the work."""


def left_run(shop: Shop, tag: str, *, rehearsed: bool) -> LeftRun | None:
    """Find the newest run after the work on a cluster.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    rehearsed
        Whether the burn-in is: a real needle is held against a real one only.

    Returns
    -------
    LeftRun or None
        None where there is none, nothing of it was read, or it goes by another version of the
        family.
    """
    version = job_sheet(shop, tag).family_version_id
    runs = [
        one
        for one in _counting(shop, tag)
        if (one.rehearsed is not None) == rehearsed and one.family_version_id == version
    ]
    if not runs:
        return None
    run = max(runs, key=lambda one: one.started_at)
    try:
        rows = run_rows(shop, run, load_version(shop, version)).rows
    except NeedlewrightError:  # what was told there cannot be of the family: no reference
        return None
    angles = {
        (row.dial, row.commanded): (row.angle_deg, row.u_angle_deg)
        for row in rows
        if row.approach == "up"
        and row.commanded is not None
        and row.angle_deg is not None
        and row.u_angle_deg is not None
        and not row.on_stop
    }
    return LeftRun(run.name, run.started_at.isoformat(), angles) if angles else None


def _counting(shop: Shop, tag: str) -> list[RunSheet]:
    found = []
    for side in SIDES:
        try:
            found.append(run_sheet(shop, run_that_counts(shop, tag, side)))
        except RecordError:
            continue
    return found
