"""What the pages of the stock show."""

from dataclasses import dataclass
from functools import cached_property

from needlewright.composing.stock import ToReorder, parts_with, to_reorder
from needlewright.composing.stock_batches import BatchRecord, batch_records
from needlewright.composing.stock_catalogue import CataloguePart, parts_not_kept
from needlewright.errors import PlanError
from needlewright.records.opening import Shop
from needlewright.records.shelf import shelf
from needlewright.records.stock import stock, stock_part
from needlewright.records.stock_history import ledger, newest_line
from needlewright.records.views import JobSheet, ShelfLine
from needlewright.records.views.stock import StockMoveView, StockPartView, UsedPartView

MOST_JOBS = 300
"""Offered to choose from; the tag of any other can be typed."""
MOST_LINES = 100
"""Of a ledger, unless all of it is asked for."""
FOLDS = ("use", "receive", "count", "scrap", "change")
"""What can be done with a part, in the order of the page."""


@dataclass(frozen=True)
class StockList:
    """The list of parts."""

    shop: Shop
    words: str
    with_retired: bool

    @cached_property
    def every(self) -> tuple[StockPartView, ...]:
        """All parts that are kept."""
        return stock(self.shop, retired=self.with_retired)

    @cached_property
    def parts(self) -> tuple[StockPartView, ...]:
        """Those in which each word that is searched for stands somewhere."""
        return parts_with(self.every, self.words)

    @cached_property
    def to_order(self) -> tuple[ToReorder, ...]:
        """What is to be ordered."""
        return to_reorder(self.shop)

    @cached_property
    def of_catalogue(self) -> tuple[CataloguePart, ...]:
        """Parts plans may need and the stock does not have; none where the catalogue is damaged."""
        try:
            return parts_not_kept(self.shop)
        except PlanError:
            return ()

    @property
    def currency(self) -> str:
        """The one prices are in already, to begin with."""
        return next((one.currency for one in self.every if one.currency), "")


@dataclass(frozen=True)
class StockPartPage:
    """One part."""

    shop: Shop
    code: str
    opened: str
    """Which fold is open."""
    whole: bool = False
    """Whether all of the ledger is shown."""

    @cached_property
    def part(self) -> StockPartView:
        """As it stands."""
        return stock_part(self.shop, self.code)

    @cached_property
    def lines(self) -> tuple[StockMoveView, ...]:
        """Its ledger, newest first."""
        return ledger(self.shop, self.code)[::-1]

    @property
    def newest(self) -> tuple[StockMoveView, ...]:
        """The lines that are shown."""
        return self.lines if self.whole else self.lines[:MOST_LINES]

    @property
    def older(self) -> int:
        """How many are not."""
        return len(self.lines) - len(self.newest)

    @cached_property
    def batches(self) -> tuple[BatchRecord, ...]:
        """Its batches, newest first, with their jobs."""
        return batch_records(self.shop, self.code)[::-1]

    @cached_property
    def jobs(self) -> tuple[ShelfLine, ...]:
        """Jobs in the house."""
        return shelf(self.shop, limit=MOST_JOBS).lines


@dataclass(frozen=True)
class JobStock:
    """The parts of a job, and what more it can take."""

    shop: Shop
    job: JobSheet

    @property
    def tag(self) -> str:
        """Of the job."""
        return self.job.tag

    @property
    def used(self) -> tuple[UsedPartView, ...]:
        """What is used in it."""
        return self.job.parts

    @cached_property
    def seen(self) -> int:
        """Newest line of the ledger its forms were made by."""
        return newest_line(self.shop)

    @cached_property
    def parts(self) -> tuple[StockPartView, ...]:
        """What there is any of."""
        return tuple(one for one in stock(self.shop) if one.on_hand)


def is_of_stock(what: str) -> bool:
    """Whether a line of a job's journal is of parts that it used or gave back."""
    return what.startswith(("used ", "gave back "))
