"""Whether another set of operations costs hardly more than the recommended one."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from needlewright.plans.money import difference, for_people
from needlewright.plans.rebuild.choice_totals import Choice
from needlewright.plans.rebuild.choices import Decision
from needlewright.plans.rebuild.search import Costs, Search

HARDLY: Final = Fraction(3, 100)
"""Share of the expected cost within which two sets count as nearly even."""
UNTOUCHED: Final = ("watch", "leave")
TREATED: Final[dict[Choice, str]] = {
    "repair now": "repairing it now",
    "replace now": "replacing it now",
    "watch": "watching it",
    "leave": "leaving it",
}


@dataclass(frozen=True, slots=True)
class NearlyEven:
    """The nearest other way.

    Parameters
    ----------
    thing
        Name of what is treated otherwise.
    choice
        How.
    more
        What it is expected to cost more.
    words
        One sentence.
    """

    thing: str
    choice: Choice
    more: Fraction
    words: str


def nearly_even_of(
    search: Search, chosen: Costs, decisions: Sequence[Decision]
) -> NearlyEven | None:
    """The nearest way of treating something otherwise, where it costs hardly more.

    Parameters
    ----------
    search
        Of the cluster.
    chosen
        The recommended set.
    decisions
        With what every other choice costs in all, the rest being as is best then.

    Returns
    -------
    NearlyEven or None
        None: nothing else is within `HARDLY` of the expected cost.
    """
    others = [
        (total - chosen.total, number, choice)
        for number, one in enumerate(decisions)
        for choice, total in one.totals.items()
        if choice != one.choice
        and choice not in one.barred
        and not (choice in UNTOUCHED and one.choice in UNTOUCHED)
    ]
    if not others:
        return None
    more, number, choice = min(others)
    if more > HARDLY * chosen.total:
        return None
    one, shop = decisions[number], search.workshop
    place, currency = one.thing.place, shop.terms.currency
    more = difference(one.totals[choice], chosen.total, currency)  # as the two are shown
    of = "" if place is None else f" of {shop.names.get(place, place)}"
    words = (
        f"nearly even: {TREATED[choice]} ({one.words}{of}) is expected to cost only "
        f"{for_people(more, currency)} more"
    )
    return NearlyEven(one.thing.name, choice, more, words)
