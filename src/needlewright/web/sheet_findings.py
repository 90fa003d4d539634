"""The findings of a job as its sheet folds them: the result in one line, the heads of the cards."""

from dataclasses import dataclass

from needlewright.composing.complaint_words import named_words
from needlewright.composing.finding_model import Card, JobFindings
from needlewright.composing.finding_summary import head_of, is_sound, result_of
from needlewright.composing.job_findings import job_findings
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.records.opening import Shop
from needlewright.records.views import JobSheet, StageState

LOOKS_AHEAD = 1
"""As the findings' own page, so that both name the same thing to do."""


@dataclass(frozen=True, slots=True)
class FoundOnSheet:
    """What the sheet says of the findings.

    Parameters
    ----------
    found
        The findings; None: they could not be worked out, or are not yet.
    trouble
        Why they could not; else empty.
    """

    found: JobFindings | None
    trouble: str = ""

    @property
    def result(self) -> str:
        """In one line; empty where nothing speaks of anything."""
        return "" if self.found is None else result_of(self.found)

    @property
    def named(self) -> str:
        """The gauges that the complaint in words names; empty: none."""
        if self.found is None or not self.found.named:
            return ""
        return named_words(self.found.named, {c.id: c.title.lower() for c in self.found.cards})

    @property
    def cards(self) -> tuple[Card, ...]:
        """Those with something to say: seen, answered, decided, or not sound."""
        if self.found is None:
            return ()
        return tuple(
            one for one in self.found.cards if one.evidence or one.opinion or not is_sound(one)
        )

    @property
    def is_wrong(self) -> bool:
        """Whether anything is not sound: something can be planned against it."""
        return any(not is_sound(card) for card in self.cards)

    head = staticmethod(head_of)
    is_sound = staticmethod(is_sound)

    @property
    def state(self) -> StageState:
        """As of a part of the work: done once a person decided everything that is not sound."""
        if not self.result:
            return "to_do"
        return (
            "in_hand" if any(not is_sound(c) and not c.opinion for c in self.cards) else "finished"
        )

    @property
    def next_test(self) -> str | None:
        """The test that is to be made next; None: none is worth its minutes."""
        first = self.found.steps[0] if self.found is not None and self.found.steps else None
        return first.words if first is not None and first.kind == "test" else None

    @property
    def next_step(self) -> str | None:
        """What to do next, also where it is no test; None: nothing speaks for a fault."""
        return self.found.steps[0].words if self.found is not None and self.found.steps else None


def found_on_sheet(shop: Shop, job: JobSheet, family: Family, *, settled: bool) -> FoundOnSheet:
    """Work out what the sheet says of the findings.

    Parameters
    ----------
    shop
        The shop.
    job
        Its sheet.
    family
        In the version the job goes by.
    settled
        Whether the run as found is read and nothing of it is on; until then nothing is said.

    Returns
    -------
    FoundOnSheet
        What cannot be worked out is a sentence, and the sheet stands without it.
    """
    if not settled:
        return FoundOnSheet(None)
    try:
        return FoundOnSheet(job_findings(shop, job.tag, family=family, looks_ahead=LOOKS_AHEAD))
    except NeedlewrightError as error:
        return FoundOnSheet(None, str(error))
