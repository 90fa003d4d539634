"""The rebuild of a job as its sheet folds it: how far the work is, and whether it was agreed to."""

from dataclasses import dataclass

from needlewright.composing.rebuild import job_rebuild, progress_words
from needlewright.composing.rebuild_model import JobRebuild, RebuildStep
from needlewright.families.model import Family
from needlewright.records.opening import Shop
from needlewright.records.views import JobSheet, StageState


@dataclass(frozen=True, slots=True)
class RebuildOnSheet:
    """What the sheet says of the work.

    Parameters
    ----------
    work
        Of the job's plan; None: there is no plan.
    """

    work: JobRebuild | None

    @property
    def is_shown(self) -> bool:
        """Whether the sheet has a part for it: with a plan."""
        return self.work is not None

    @property
    def state(self) -> StageState:
        """As of a part of the work: done once every step is ticked."""
        return "to_do" if self.work is None else self.work.state

    @property
    def result(self) -> str:
        """In one line; empty without a plan."""
        return "" if self.work is None else progress_words(self.work)

    @property
    def is_agreed(self) -> bool:
        """Whether the owner agreed to this plan."""
        return self.work is not None and self.work.acceptance is not None

    @property
    def now(self) -> RebuildStep | None:
        """The step in hand; None: none is."""
        return None if self.work is None else self.work.now


def rebuild_on_sheet(shop: Shop, job: JobSheet, family: Family) -> RebuildOnSheet:
    """Gather what the sheet says of a job's work.

    Parameters
    ----------
    shop
        The shop.
    job
        Its sheet.
    family
        In the version the job goes by.

    Returns
    -------
    RebuildOnSheet
        Read from the records alone.
    """
    return RebuildOnSheet(job_rebuild(shop, job.tag, family))
