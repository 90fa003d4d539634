"""The least expected cost against every set of operations, each worked out in another way."""

from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import chain, combinations, pairwise
from math import exp, prod
from random import Random
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from needlewright.errors import PlanError
from needlewright.plans.catalogue.model import (
    Catalogue,
    Level,
    Need,
    Operation,
    PartPrice,
    Spread,
    Terms,
    Way,
    WeakPoint,
)
from needlewright.plans.rebuild import least_bounds, least_branches
from needlewright.plans.rebuild.failed import failed_places, least_work
from needlewright.plans.rebuild.findings import Findings
from needlewright.plans.rebuild.losses import Losses
from needlewright.plans.rebuild.risks import Life, things_of
from needlewright.plans.rebuild.search import Rule, Search, search_of
from needlewright.plans.rebuild.work import Task, Workshop
from needlewright.plans.wear.weibull import Weibull

DIALS = ("a", "b")
NEEDS = {"open": (), "needle": ("open",), "face": ("open", "needle"), "board": ("face",)}
STATES = {"dial": ("lost_steps/movement", "erratic/joint"), "whole": ("lamp_out", "supply_joint")}

chances = st.integers(0, 20).map(lambda n: Fraction(n, 20))
shares = st.integers(1, 20).map(lambda n: Fraction(n, 20))
amounts = st.integers(0, 400).map(lambda n: Fraction(n, 4))


def spread(minutes: Fraction) -> Spread:
    return Spread(minutes, minutes, minutes)


@st.composite
def operations(draw: st.DrawFn, scope: str, number: int) -> Operation:
    states = STATES[scope]
    return Operation(
        id=f"{scope}_{number}",
        scope=scope,  # type: ignore[arg-type]
        kind=draw(st.sampled_from(["repair", "replace"])),
        words="",
        fixes={state: draw(chances) for state in states},
        prevents={f"{scope}_wear": draw(shares)},
        minutes=spread(draw(amounts) / 4),
        open=tuple(
            draw(st.sampled_from([(), ("open",), ("face",), ("board",)]))
            if scope == "whole"
            else draw(st.sampled_from([("open",), ("needle",), ("board",)]))
        ),
        needs=(Need(PartPrice("p", "", draw(amounts)), draw(st.integers(1, 3))),),
        spoil=draw(chances) / 20,
        spoil_minutes=draw(amounts),
        spoil_cost=draw(amounts),
        cautions=(),
        checks=(),
        guide=None,
        source="drawn",
    )


@st.composite
def searches(draw: st.DrawFn) -> Search:
    terms = Terms(
        currency="EUR",
        hour=Fraction(60),
        watch_minutes=draw(st.sampled_from([Fraction(1), Fraction(4)])),
        ship_one_way=draw(amounts),
        goodwill=draw(amounts),
        goodwill_told=draw(chances),
        check_catches=draw(chances),
        warranty_years=Fraction(2),
        horizon_years=Fraction(6),
        km_per_year=Fraction(10_000),
    )
    levels = {
        name: Level(
            name,
            "dial" if name == "needle" else "whole",
            needs,
            Way("", spread(draw(amounts) / 8), ()),
            Way("", spread(draw(amounts) / 8), ()),
        )
        for name, needs in NEEDS.items()
    }
    points = {
        f"{scope}_wear": WeakPoint(
            f"{scope}_wear",
            scope,  # type: ignore[arg-type]
            "",
            STATES[scope][0],
            Weibull(draw(st.sampled_from([0.7, 1.0, 2.5])), draw(st.sampled_from([5.0, 20.0]))),
            "years",
            "drawn",
        )
        for scope in STATES
    }
    work = [draw(operations(scope, n)) for scope in STATES for n in range(2)]
    catalogue = Catalogue("drawn", terms, levels, {one.id: one for one in work}, points, {})
    findings = Findings(
        {(dial, state): draw(chances) / 2 for dial in DIALS for state in STATES["dial"]}
        | {(None, state): draw(chances) for state in STATES["whole"]},
        {},
    )
    shop = Workshop(catalogue, DIALS)
    things, _ = things_of(findings, shop, Life(draw(st.sampled_from([0.0, 9.0]))))
    return search_of(shop, things)


def total_of(search: Search, tasks: tuple[Task, ...]) -> float:
    """Expected cost in plain numbers, nothing shared with the engine but the inputs."""
    shop, terms = search.workshop, search.workshop.terms
    minute = float(terms.hour) / 60

    def opened(of: tuple[Task, ...]) -> float:
        levels: set[tuple[str, str | None]] = set()

        def add(name: str, place: str | None) -> None:
            for at in (DIALS if place is None else (place,)) if name == "needle" else (None,):
                levels.add((name, at))
                for below in NEEDS[name]:
                    add(below, at)

        for task in of:
            for name in task.operation.open:
                add(name, task.place)
        ways = [shop.catalogue.levels[name] for name, _ in levels]
        return sum(float(w.way_in.minutes.usual + w.way_out.minutes.usual) for w in ways) * minute

    def done(task: Task) -> float:
        one = task.operation
        parts = sum(need.count * float(need.part.price) for need in one.needs)
        spoil = float(one.spoil) * (float(one.spoil_minutes) * minute + float(one.spoil_cost))
        return float(one.minutes.usual) * minute + parts + spoil

    total = opened(tasks) + sum(done(task) for task in tasks)
    for thing in search.things:
        own = [t for t in tasks if t.place == thing.place]
        scope = "whole" if thing.place is None else "dial"
        losses = []
        for goodwill in (1.0, 1 - float(terms.goodwill_told)):
            lost, touched = 0.0, False
            states = {fault.state: float(fault.chance) for fault in thing.faults}
            for state in set(states) | {wear.state for wear in thing.wear}:
                able = [t for t in shop.tasks_at(thing.place) if t.operation.fixes[state] > 0]
                mend = min((opened((t,)) + done(t) for t in able), default=0.0)
                later = 2 * float(terms.ship_one_way) + mend
                back = later + goodwill * float(terms.goodwill)
                cures = [float(t.operation.fixes[state]) for t in own if t.operation.fixes[state]]
                touched = touched or bool(cures)
                p, caught = states.get(state, 0.0), float(terms.check_catches)
                if cures:
                    miss = prod(1 - cure for cure in cures)
                    lost += p * miss * (caught * mend + (1 - caught) * back)
                else:
                    lost += p * back
                for wear in (w for w in thing.wear if w.state == state):
                    law, age = wear.point.law, wear.age
                    shares = [float(t.operation.prevents[f"{scope}_wear"]) for t in own]
                    touched = touched or any(shares)
                    age *= prod(1 - share for share in shares)
                    alive = [
                        exp((age / law.scale) ** law.shape - ((age + t) / law.scale) ** law.shape)
                        for t in (2.0, 6.0)
                    ]
                    sound = 1.0 if cures else 1 - p
                    lost += sound * (1 - alive[0]) * back + sound * (alive[0] - alive[1]) * later
            losses.append(lost)
        watched = losses[1] + float(terms.watch_minutes) * minute
        total += losses[0] if touched or not thing.counts else min(losses[0], watched)
    return total


@settings(max_examples=15)
@given(searches())
def test_no_set_of_operations_costs_less(search: Search):
    shop = search.workshop
    tasks = [task for place in shop.places for task in shop.tasks_at(place)]
    every = list(chain.from_iterable(combinations(tasks, n) for n in range(len(tasks) + 1)))
    assert len(every) == 64
    totals = [total_of(search, some) for some in every]
    best = search.best()
    assert best is not None
    assert search.costs(best.tasks).total == best.total
    assert float(best.total) == pytest.approx(min(totals), rel=1e-6, abs=1e-6)
    for some, total in list(zip(every, totals, strict=True))[::7]:
        assert float(search.costs(frozenset(some)).total) == pytest.approx(
            total, rel=1e-6, abs=1e-6
        )


@settings(max_examples=15)
@given(searches())
def test_no_work_that_mends_what_failed_costs_less_now(search: Search):
    states = {(f.place, f.state): f.chance for thing in search.things for f in thing.faults}
    found = Findings(states, {})
    failed = [(place, s) for place, some in failed_places(found).items() for s in some]
    shop = search.workshop
    tasks = [task for place in shop.places for task in shop.tasks_at(place)]

    def mends(some: tuple[Task, ...], place: str | None, state: str) -> bool:
        able = [t for t in tasks if t.place == place and t.operation.fixes[state] > 0]
        sure = [t for t in able if t.operation.fixes[state] >= Fraction(1, 2)]
        return not able or any(task in some for task in sure or able)

    every = chain.from_iterable(combinations(tasks, n) for n in range(len(tasks) + 1))
    prices = [
        search.costs(frozenset(some)).price
        for some in every
        if all(mends(some, place, state) for place, state in failed)
    ]
    work = least_work(search, found)
    assert search.costs(work).price == min(prices)
    assert all(mends(tuple(work), place, state) for place, state in failed)


@cache
def crowded(count: int, worn: bool = True) -> Search:
    """So many operations of the whole that treat up to three of four faults each."""
    rng = Random(count)
    states = ("lamp_out", "lamp_dim", "supply_joint", "corrosion")
    levels = {
        name: Level(
            name, "whole", needs, Way("", spread(Fraction(3)), ()), Way("", spread(Fraction(4)), ())
        )
        for name, needs in {"open": (), "board": ("open",)}.items()
    }
    work = [
        Operation(
            id=f"whole_{number}", scope="whole", kind="repair", words="",
            fixes={
                state: Fraction(rng.randint(6, 20), 20)
                for state in rng.sample(states, rng.randint(1, 3))
            },
            prevents={"wear": Fraction(rng.randint(1, 20), 20)} if number % 2 else {},
            minutes=spread(Fraction(rng.randint(1, 12), 4)), open=(rng.choice(["open", "board"]),),
            needs=(), spoil=Fraction(rng.randint(0, 4), 100), spoil_minutes=Fraction(30),
            spoil_cost=Fraction(20), cautions=(), checks=(), guide=None, source="drawn",
        )
        for number in range(count)
    ]  # fmt: skip
    terms = Terms(
        currency="EUR", hour=Fraction(60), watch_minutes=Fraction(4), ship_one_way=Fraction(18),
        goodwill=Fraction(45), goodwill_told=Fraction(2, 5), check_catches=Fraction(9, 10),
        warranty_years=Fraction(2), horizon_years=Fraction(6), km_per_year=Fraction(14_000),
    )  # fmt: skip
    wear = WeakPoint("wear", "whole", "", "lamp_out", Weibull(2.5, 15.0), "years", "drawn")
    findings = Findings({(None, s): Fraction(rng.randint(10, 60), 100) for s in states}, {})
    shop = Workshop(
        Catalogue(
            "crowded",
            terms,
            levels,
            {one.id: one for one in work},
            {"wear": wear} if worn else {},
            {},
        ),
        (),
    )
    return search_of(shop, things_of(findings, shop, Life(9.0))[0])


def every_total(search: Search, is_taken: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Expected costs of sets of `crowded` operations, a row each, in plain numbers."""
    tasks = search.workshop.tasks_at(None)
    ops = [task.operation for task in tasks]
    done = np.array([float(o.minutes.usual + o.spoil * (30 + 20)) for o in ops])  # 1 EUR a minute
    ways = np.array([7.0 * len(search.workshop.open_for([task])) for task in tasks])
    total = is_taken @ done + np.max(is_taken * ways, axis=1)
    for thing in search.things:
        (fault,) = thing.faults
        cures = np.array([float(o.fixes.get(fault.state, 0)) for o in ops])
        mend = float(np.min((done + ways)[cures > 0]))
        later, p = 36 + mend, float(fault.chance)
        touched = is_taken[:, cures > 0].any(axis=1)
        miss = np.prod(1 - is_taken * cures, axis=1)
        early = ever = np.zeros(len(is_taken))
        is_worn = bool(thing.wear)
        if is_worn:
            age = 9 * np.prod(
                [1 - is_taken[:, i] * float(o.prevents.get("wear", 0)) for i, o in enumerate(ops)],
                axis=0,
            )
            early, ever = (
                -np.expm1((age / 15) ** 2.5 - ((age + ahead) / 15) ** 2.5) for ahead in (2, 6)
            )
        sound = np.where(touched, 1, 1 - p)
        lost = [
            np.where(touched, p * miss * (0.9 * mend + 0.1 * (later + good)), p * (later + good))
            + sound * (early * (later + good) + (ever - early) * later)
            for good in (45, 27)
        ]
        helped = touched | (is_taken[:, [bool(o.prevents) for o in ops]].any(axis=1) & is_worn)
        total += np.where(helped, lost[0], np.minimum(lost[0], lost[1] + 4))
    return total


def sets_of(count: int) -> NDArray[np.bool_]:
    return (np.arange(2**count)[:, None] >> np.arange(count) & 1).astype(bool)


def test_a_crowded_place_against_every_one_of_its_sets():
    search = crowded(15)
    every = sets_of(15)
    totals = every_total(search, every)
    tasks = search.workshop.tasks_at(None)
    best = search.best()
    assert best is not None
    found = np.array([task in best.tasks for task in tasks])
    assert 3 <= found.sum() <= 12
    assert float(best.total) == pytest.approx(totals.min(), abs=1e-6)
    assert (every[np.argmin(totals)] == found).all()
    # made to take something, and kept from something
    for task, other in pairwise(tasks):
        column, kept = tasks.index(task), tasks.index(other)
        allowed = every[:, column] & ~every[:, kept]
        ruled = search.best({None: Rule(without=frozenset({other}), one_of=frozenset({task}))})
        assert ruled is not None
        assert float(ruled.total) == pytest.approx(totals[allowed].min(), abs=1e-6)


def test_twenty_operations_are_no_limit():
    search = crowded(20)
    tasks = search.workshop.tasks_at(None)
    best = search.best()
    assert best is not None
    found = np.array([task in best.tasks for task in tasks])
    # each set that differs by up to three operations, and a thousand drawn by chance
    near = [
        found ^ one
        for one in sets_of(20)[
            [sum(1 << i for i in some) for n in range(4) for some in combinations(range(20), n)]
        ]
    ]
    drawn = np.random.default_rng(20).random((1000, 20)) < 0.4
    totals = every_total(search, np.array([*near, *drawn]))
    assert float(best.total) == pytest.approx(totals[0], abs=1e-6)
    assert totals.min() >= totals[0] - 1e-6


@pytest.mark.parametrize(
    ("module", "limit", "says"),
    [
        (least_bounds, "MOST_WAYS", "lamp_dim: 8 operations of the catalogue treat it, in more"),
        (
            least_branches,
            "MOST_LOOKED_AT",
            "the 15 operations of one place depend on one another in too",
        ),
    ],
)
def test_more_than_can_be_looked_at_is_refused(
    monkeypatch: pytest.MonkeyPatch, module: ModuleType, limit: str, says: str
):
    monkeypatch.setattr(module, limit, 10)
    with pytest.raises(PlanError, match=says):
        crowded.__wrapped__(15).best()


@pytest.mark.parametrize("shape", [0.6, 1.0, 2.5])
def test_a_bound_is_the_least_of_all_that_may_still_be_done(
    monkeypatch: pytest.MonkeyPatch, shape: float
):
    monkeypatch.setattr(least_bounds, "FEW", 0)  # what is beaten is left out at every step
    search, rng = crowded(15), Random(int(10 * shape))
    (worn,) = [thing for thing in search.things if thing.wear]
    (wear,) = worn.wear
    point = replace(wear.point, law=Weibull(shape, 15.0))
    thing = replace(worn, wear=(replace(wear, point=point),))
    losses = Losses(search.workshop)
    tasks = sorted(losses.treating(thing), key=lambda task: task.name)
    tasks = tasks[:9]
    assert len(tasks) == 9
    sets = [frozenset(t for i, t in enumerate(tasks) if mask >> i & 1) for mask in range(2**9)]
    lost = [float(losses.cost(thing, some)) for some in sets]
    for dear in (0.1, 1.0, 6.0):
        shares = [dear * rng.random() for _ in tasks]
        bounds = least_bounds.bounds_of(least_bounds.ThingLoss(losses, thing, tasks), shares, 1e-9)
        for decided in range(len(tasks) + 1):
            rests = [[i for i in range(9) if more >> i & 1] for more in range(0, 2**9, 2**decided)]
            extra = [(sum(1 << i for i in r), sum(shares[i] for i in r)) for r in rests]
            for mask in range(2**decided):
                true = min(lost[mask | more] + share for more, share in extra)
                assert bounds[decided][mask] == pytest.approx(true, abs=2e-6)
    assert len(bounds[0].ways) < 2**9 / 4
