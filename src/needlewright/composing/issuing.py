"""Issuing a paper of a stored job: proved, drawn, and kept for good."""

from datetime import date
from typing import Any

from needlewright.composing.drawn_papers import PDF, drawn_papers
from needlewright.papers.notice import notice_pdf
from needlewright.records.opening import Shop
from needlewright.records.papers import Asked, file_paper, prove
from needlewright.records.returning import notice_document
from needlewright.records.views import PaperView


def issue(
    shop: Shop,
    tag: str,
    asked: Asked,
    by: str | None = None,
    *,
    day: date | None = None,
    authorised_by: str | None = None,
    because: str | None = None,
) -> tuple[PaperView, dict[str, Any]]:
    """Issue the certificate or the report as found of a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    asked
        Which paper; a certificate may turn out to be a report of what does not conform.
    by
        Who issues it.
    day
        When; None: today.
    authorised_by
        Who authorises it; None: as the shop's settings say.
    because
        Why it replaces the one before it, where there is one.

    Returns
    -------
    tuple
        The paper as kept, and the proof's document.

    Raises
    ------
    RecordError, JobError, PaperError, RunError, RuleError
        If it cannot be issued; nothing of it is kept then.
    """
    proven = prove(shop, tag, asked, day=day, authorised_by=authorised_by, because=because)
    files = drawn_papers(proven.document, proven.family, proven.runs)
    kept = file_paper(shop, tag, proven.document, files, by, job_version=proven.job_version)
    return kept, dict(proven.document)


def issue_notice(
    shop: Shop,
    tag: str,
    by: str | None = None,
    *,
    day: date | None = None,
    because: str | None = None,
) -> tuple[PaperView, dict[str, Any]]:
    """Print the written notice of an odometer's service, and keep it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    by
        Who prints it.
    day
        When; None: today.
    because
        Why it replaces the one before it, where there is one.

    Returns
    -------
    tuple
        The paper as kept, and its document.

    Raises
    ------
    RecordError
        If the lawful procedure is not recorded.
    PaperError
        If it cannot be drawn.
    """
    document = notice_document(shop, tag, day=day, because=because)
    kept = file_paper(shop, tag, document, {PDF: notice_pdf(document)}, by)
    return kept, document
