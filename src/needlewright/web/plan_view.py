"""A kept plan as the page lays it out: how it stands, options, things, steps, reasons."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any, Final

from markupsafe import Markup

from needlewright.amounts import figure
from needlewright.composing.plan_reading import read_document
from needlewright.composing.stock import Needed
from needlewright.papers.minutes_words import minutes_words
from needlewright.papers.plan_bars import bar_svg, hatching_svg, pieces_of, used_pieces
from needlewright.papers.returns_words import returns_of
from needlewright.plans.rebuild.choices import percent
from needlewright.plans.rebuild.findings import exact
from needlewright.records.views.plans import AcceptanceView, PlanView
from needlewright.web.plan_changes import changes_between
from needlewright.web.texts import Texts

Document = Mapping[str, Any]
GROUPS: Final = ("replace now", "repair now", "watch", "leave")
LEFT: Final = ("watch", "leave")
_OF_PLAN: Final = re.compile(
    r"(quote of )?plan [0-9A-F]{8}\b|acceptance of plan |acceptance taken back"
)


@dataclass(frozen=True, slots=True)
class Total:
    """What the whole is expected to cost with a thing treated one way."""

    choice: str
    """Name of its words."""
    amount: str
    is_chosen: bool
    is_least: bool


@dataclass(frozen=True, slots=True)
class Law:
    """A wear law as a sentence, and where it is from."""

    words: str
    source: str


class PlanPage:
    """What the template asks of a plan.

    Parameters
    ----------
    plan
        The job's.
    t
        The page's texts.
    before
        The plan that was accepted, where the job's is another one since.
    option
        Which one is to be followed, where nothing is accepted; one there is not counts as none.
    """

    def __init__(
        self, plan: PlanView, t: Texts, before: Document | None = None, option: str = ""
    ) -> None:
        self.plan = plan
        self.document = read_document(plan.document)
        self.t = t
        self._before = None if before is None else read_document(before)
        self._option = option

    @property
    def state(self) -> str:
        """`accepted`, `changed`, `taken_back` or `open`."""
        return state_of(self.plan)

    @property
    def lapsed(self) -> AcceptanceView | None:
        """The acceptance that does not count for this plan: of one before it, or taken back."""
        return lapsed_of(self.plan)

    @cached_property
    def changes(self) -> tuple[str, ...]:
        """How the plan differs from the one that was accepted."""
        if self._before is None:
            return ()
        return changes_between(self._before, self.document, self.t)

    @cached_property
    def options(self) -> Sequence[Document]:
        """The three."""
        return list(self.document["options"])

    def title_of(self, option_id: str) -> str:
        """An option's name."""
        return title_of(self.document, option_id)

    @cached_property
    def followed(self) -> Document:
        """The option whose steps are shown: accepted, else chosen to be looked at, else first."""
        accepted = self.plan.acceptance
        wanted = self._option or (accepted.option if accepted is not None else "")
        return next((one for one in self.options if one["id"] == wanted), self.options[0])

    @property
    def cautions(self) -> tuple[str, ...]:
        """What must be said with any of the options, each once."""
        return tuple(dict.fromkeys(str(one) for o in self.options for one in o["cautions"]))

    def same_as(self, option: Document) -> str:
        """Name of an option before this one with the very same work; empty: none."""
        own = _work(option)
        for other in self.options:
            if other["id"] == option["id"]:
                return ""
            if _work(other) == own:
                return str(other["title"])
        return ""

    def returns(self, option: Document) -> str:
        """How many of such clusters come back under warranty, in words."""
        said = returns_of(option)
        return self.t(f"plan.returns.{said.kind}", n=said.n)

    def returns_heading(self, option: Document) -> str:
        """What those words are said of: a share of clusters, or a number of returns."""
        return self.t(f"plan.options.{'back_number' if returns_of(option).is_number else 'back'}")

    def left(self, option: Document) -> list[tuple[Document, str]]:
        """What is left of an option, each with its reason."""
        found = [one for one in self.document["decisions"] if one["id"] in option["left"]]
        return [(one, self._why_left(one)) for one in found]

    def _why_left(self, one: Document) -> str:
        if one["choice"] in LEFT:
            return str(one["reason"])
        # of another option than the recommended, it is left against the reckoning
        return f"{self.t('plan.group.' + key_of(one['choice']))}: {one['reason']}"

    def bar(self, option: Document) -> Markup:
        """What its expected cost is made of."""
        return Markup(bar_svg(pieces_of(self.document, option)))

    @property
    def hatching(self) -> Markup:
        """The patterns of the bars."""
        return Markup(hatching_svg())

    @cached_property
    def pieces(self) -> tuple[str, ...]:
        """Names of the pieces that are more than nothing in some option."""
        return used_pieces(self.document)

    def amount(self, option: Document, name: str) -> str:
        """What a piece of an option's expected cost comes to."""
        return next(one.amount for one in pieces_of(self.document, option) if one.name == name)

    @cached_property
    def groups(self) -> list[tuple[str, list[Document]]]:
        """Things by what becomes of them, what is done first; the name of the group's words."""
        found = self.document["decisions"]
        some = ((choice, [one for one in found if one["choice"] == choice]) for choice in GROUPS)
        return [(key_of(choice), things) for choice, things in some if things]

    def totals(self, thing: Document) -> list[Total]:
        """What all of it costs with a thing treated each way, in the order it is said."""
        least = min((Decimal(one) for one in thing["totals"].values()), default=Decimal(0))
        return [
            Total(
                key_of(choice),
                thing["totals"][choice],
                choice == thing["choice"],
                Decimal(thing["totals"][choice]) == least,
            )
            for choice in GROUPS
            if choice in thing["totals"]
        ]

    def laws(self, thing: Document) -> list[Law]:
        """How a thing wears."""
        points = {one["id"]: one for one in self.document["weak_points"]}
        of = f"the {thing['of']}" if thing["dial"] is not None else thing["of"]
        return [self._law(points[name], of) for name in thing["wears"] if name in points]

    def _law(self, point: Document, of: str) -> Law:
        words = self.t(
            "plan.why_thing.law",
            words=str(point["words"]).replace("{dial}", of),
            shape=f"{point['shape']:g}",
            scale=figure(point["scale"]),
            clock=self.t(f"plan.clock.{point['clock']}"),
        )
        if point["learned"]:
            words += f"; {point['learned']}"
        return Law(words, str(point["source"]))

    def done_by(self, thing: Document) -> str:
        """Operations that treat a thing, in words."""
        words = {}
        for one in self.options[0]["operations"]:
            name = one["id"] if one["dial"] is None else f"{one['id']}:{one['dial']}"
            words[name] = str(one["words"])
        return "; ".join(words.get(name, name) for name in thing["by"])

    def is_least(self, option: Document) -> bool:
        """Whether no other is expected to cost less in all; what must pass may cost more."""
        return Decimal(option["total"]) <= min(Decimal(one["total"]) for one in self.options)

    @staticmethod
    def minutes(option: Document) -> str:
        """How long an option takes, and how far that varies."""
        return minutes_words(option["minutes"], option["u_minutes"])

    @staticmethod
    def percent(chance: float) -> str:
        """A probability in words."""
        return percent(exact(chance))

    @staticmethod
    def key(choice: str) -> str:
        """A choice as a name of its words."""
        return key_of(choice)

    def stock_words(self, needed: Needed) -> str:
        """How many of a part are on hand, and what of it."""
        if needed.state == "not_kept":
            return needed.said
        return self.t("plan.steps.in_stock", n=needed.on_hand, said=needed.said)

    @staticmethod
    def found_at(thing: Document) -> str:
        """Where on the findings' page a thing is spoken of."""
        return f"card-{thing['dial']}" if thing["dial"] is not None else "systems-title"


def key_of(choice: str) -> str:
    """A choice as a name of its words."""
    return choice.replace(" ", "_")


def is_of_plan(what: str) -> bool:
    """Whether a line of a job's journal is a plan, its quote, or of an acceptance."""
    return _OF_PLAN.match(what) is not None


def state_of(plan: PlanView) -> str:
    """How a plan stands with its acceptance: `accepted`, `changed`, `taken_back` or `open`."""
    if plan.acceptance is not None:
        return "accepted"
    if plan.needs_new_acceptance:
        return "changed"
    return "taken_back" if lapsed_of(plan) is not None else "open"


def lapsed_of(plan: PlanView) -> AcceptanceView | None:
    """The customer's last word where it does not count: taken back, or of a plan before."""
    if plan.acceptance is not None:
        return None
    if plan.acceptances:
        return plan.acceptances[-1]
    of_older = [one for old in plan.superseded for one in old.acceptances]
    return max(of_older, key=lambda one: one.at, default=None)


def title_of(document: Document, option_id: str) -> str:
    """Name of an option of a plan; its id where the plan has none such."""
    return next(
        (str(one["title"]) for one in document["options"] if one["id"] == option_id), option_id
    )


def _work(option: Document) -> set[tuple[str, str | None]]:
    return {(one["id"], one["dial"]) for one in option["operations"]}
