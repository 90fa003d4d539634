"""What analyses of files outside the records saw: photos of lamps, a log of the vehicle.

What a piece of evidence is, is not known here; it is kept as its document.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from needlewright.errors import RecordError
from needlewright.records.changes import Change, change
from needlewright.records.entries import Entry, Name, checked
from needlewright.records.opening import Shop
from needlewright.records.sheet import analyses_in, job_sheet
from needlewright.records.tables import Analysis
from needlewright.records.views import JobSheet


class _Named(Entry):
    name: Name


def keep_analysis(
    shop: Shop,
    tag: str,
    name: str,
    pieces: Sequence[Mapping[str, Any]],
    by: str | None = None,
) -> JobSheet:
    """Keep what an analysis saw.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    name
        Of its document; one of that name that was taken in before counts no more.
    pieces
        Pieces of evidence, as their documents.
    by
        Who takes it in.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    JobError
        If the name cannot be used.
    RecordError
        If there is no piece, or no such job or person.
    """
    entry = checked(_Named, {"name": name}, f"job {tag}, analysis")
    if not pieces:
        raise RecordError(
            f"job {tag}: {entry.name} holds no evidence; take in the document of an analysis that "
            "saw something"
        )
    with change(shop, tag, f"analysis {entry.name}", by) as one:
        _withdraw(one, entry.name)
        one.add(
            Analysis(
                job_id=one.job.id,
                name=entry.name,
                pieces=[dict(piece) for piece in pieces],
                at=one.at,
                person_id=one.person.id,
            )
        )
    return job_sheet(shop, tag)


def withdraw_analysis(shop: Shop, tag: str, name: str, by: str | None = None) -> None:
    """Let what an analysis saw count no more.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    name
        Of its document; where there is none, nothing is changed. It stays kept, and undo brings
        it back.
    by
        Who does it.

    Raises
    ------
    RecordError
        If it cannot be saved, or there is no such job or person.
    """
    if all(one.name != name for one in job_sheet(shop, tag).analyses):
        return
    with change(shop, tag, f"analysis {name} withdrawn", by) as one:
        _withdraw(one, name)


def _withdraw(one: Change, name: str) -> None:
    for row in analyses_in(one.session, one.job.id):
        if row.name == name:
            row.withdrawn_at = one.at
