"""Quotes of a job's plan that went out: each is a line of the job's journal."""

from needlewright.records.changes import change
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.tables import Note
from needlewright.records.views import JobSheet


def sent_words(number: str) -> str:
    """The journal's line of a quote that went out: `quote of plan 3F2A91C0 sent`."""
    return f"quote of plan {number} sent"


def send_quote(shop: Shop, tag: str, number: str, by: str | None = None) -> JobSheet:
    """Write down that a quote went out: the job waits for its owner from then on.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    number
        Of the plan.
    by
        Who sent it.

    Returns
    -------
    JobSheet
        As it now is. Where the job waited for its owner already nothing of it changes, so a note
        says that the quote went out.

    Raises
    ------
    RecordError
        If there is no such job or person.
    """
    with change(shop, tag, sent_words(number), by) as one:
        if one.job.waits_for == "owner":
            said = f"{sent_words(number)}, while the job waited for its owner"
            one.add(Note(job_id=one.job.id, text=said, at=one.at, person_id=one.person.id))
        one.job.waits_for = "owner"
    return job_sheet(shop, tag)
