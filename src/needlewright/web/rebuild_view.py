"""The work of a plan as the page lays it out: how far it is, and whose guides it needs."""

from collections.abc import Mapping
from functools import cached_property

from needlewright.composing.counting import not_even
from needlewright.composing.rebuild import progress_words
from needlewright.composing.rebuild_model import JobRebuild, RebuildStep
from needlewright.composing.stock import Needed, needed_of
from needlewright.records.opening import Shop
from needlewright.records.plans import plan_document_of
from needlewright.records.stock_history import newest_line
from needlewright.records.ticks import ticks_of
from needlewright.records.views.ticks import TickView


class RebuildPage:
    """What the template asks for.

    Parameters
    ----------
    shop
        The shop.
    work
        Of the job's plan.
    """

    def __init__(self, shop: Shop, work: JobRebuild) -> None:
        self.work = work
        self._shop = shop

    @property
    def far(self) -> str:
        """How far the work is, in one line."""
        return progress_words(self.work)

    def is_now(self, step: RebuildStep) -> bool:
        """Whether it is the one in hand."""
        return self.work.now is not None and self.work.now.key == step.key

    def older_plan(self, line: TickView) -> str:
        """Number of the plan a line was marked under; empty where it is the job's."""
        number = line.sheet.partition(":")[2]
        return "" if number == self.work.number else number

    @cached_property
    def guided(self) -> tuple[RebuildStep, ...]:
        """The first step of each guide, whose photos are to be taken."""
        first: dict[str, RebuildStep] = {}
        for step in self.work.steps:
            if step.guide is not None:
                first.setdefault(step.guide, step)
        return tuple(first.values())

    @cached_property
    def not_even(self) -> tuple[str, ...]:
        """What was counted on the job's guides and is not back, in sentences."""
        return not_even(ticks_of(self._shop, self.work.tag))

    @property
    def closes(self) -> RebuildStep | None:
        """Where it is said that something is not back: the next step that closes, else the last."""
        closing = [one for one in self.work.steps if one.kind == "close"]
        if not closing or not self.not_even:
            return None
        return next((one for one in closing if one.done is None), closing[-1])

    @cached_property
    def stock_seen(self) -> int:
        """Newest line of the stock's ledger, which the forms that take parts carry."""
        return newest_line(self._shop)

    @cached_property
    def stock(self) -> Mapping[str, Needed]:
        """What there is of each part, beside what is still to be fitted."""
        document = plan_document_of(self._shop, self.work.tag, self.work.number)
        needed = needed_of(self._shop, document, self.work.option, self.work.tag)
        return {one.part: one for one in needed}
