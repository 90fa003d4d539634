"""A job's burn-in: its journal in the shop's folder, taken over into the records as it goes.

The file is what is true while a burn-in runs, for it outlives whatever ends the program. Events,
visits and ends are taken over at once, what lies between some minutes later; after a restart what
the file has more is taken over before anything else is done with it.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from needlewright.amounts import hours_words
from needlewright.bench.burn_in.journal import (
    JOURNAL,
    Journal,
    begin,
    journal_in,
    texts_in,
)
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.keeping import write_whole
from needlewright.bench.run_state import REAL
from needlewright.composing.bench_folder import FOLDER
from needlewright.composing.burn_in_keeper import Keeper
from needlewright.composing.burn_in_known import known_document, known_in
from needlewright.composing.burn_in_left import left_run
from needlewright.composing.burn_in_report import report_document
from needlewright.composing.burn_in_statements import Beforehand
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.records import burn_ins
from needlewright.records.burn_in_journals import journal_kept
from needlewright.records.burn_ins import NewBurnIn
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import require_received
from needlewright.records.trouble import said_plainly
from needlewright.records.views.burn_ins import BurnInView
from needlewright.rehearsal.cluster.cluster import with_signals


def folder_of(shop: Shop, burn_in_id: int) -> Path:
    """Where the journal of a burn-in lies."""
    return shop.folder / FOLDER / f"burn-in-{burn_in_id}"


def family_of(shop: Shop, view: BurnInView) -> Family:
    """The cluster design as it is told in a burn-in: a rehearsed dial without a signal gets one."""
    family = load_version(shop, view.family_version_id)
    return family if view.rehearsed is None else with_signals(family)


def begin_of_job(
    shop: Shop,
    tag: str,
    plan: BurnInPlan,
    known: Beforehand,
    *,
    rehearsed: str | None,
    by: str | None = None,
    checked: Sequence[str] = (),
) -> BurnInView:
    """Begin a burn-in of a job in the records; its journal is begun by `take_up`.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job, which is its unit's name too.
    plan
        What is to be done.
    known
        What is known beforehand.
    rehearsed
        What stands on the bench in place of a cluster; None: a real one.
    by
        Who does it.
    checked
        What that person ticked as looked at before it is left alone.

    Returns
    -------
    BurnInView
        With nothing done.

    Raises
    ------
    RunError
        If another one of the job is not finished.
    RecordError
        If its cluster is not received, or it cannot be saved.
    """
    left = unfinished_of(shop, tag)
    if left is not None:
        raise RunError(
            f"job {left.tag}: has a burn-in that is not finished ({hours_words(left.hours)} of "
            f"{hours_words(float(left.plan['hours']))}); go on with it, or set it aside "
            "with its reason"
        )
    require_received(shop, tag)
    unit = job_sheet(shop, tag).tag
    known = replace(known, left=left_run(shop, unit, rehearsed=rehearsed is not None))
    beforehand = {**known_document(known), "checked": list(checked)}
    new = NewBurnIn(unit, rehearsed, plan.model_dump(mode="json"), beforehand)
    return burn_ins.begin(shop, tag, new, by)


def unfinished_of(shop: Shop, tag: str) -> BurnInView | None:
    """The burn-in of a job that waits to go on, or is on; None: there is none."""
    left = [one for one in burn_ins.burn_ins_of(shop, tag) if one.counts]
    last = left[-1] if left else None
    if last is None:
        return None
    last = catch_up(shop, last)
    return None if last.state == "finished" else last


def take_up(shop: Shop, view: BurnInView, by: str | None = None) -> Journal:
    """Begin the journal of a burn-in, or take it up where it stands.

    Parameters
    ----------
    shop
        The shop.
    view
        The burn-in.
    by
        Who does it.

    Returns
    -------
    Journal
        To be carried out; one whose file is behind the records, as after a restored backup, is
        written anew from them.

    Raises
    ------
    RunError
        If it is set aside, finished or damaged, or cannot be written.
    """
    if not view.counts:
        raise RunError(f"job {view.tag}: this burn-in is set aside; begin another one")
    folder = folder_of(shop, view.id)
    kept = journal_kept(shop, view.id).lines
    with said_plainly("laying out a burn-in", folder):
        folder.mkdir(parents=True, exist_ok=True)
        if len(texts_in(folder)) < len(kept):
            write_whole(folder / JOURNAL, "".join(f"{line}\n" for line in kept).encode())
    plan = BurnInPlan.model_validate(view.plan)
    cluster = REAL if view.rehearsed is None else view.rehearsed
    family = family_of(shop, view)
    return begin(folder, family.name, cluster, view.unit, plan, by=by)


def journal_of(shop: Shop, view: BurnInView) -> Journal:
    """The journal of a burn-in as the records have it.

    Parameters
    ----------
    shop
        The shop.
    view
        The burn-in.

    Returns
    -------
    Journal
        To be read only.

    Raises
    ------
    RunError
        If nothing of it was written yet.
    """
    lines = journal_kept(shop, view.id).lines
    if not lines:
        raise RunError(
            f"job {view.tag}: nothing of this burn-in was written yet; go on with it first"
        )
    return journal_in(folder_of(shop, view.id), lines)


def catch_up(shop: Shop, view: BurnInView) -> BurnInView:
    """Take over what the file of a burn-in has more than the records, as after a restart.

    Parameters
    ----------
    shop
        The shop.
    view
        The burn-in.

    Returns
    -------
    BurnInView
        As it now is; unchanged where the file is not there or has no more.

    Raises
    ------
    ConflictError
        If the file is of another burn-in.
    """
    texts = texts_in(folder_of(shop, view.id))
    if len(texts) <= view.lines:
        return view
    journal = journal_in(folder_of(shop, view.id), texts)
    return Keeper(shop, view, journal, family_of(shop, view)).take()


def report_of(shop: Shop, view: BurnInView, known: Beforehand | None = None) -> dict[str, Any]:
    """The report of a burn-in from the records.

    Parameters
    ----------
    shop
        The shop.
    view
        The burn-in.
    known
        What was known beforehand; None: as it was kept when it was begun.

    Returns
    -------
    dict
        As `burn-in report` gives it of a journal's folder.

    Raises
    ------
    RunError
        If nothing of it was written yet.
    """
    journal, kept = journal_of(shop, view), known_in(view.known)
    known = kept if known is None else replace(known, left=kept.left)
    return report_document(journal, family_of(shop, view), known)
