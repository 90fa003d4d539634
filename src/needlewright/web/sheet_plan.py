"""The plan of a job as its sheet folds it: only what is stored, nothing is worked out here."""

from dataclasses import dataclass
from typing import Final

from needlewright.papers.wording import day_words, money
from needlewright.records.opening import Shop
from needlewright.records.plans import plan_of_job
from needlewright.records.views import JobSheet, StageState
from needlewright.records.views.plans import PlanView
from needlewright.web.plan_view import lapsed_of, state_of, title_of
from needlewright.web.sheet_findings import FoundOnSheet
from needlewright.web.texts import Texts

STATES: Final[dict[str, StageState]] = {
    "accepted": "finished",
    "open": "in_hand",
    "changed": "in_hand",
    "taken_back": "in_hand",
}
NEW_MOVEMENT: Final = "replace_movement"
"""Operation of a catalogue that fits a dial a new movement."""


@dataclass(frozen=True, slots=True)
class PlanOnSheet:
    """What the sheet says of the plan.

    Parameters
    ----------
    plan
        The job's; None: none was made.
    is_wanted
        Whether people decided what the cluster has, and something of it is not sound.
    is_offered
        Whether something is not sound, decided or not: a plan may be made of it.
    """

    plan: PlanView | None
    is_wanted: bool
    is_offered: bool

    @property
    def is_shown(self) -> bool:
        """Whether the sheet has a part for it."""
        return self.plan is not None or self.is_offered

    @property
    def state(self) -> StageState:
        """As of a part of the work: done once what it says now is accepted."""
        return "to_do" if self.plan is None else STATES[state_of(self.plan)]

    @property
    def stands(self) -> str:
        """`none`, `open`, `accepted`, `changed` or `taken_back`."""
        return "none" if self.plan is None else state_of(self.plan)

    @property
    def option(self) -> str:
        """Id of the option that is accepted, else recommended; empty without a plan."""
        if self.plan is None:
            return ""
        if self.plan.acceptance is not None:
            return self.plan.acceptance.option
        return str(self.plan.document["options"][0]["id"])

    @property
    def replaced(self) -> frozenset[str]:
        """Dials that get a new movement by what was accepted; none without an acceptance."""
        if self.plan is None or self.plan.acceptance is None:
            return frozenset()
        options = {one["id"]: one for one in self.plan.document["options"]}
        done = options[self.option]["operations"]
        return frozenset(
            str(one["dial"]) for one in done if one["id"] == NEW_MOVEMENT and one["dial"]
        )

    def done(self) -> tuple[str, ...]:
        """What that option does, in words."""
        if self.plan is None:
            return ()
        options = {one["id"]: one for one in self.plan.document["options"]}
        return tuple(str(one["words"]) for one in options[self.option]["operations"])

    def result(self, t: Texts) -> str:
        """In one line."""
        if self.plan is None:
            return t("plan.sheet.none_result")
        document = self.plan.document
        options = {one["id"]: one for one in document["options"]}
        said = {
            "option": title_of(document, self.option),
            "price": f"{money(options[self.option]['price'])} {document['currency']}",
        }
        accepted, lapsed = self.plan.acceptance, lapsed_of(self.plan)
        if accepted is not None:
            day = day_words(accepted.when.isoformat())
            return t("plan.sheet.accepted_result", **said, who=accepted.who, day=day)
        if lapsed is None:
            return t("plan.sheet.open_result", **said)
        if state_of(self.plan) == "taken_back":
            return t("plan.sheet.back_result", **said)
        return t("plan.sheet.changed_result", **said, who=lapsed.who, was=money(lapsed.price))


def plan_on_sheet(shop: Shop, job: JobSheet, found: FoundOnSheet) -> PlanOnSheet:
    """Gather what the sheet says of a job's plan.

    Parameters
    ----------
    shop
        The shop.
    job
        Its sheet.
    found
        Its findings.

    Returns
    -------
    PlanOnSheet
        Read from the records alone, however long making the plan would take.
    """
    wrong = found.is_wrong
    decided = found.state == "finished" and wrong
    return PlanOnSheet(plan_of_job(shop, job.tag), decided, wrong)
