"""Takes a burn-in's journal over into the records while it grows, and what it says in few words."""

from collections.abc import Mapping
from typing import Any, Final

from needlewright.bench.burn_in.journal import (
    Begun,
    Ended,
    GoneOn,
    Happened,
    Journal,
    Line,
    Visited,
    texts_of,
)
from needlewright.bench.burn_in.pictures import picture_in
from needlewright.composing.burn_in_known import known_in
from needlewright.composing.burn_in_pictures import names_in
from needlewright.composing.burn_in_report import report_document
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.records import burn_in_journals
from needlewright.records.burn_in_journals import TakenOver
from needlewright.records.opening import Shop
from needlewright.records.views.burn_ins import BurnInView
from needlewright.records.words import BurnInState

AT_ONCE: Final = (Begun, GoneOn, Happened, Visited, Ended)
"""Lines that are taken over as soon as they are written."""
LINES_BEHIND: Final = 20
"""So many other lines may stand in the file alone; with nothing happening, twenty minutes."""


class Keeper:
    """Takes a journal over into the records while it grows.

    Parameters
    ----------
    shop
        The shop.
    view
        The burn-in.
    journal
        Its journal.
    family
        The cluster design as it is told.
    """

    def __init__(self, shop: Shop, view: BurnInView, journal: Journal, family: Family) -> None:
        self.view = view
        self.problem = ""
        """Why the last taking over failed; the journal has it all the same."""
        self._shop, self._journal, self._family = shop, journal, family
        self._read = 0
        """So many lines of the file were held against the journal."""
        self._pictures = set(burn_in_journals.pictures_kept(shop, view.id))

    def follow(self) -> None:
        """Take over what is there, and from now on what is written."""
        self._try()
        self._journal.written = self._written

    def finish(self) -> None:
        """Take over whatever is left; what fails is said in `problem`."""
        self._try()

    def take(self) -> BurnInView:
        """Take over what is there.

        Returns
        -------
        BurnInView
            As it now is.

        Raises
        ------
        NeedlewrightError
            If it cannot be saved, the records know another journal, or the file has a line that
            is not the journal's.
        """
        journal = self._journal
        report = report_document(journal, self._family, known_in(self.view.known))
        last = journal.lines[-1]
        state: BurnInState = last.state if isinstance(last, Ended) else "under_way"
        taken = TakenOver(
            lines=texts_of(journal, self._read),
            pictures=dict(self._new_pictures()),
            powered_s=journal.counts.powered_s,
            sweeps=journal.counts.sweeps,
            key_ons=journal.counts.key_ons,
            state=state,
            words=last.words if isinstance(last, Ended) else "",
            said=said_of(report),
        )
        self.view = burn_in_journals.keep(self._shop, self.view.id, taken)
        self._read = len(taken.lines)
        self._pictures |= set(taken.pictures)
        self.problem = ""
        return self.view

    def _written(self, line: Line) -> None:
        if isinstance(line, AT_ONCE) or len(self._journal.lines) - self.view.lines > LINES_BEHIND:
            self._try()

    def _try(self) -> None:
        """A burn-in does not end because the records are busy: the file has all of it."""
        try:
            self.take()
        except NeedlewrightError as error:
            self.problem = str(error)

    def _new_pictures(self) -> Mapping[str, bytes]:
        found: dict[str, bytes] = {}
        for name in names_in(self._journal):
            if name not in self._pictures and name not in found:
                content = picture_in(self._journal.folder, name)
                if content is not None:
                    found[name] = content
        return found


def said_of(report: Mapping[str, Any]) -> dict[str, Any]:
    """What the records keep of a report beside the journal: the statements and the result.

    Parameters
    ----------
    report
        As `burn_in_report.report_document` gives it.

    Returns
    -------
    dict
        For JSON.
    """
    return {
        "line": report["result"],
        "events": len(report["events"]),
        "failures": report["failures"],
        "first_failures": report["first_failures"],
        "drifting": [
            f"{row['dial']} at {row['value']:g} {row['unit']}"
            for row in report["drift"]
            if row["drifts"]
        ],
        "beforehand": report["beforehand"]["words"],
        "shown": report["shown"]["words"],
    }
