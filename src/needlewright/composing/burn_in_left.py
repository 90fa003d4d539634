"""Where the last run before a burn-in had the needles, so that its first looks have a reference."""

from typing import Final

from needlewright.composing.burn_in_statements import LeftRun
from needlewright.composing.explained_runs import run_rows
from needlewright.errors import NeedlewrightError
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.views import RunSheet
from needlewright.records.words import RunSide

SIDES: Final[tuple[RunSide, ...]] = ("left", "other")
"""As left, or a check of the needles; the run as found was before the work."""


def left_run(shop: Shop, tag: str, *, rehearsed: bool) -> LeftRun | None:
    """Find the newest run after the work on a cluster in which a needle was read.

    A check after the run as left counts before it: needles were set once more in between.

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
        None where there is none; runs of another version of the family, those that were set aside
        and those in which nothing was read are none.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    sheet = job_sheet(shop, tag)
    for line in reversed(sheet.runs):
        if (
            line.side not in SIDES
            or line.set_aside_at is not None
            or (line.rehearsed is not None) != rehearsed
        ):
            continue
        run = run_sheet(shop, line.id)
        if run.family_version_id != sheet.family_version_id:
            continue
        if angles := _angles(shop, run):
            return LeftRun(run.name, run.started_at.isoformat(), angles)
    return None


def _angles(shop: Shop, run: RunSheet) -> dict[tuple[str, float], tuple[float, float]]:
    """Where needles stood off their stops, come to from below, by dial and value told."""
    try:
        rows = run_rows(shop, run, load_version(shop, run.family_version_id)).rows
    except NeedlewrightError:  # what was told there cannot be of the family: no reference
        return {}
    return {
        (row.dial, row.commanded): (row.angle_deg, row.u_angle_deg)
        for row in rows
        if row.approach == "up"
        and row.commanded is not None
        and row.angle_deg is not None
        and row.u_angle_deg is not None
        and not row.on_stop
    }
