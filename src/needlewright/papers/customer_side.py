"""A plan from the side of who pays: their money apart from the shop's, chances in plain words.

What the shop bears (a return under warranty, a repair that does not take, what its own work spoils)
decides what it recommends, and is in no sum of the customer's.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

Document = Mapping[str, Any]
CUSTOMER_PIECES: Final = (("now", "price"), ("later", "later"))
"""Of an option's expected cost, what the customer pays: as `plan_bars.PIECES`."""
NOW: Final = "you pay now"
LATER: Final = "you may have to pay later"
BOTH: Final = "both together"
CHOICES: Final = {
    "repair now": "repair now",
    "replace now": "replace now",
    "watch": "leave, and watch it",
    "leave": "leave as it is",
}
LEFT: Final = ("watch", "leave")
SIGNS: Final = "; look for: "
"""What stands in a plan's reason before the signs of what is watched."""
LEAST: Final = 0.001
LOOK_FIRST: Final = "before the quote, look: "
"""How a plan's note begins that is a step of the shop's before it quotes."""
UNSEEN: Final = "not looked at yet"
"""How a plan's reason begins where nobody looked at the thing."""


@dataclass(frozen=True, slots=True)
class CustomerSums:
    """What an option takes from the customer, in the plan's currency.

    Parameters
    ----------
    now
        The price.
    later
        Expected for failures after the warranty.
    """

    now: Decimal
    later: Decimal

    @property
    def both(self) -> Decimal:
        """As it is shown, it is the sum of what is shown."""
        return self.now + self.later


@dataclass(frozen=True, slots=True)
class PartLine:
    """What becomes of a part, and why.

    Parameters
    ----------
    of
        Dials, or the whole.
    words
        The part.
    choice
        What is recommended.
    why
        Sentences.
    """

    of: tuple[str, ...]
    words: str
    choice: str
    why: str


def customer_sums(option: Document) -> CustomerSums:
    """What an option takes from the customer, now and as is expected later."""
    return CustomerSums(Decimal(option["price"]), Decimal(option["later"]))


def who_pays(document: Document) -> tuple[tuple[str, str], ...]:
    """Whose money is whose.

    Parameters
    ----------
    document
        As `needlewright plan --json` prints it.

    Returns
    -------
    tuple of (str, str)
        What is said of, and the sentence.
    """
    months, years = document["warranty_months"], document["horizon_years"]
    is_later = years * 12 > months
    later = (
        f"what may fail after the warranty, until {years:g} years from now: its repair at today's "
        "prices and shipping both ways, on average over many such clusters. Of yours it may be "
        "nothing, or a whole repair; it is no promise."
        if is_later
        else f"nothing is looked at after the warranty: {years:g} years ahead are within it."
    )
    return (
        (NOW, "the price of the option you accept, without tax."),
        (LATER, later),
        (
            "we bear",
            f"what comes back within the warranty of {months:g} months, with its shipping; a "
            "repair that does not take; what our own work spoils. It is in no sum of yours.",
        ),
        (
            "we recommend",
            "the work that is expected to cost least in all, your money and what we bear together"
            f"{_finished(document)} For you alone another option may come to less.",
        ),
    )


def _finished(document: Document) -> str:
    """What is said of the speedometer: that it can pass only where the work can be finished."""
    advised = (one for one in document["options"] if one["id"] == "recommended")
    if any(one.get("unfinished") for one in advised):
        return (
            ". It leaves a speedometer more likely at fault than finished work may; one that fails "
            "its final check gets no passing certificate: see the caution with it."
        )
    return ", and after which a speedometer can pass its final check."


def customer_notes(document: Document) -> list[str]:
    """What else is said of a plan, without what is the shop's to do before it quotes."""
    notes = (one for one in document["notes"] if not one.startswith(LOOK_FIRST))
    return [*document["vehicle"], *notes]


def part_lines(document: Document) -> tuple[PartLine, ...]:
    """Every part that is worth a line; what is alike of several dials is one."""
    found: dict[PartLine, tuple[str, ...]] = {}
    for one in document["decisions"]:
        why = " ".join(
            f"{said[:1].upper()}{said[1:].rstrip('.')}."
            for said in _sentences(one, document["horizon_years"])
        )
        line = PartLine((), one["words"], CHOICES.get(one["choice"], one["choice"]), why)
        of = one["of"] if one["dial"] else "the whole"
        found[line] = (*found.get(line, ()), of)
    return tuple(replace(line, of=of) for line, of in found.items())


def share_words(chance: float) -> str:
    """A chance as so many of a hundred."""
    if chance >= 1:
        return "certainly"
    if chance < 0.01:
        return "fewer than 1 in 100"
    return f"about {min(99, round(100 * chance))} in 100"


def _sentences(one: Document, years: float) -> Iterator[str]:
    now, ever = one["chance_now"], one["chance_horizon"]
    if one["reason"].startswith(UNSEEN):
        yield UNSEEN
    if now >= 1:
        yield "found to be at fault"
    elif now >= LEAST:
        yield f"at fault now: {share_words(now)}"
    if one["wears"] and now < 1:
        yield f"at fault or failing within {years:g} years: {share_words(ever)}"
    yield from _balance(one)
    _, _, signs = one["reason"].partition(SIGNS)
    if signs and one["choice"] == "watch":
        yield f"look for: {signs}"
    if one["due"] and str(one["due"]).startswith("due "):
        yield str(one["due"])
    if one["caution"]:
        yield str(one["caution"])


def _balance(one: Document) -> Iterator[str]:
    """How doing it stands to leaving it; nothing where money is not what decided."""
    totals = {choice: Decimal(total) for choice, total in one["totals"].items()}
    own = totals.get(one["choice"])
    done = [total for choice, total in totals.items() if choice not in LEFT]
    left = [total for choice, total in totals.items() if choice in LEFT]
    if one["along_with"]:
        yield "comes along with other work"
    elif one["choice"] in LEFT and not done:
        yield "no work of ours treats it"
    elif own is None:
        return
    elif one["choice"] in LEFT and own < min(done):
        yield "work on it now costs more than it is expected to save"
    elif one["choice"] not in LEFT and left and own < min(left):
        yield "leaving it is expected to cost more than the work"
