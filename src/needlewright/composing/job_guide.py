"""The guides of a job: of its family's counts, with its own mileage and what the shop says."""

from dataclasses import dataclass
from typing import Any

from needlewright.composing.gauge_names import gauge_names
from needlewright.composing.guide_marks import GuideMarks, guide_marks
from needlewright.composing.guides import REFIT, guide_document, refit_document
from needlewright.composing.own_guides import book_in_use, refuse_unknown_guide
from needlewright.errors import NotThereError
from needlewright.families.model import Family
from needlewright.papers.wording import mileage
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import settings
from needlewright.records.views import JobSheet


@dataclass(frozen=True, slots=True)
class JobGuide:
    """A guide as a job has it.

    Parameters
    ----------
    document
        Of the guide or the refit sheet.
    marks
        What is ticked, counted and read on it.
    dial, gauge
        To which the work is done, by id and in words; None: to the whole.
    """

    document: dict[str, Any]
    marks: GuideMarks
    dial: str | None
    gauge: str | None


def job_guide(shop: Shop, tag: str, name: str, dial: str | None = None) -> JobGuide:
    """Put a guide of a job together with what is marked on it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    name
        Of a guide or an operation, or `refit`.
    dial
        The work is done to; None: to the whole.

    Returns
    -------
    JobGuide
        With the counts of the job's family.

    Raises
    ------
    NotThereError
        If there is no such job, guide or dial.
    PlanError
        If the family's notes cannot be used.
    """
    job = job_sheet(shop, tag)
    family = load_version(shop, job.family_version_id)
    document, gauge = _document(shop, job, family, name, dial), None
    if dial is not None:
        names = gauge_names(family)
        if document["name"] == REFIT or dial not in names:
            raise NotThereError(
                f"job {job.tag}: a guide is of one of its cluster's dials or of the whole, and "
                f"'{dial[:40]}' is none of {', '.join(names)}"
            )
        gauge = names[dial]
    return JobGuide(document, guide_marks(shop, job.tag, document, dial), dial, gauge)


def _document(
    shop: Shop, job: JobSheet, family: Family, name: str, dial: str | None
) -> dict[str, Any]:
    if name == REFIT:
        wait = settings(shop).battery_wait or None
        return refit_document(family, wait=wait, mileage=_mileage(job), tag=job.tag)
    book, trouble = book_in_use(shop, family)
    refuse_unknown_guide(name, book, trouble)
    return guide_document(name, family, book, of_one_dial=dial is not None) | {"tag": job.tag}


def _mileage(job: JobSheet) -> str | None:
    """As returned, in words; None where nobody has said it."""
    if job.odometer_none is not None:
        return "none fitted"
    return None if job.odometer_out is None else mileage(job.odometer_out, job.odometer_unit)
