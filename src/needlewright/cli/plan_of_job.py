"""A job's plan by command line: made and kept, and said what that means for an acceptance."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from needlewright.cli.plan_papers import Papers
from needlewright.composing.job_plan import (
    keep_job_plan,
    make_job_plan,
    quote_of_plan,
    sender,
    sheet_of_plan,
)
from needlewright.composing.plan_making import PlanTerms
from needlewright.records.opening import Shop
from needlewright.records.plans import plan_of_job
from needlewright.records.views import AcceptanceView, PlanView


@dataclass(frozen=True, slots=True)
class PlannedJob:
    """What became of planning a job.

    Parameters
    ----------
    document
        The plan.
    files
        What was written, by what it is.
    words
        What was kept, and whether it is accepted.
    """

    document: dict[str, Any]
    files: dict[str, str]
    words: tuple[str, ...]


def plan_job(
    shop: Shop,
    tag: str,
    terms: PlanTerms,
    papers: Papers,
    *,
    knowledge: Path | None,
    by: str | None,
    only_look: bool,
) -> PlannedJob:
    """Plan a job, keep the plan unless it was only looked for, and write papers of what was kept.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    terms
        What is said otherwise than records and catalogue have it.
    papers
        What is to be written.
    knowledge
        Knowledge file; None: the one that comes with the program.
    by
        Who makes it.
    only_look
        Keep nothing.

    Returns
    -------
    PlannedJob
        With sentences for people.

    Raises
    ------
    PlanError
        If there is nothing to plan.
    RecordError
        If there is no such job or person, or it cannot be saved.
    """
    document = make_job_plan(shop, tag, terms, knowledge=knowledge)
    job = document["tag"]
    if only_look:
        there = plan_of_job(shop, job)
        now = "none" if there is None else there.number
        same = "" if there is None or there.number != document["number"] else ", the same"
        words = f"only looked at, nothing is kept; the plan of job {job} is {now}{same}"
        return PlannedJob(document, {}, (words,))
    kept = keep_job_plan(shop, job, document, by)
    files = papers.write(
        lambda: sheet_of_plan(kept.plan, papers.option),
        lambda: quote_of_plan(kept.plan, papers.sent_by or sender(shop)),
    )
    verb = "kept with" if kept.is_new else "unchanged, and kept before with"
    words = f"plan {kept.plan.number}: {verb} job {job}"
    return PlannedJob(document, files, (words, acceptance_words(kept.plan)))


def acceptance_words(plan: PlanView) -> str:
    """Whether a job's plan is accepted; where another one was, that a new acceptance is needed."""
    if plan.acceptance is not None:
        return f"accepted: {said_words(plan.acceptance)}"
    if plan.needs_new_acceptance:
        old = next(one for older in plan.superseded for one in reversed(older.acceptances))
        return (
            f"not accepted: plan {old.number} was ({said_words(old)}), and this is another one; "
            "send the new quote, a change needs a new acceptance"
        )
    return "not accepted yet"


def said_words(accepted: AcceptanceView) -> str:
    """An acceptance in one clause."""
    return (
        f"option '{accepted.option}' for {accepted.price} by {accepted.who} on {accepted.when} "
        f"({accepted.how})"
    )
