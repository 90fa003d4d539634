"""Expected costs against clusters that are lived through one by one, by chance."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.options import options_of
from needlewright.plans.rebuild.risks import Life, Thing, things_of
from needlewright.plans.rebuild.search import Search, search_of
from needlewright.plans.rebuild.work import Task, Workshop

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
KNOWN = load_knowledge(None)
CATALOGUE = load_catalogue(KNOWN, FAMILY)
LIVES = 400_000
SHARES = {
    ("speed", "lost_steps"): 0.6,
    ("speed", "erratic"): 0.3,
    ("fuel", "needle_offset"): 0.4,
    ("whole", "lamp_dim"): 0.6,
    ("whole", "supply_joint"): 0.2,
}


def lived(
    search: Search, tasks: frozenset[Task], rng: np.random.Generator
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Costs after the work, and returns under warranty, of so many clusters."""
    cost, returns = np.zeros(LIVES), np.zeros(LIVES)
    for place in search.workshop.places:
        # the faults of a dial exclude one another, those of the whole do not
        drawn = rng.random(LIVES)
        low = 0.0
        for thing in (one for one in search.things if one.place == place):
            there: dict[str, NDArray[np.bool_]] = {}
            for fault in thing.faults:
                p = float(fault.chance)
                if place is None:
                    there[fault.state] = rng.random(LIVES) < p
                else:
                    there[fault.state] = (drawn >= low) & (drawn < low + p)
                    low += p
            more, back = _thing_lived(search, thing, tasks, there, rng)
            cost += more
            returns += back
    return cost, returns


def _thing_lived(
    search: Search,
    thing: Thing,
    tasks: frozenset[Task],
    there: dict[str, NDArray[np.bool_]],
    rng: np.random.Generator,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    shop, terms = search.workshop, search.workshop.terms
    own = [task for task in tasks if task.place == thing.place]
    watched = search.losses.least(thing, tasks)[1]
    goodwill = float(terms.goodwill) * (1 - float(terms.goodwill_told) * watched)
    cost = np.full(LIVES, float(terms.labour(terms.watch_minutes)) * watched)
    returns = np.zeros(LIVES)

    def mending(state: str) -> float:
        able = [t for t in shop.tasks_at(thing.place) if t.operation.cures(state)]
        return min(float(shop.alone(task)) for task in able)

    shipping = 2 * float(terms.ship_one_way)
    treated: dict[str, bool] = {}
    for state, at_fault in there.items():
        left = at_fault.copy()
        cures = [float(task.operation.cures(state)) for task in own]
        treated[state] = any(cures)
        for cure in cures:
            left &= rng.random(LIVES) >= cure
        caught = left & (rng.random(LIVES) < float(terms.check_catches)) & treated[state]
        cost[caught] += mending(state)
        comes_back = left & ~caught
        cost[comes_back] += shipping + mending(state) + goodwill
        returns += comes_back
    for wear in thing.wear:
        age = wear.age
        for task in own:
            age *= 1 - float(task.operation.prevents.get(wear.point.id, 0))
        scale, shape = wear.point.law.scale, wear.point.law.shape
        # a life of those that reached this age, by inversion of the law
        ends = scale * ((age / scale) ** shape - np.log(rng.random(LIVES))) ** (1 / shape) - age
        alive = ~there.get(wear.state, np.zeros(LIVES, bool))
        if any(task.operation.cures(wear.state) for task in own):
            alive[:] = True
        early, late = alive & (ends <= 2), alive & (ends > 2) & (ends <= 6)
        cost[early] += shipping + mending(wear.state) + goodwill
        cost[late] += shipping + mending(wear.state)
        returns += early
    return cost, returns


def test_what_is_expected_is_the_mean_of_what_is_lived_through():
    found = findings_from(SHARES, KNOWN, FAMILY)
    shop = Workshop(CATALOGUE, tuple(dial.id for dial in FAMILY.dials))
    things, _ = things_of(found, shop, Life(14, 190_000))
    search = search_of(shop, things)
    rng = np.random.default_rng(61)
    for option in options_of(search, found, FAMILY, KNOWN):
        cost, returns = lived(search, option.costs.tasks, rng)
        # four standard errors of the mean, and those small enough to tell anything
        within = 4 * float(cost.std()) / LIVES**0.5
        assert within < 0.02 * float(cost.mean())
        assert float(option.costs.loss.cost) == pytest.approx(float(cost.mean()), abs=within)
        within = 4 * float(returns.std()) / LIVES**0.5
        expected = float(option.costs.loss.expected_returns)
        assert expected == pytest.approx(float(returns.mean()), abs=within)
        ever = float((returns > 0).mean())
        within = 4 * (ever * (1 - ever) / LIVES) ** 0.5
        assert within < 0.02 * ever
        assert ever < expected
        assert float(option.any_return) == pytest.approx(ever, abs=within)
