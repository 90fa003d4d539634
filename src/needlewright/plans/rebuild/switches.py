"""Which assumption would change the recommendation, and where it would.

Over the price of a return and the probability of a fault the place is exact (`edge`). Over the
customer's horizon the cost is no straight line; there the first tenth of a year is looked for.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from math import log
from typing import Final, Literal

from needlewright.findings.troubleshooting.model import code_of
from needlewright.plans.money import for_people
from needlewright.plans.rebuild.assumed import Assumed
from needlewright.plans.rebuild.choices import percent
from needlewright.plans.rebuild.edge import Edge
from needlewright.plans.rebuild.findings import LEAST, Place
from needlewright.plans.rebuild.work import Task

Kind = Literal["return", "probability", "horizon"]
Side = Literal["below", "above"]
DOWN_AND_UP: Final[tuple[Side, Side]] = ("below", "above")
DEAREST_RETURN: Final = Fraction(10)
"""Times what it is taken to cost."""
YEARS: Final = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20)
"""Horizons that are tried before a tenth of a year is looked for."""
MOST_FAULTS: Final = 12
"""The most probable ones are varied."""
TOLD: Final = 3


@dataclass(frozen=True, slots=True)
class Switch:
    """Where an assumption changes the recommendation.

    Parameters
    ----------
    kind
        Which assumption.
    side
        Whether it changes below or above.
    at
        The money of a return, a probability, or years.
    assumed
        What it is taken as.
    tasks
        What costs least beyond.
    words
        One sentence.
    distance
        How far it is from what is assumed: of money and years the logarithm of their ratio, of
        a probability that of its odds.
    place, code
        Of a probability, whose fault.
    """

    kind: Kind
    side: Side
    at: Fraction
    assumed: Fraction
    tasks: frozenset[Task]
    words: str
    distance: float
    place: Place = None
    code: str = ""


def switches_of(assumed: Assumed) -> tuple[Switch, ...]:
    """The assumptions that are nearest to changing the recommendation.

    Parameters
    ----------
    assumed
        What the plan is made of.

    Returns
    -------
    tuple of Switch
        At most `TOLD`, the nearest first. Each was looked at once more on both sides.
    """
    found = [*_of_return(assumed), *_of_faults(assumed), *_of_horizon(assumed)]
    return tuple(sorted(found, key=lambda one: one.distance)[:TOLD])


def _of_return(assumed: Assumed) -> list[Switch]:
    terms = assumed.workshop.terms
    price = 2 * terms.ship_one_way + terms.goodwill
    if price == 0:
        return []
    edge = Edge(lambda times: assumed.search(return_times=times))
    switches = []
    for side, end in zip(DOWN_AND_UP, (Fraction(0), DEAREST_RETURN), strict=True):
        left = edge.switch(Fraction(1), end)
        if left is not None:
            at, tasks = left
            change = _change(assumed, edge.best(Fraction(1)).tasks, tasks)
            words = (
                f"if a return cost {'less' if side == 'below' else 'more'} than "
                f"{for_people(at * price, terms.currency)} beside the work (shipping both ways and "
                f"goodwill; {for_people(price, terms.currency)} is assumed), {change}"
            )
            away = abs(log(at)) if at else float("inf")
            switches.append(Switch("return", side, at * price, price, tasks, words, away))
    return switches


def _of_faults(assumed: Assumed) -> list[Switch]:
    codes = dict.fromkeys((place, code_of(state)) for place, state in assumed.findings.states)
    some = sorted(codes, key=lambda at: -assumed.chance(*at))[:MOST_FAULTS]
    switches = []
    search = assumed.search()
    for place, code in some:
        p = assumed.chance(place, code)
        if p < LEAST:
            continue
        edge = Edge(partial(assumed.search_with, search, place, code))
        for side, end in zip(DOWN_AND_UP, (LEAST, assumed.room(place, code)), strict=True):
            left = edge.switch(p, Fraction(end))
            if left is None:
                continue
            at, tasks = left
            of = "" if place is None else f" of {assumed.workshop.names.get(place, place)}"
            change = _change(assumed, edge.best(p).tasks, tasks)
            words = (
                f"if '{assumed.knowledge.causes[code].words}'{of} were "
                f"{'less' if side == 'below' else 'more'} likely than {percent(at)} "
                f"({percent(p)} is assumed), {change}"
            )
            away = abs(_odds(at) - _odds(p))
            switches.append(Switch("probability", side, at, p, tasks, words, away, place, code))
    return switches


def _of_horizon(assumed: Assumed) -> list[Switch]:
    terms = assumed.workshop.terms
    years = max(terms.horizon_years, terms.warranty_years)
    kept: dict[Fraction, frozenset[Task]] = {}

    def best(at: Fraction) -> frozenset[Task]:
        if at not in kept:
            found = assumed.search(horizon=at).best()
            assert found is not None  # the empty set is always there
            kept[at] = found.tasks
        return kept[at]

    lower = [Fraction(y) for y in reversed(YEARS) if terms.warranty_years <= y < years]
    switches = []
    upper = [Fraction(y) for y in YEARS if y > years]
    for side, tried in zip(DOWN_AND_UP, (lower, upper), strict=True):
        at = _first_tenth(best, years, tried)
        if at is not None:
            words = (
                f"if the vehicle were kept {'no longer than' if side == 'below' else 'at least'} "
                f"{float(at):g} years ({float(years):g} is assumed), "
                f"{_change(assumed, best(years), best(at))}"
            )
            switches.append(
                Switch("horizon", side, at, years, best(at), words, abs(log(at / years)))
            )
    return switches


def _first_tenth(
    best: Callable[[Fraction], frozenset[Task]], start: Fraction, tried: Sequence[Fraction]
) -> Fraction | None:
    """The first tenth of a year, from the start, at which something else is best."""
    other = next((one for one in tried if best(one) != best(start)), None)
    if other is None:
        return None
    same = next(reversed(tried[: tried.index(other)]), start)
    while abs(other - same) > Fraction(1, 10):
        middle = Fraction(round((same + other) / 2 * 10), 10)
        if middle in (same, other):
            break
        if best(middle) == best(start):
            same = middle
        else:
            other = middle
    return other


def _odds(p: Fraction) -> float:
    inside = min(max(float(p), 1e-9), 1 - 1e-9)
    return log(inside / (1 - inside))


def _change(assumed: Assumed, before: frozenset[Task], after: frozenset[Task]) -> str:
    """What is done otherwise, in words."""
    if not after:
        return "the recommendation would become: nothing is done"
    dropped, added = _listed(assumed, before - after), _listed(assumed, after - before)
    if not dropped:
        return f"the recommendation would add: {added}"
    if not added:
        return f"the recommendation would leave out: {dropped}"
    return f"the recommendation would become: {added}; in the place of: {dropped}"


def _listed(assumed: Assumed, tasks: frozenset[Task]) -> str:
    shop = assumed.workshop
    some = sorted(tasks, key=lambda task: task.name)
    return "; ".join(shop.named(task.operation.words, task.place) for task in some)
