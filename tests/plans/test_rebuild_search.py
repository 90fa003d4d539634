"""The least expected cost against every set of operations, each worked out in another way."""

from fractions import Fraction
from itertools import chain, combinations
from math import exp, prod

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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
from needlewright.plans.rebuild.findings import Findings
from needlewright.plans.rebuild.risks import Life, things_of
from needlewright.plans.rebuild.search import Search, search_of
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
