"""The burn-in of a job as its sheet folds it: state and result in one line, and the way to it."""

from dataclasses import dataclass

from needlewright.records.burn_ins import burn_ins_of
from needlewright.records.opening import Shop
from needlewright.records.shop import settings
from needlewright.records.views import StageState
from needlewright.records.views.burn_ins import BurnInView
from needlewright.web.texts import Texts


@dataclass(frozen=True, slots=True)
class BurnInOnSheet:
    """What the sheet says of it.

    Parameters
    ----------
    last
        The newest burn-in that counts; None: there is none.
    texts
        Of the page.
    invented
        Whether everything in the shop is: only there a rehearsed one is a burn-in that is done.
    """

    last: BurnInView | None
    texts: Texts
    invented: bool = False

    @property
    def state(self) -> StageState:
        """As of a part of the work: it never keeps a job from being returned."""
        if self.last is None:
            return "to_do"
        proves = self.invented or self.last.rehearsed is None
        return "finished" if self.last.state == "finished" and proves else "in_hand"

    @property
    def result(self) -> str:
        """In one line; empty where nothing was done."""
        last = self.last
        if last is None:
            return ""
        line: str = last.said.get("line") or self.texts("burn_in.nothing_yet")
        if last.rehearsed is not None:
            line = self.texts("burn_in.sheet.rehearsed", line=line)
        return line if last.state == "finished" else self.texts("burn_in.sheet.left", line=line)

    @property
    def is_left(self) -> bool:
        """Whether one waits to go on, or is on."""
        return self.last is not None and self.last.state != "finished"


def burn_in_on_sheet(shop: Shop, tag: str, texts: Texts) -> BurnInOnSheet:
    """Gather what the sheet says of a job's burn-in.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    texts
        Of the page.

    Returns
    -------
    BurnInOnSheet
        As the records have it; what a file has more is taken over when its own page is opened.
    """
    counting = [one for one in burn_ins_of(shop, tag) if one.counts]
    return BurnInOnSheet(counting[-1] if counting else None, texts, settings(shop).invented)
