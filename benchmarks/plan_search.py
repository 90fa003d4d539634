"""How long the cheapest set of operations takes: `python benchmarks/plan_search.py`.

Catalogues drawn by chance with so many operations for each of two dials and for the whole, each
treating some of five faults and half of them some wear; a low price lets more of them pay. Printed:
seconds of computing for the best set of all, and for the best set with every thing treated and
with it left, which a plan asks for too. With --must-pass one of the dials must pass a final check
that finds nothing, so that no more than 2.5 % of a fault may be left on it.
"""

import argparse
import sys
from fractions import Fraction
from pathlib import Path
from random import Random
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from rich.console import Console
from rich.table import Table

from needlewright.errors import PlanError
from needlewright.plans.catalogue.model import (
    Catalogue,
    Level,
    Need,
    Operation,
    PartPrice,
    Scope,
    Spread,
    Terms,
    Way,
    WeakPoint,
)
from needlewright.plans.rebuild.findings import Findings
from needlewright.plans.rebuild.risks import Life, things_of
from needlewright.plans.rebuild.search import Rule, Search, search_of
from needlewright.plans.rebuild.work import Workshop
from needlewright.plans.wear.weibull import Weibull

DIALS = ("speed", "fuel")
SCOPES: tuple[Scope, ...] = ("dial", "whole")
NEEDS = {"open": (), "needle": ("open",), "face": ("open", "needle"), "board": ("face",)}
STATES = {
    "dial": ["lost_steps/movement", "erratic/joint", "needle_offset/needle", "stalled/driver",
             "blocked/face"],
    "whole": ["lamp_out", "supply_joint", "corrosion", "lamp_dim", "display"],
}  # fmt: skip
COUNTS = (12, 20, 30, 40, 60)
KINDS = (((1, 2), Fraction(1)), ((1, 3), Fraction(1, 4)), ((2, 4), Fraction(1, 10)))
"""How many faults an operation treats, and a factor of all prices."""


def spread(minutes: Fraction) -> Spread:
    """Minutes without a spread."""
    return Spread(minutes, minutes, minutes)


def drawn(
    count: int, seed: int, treats: tuple[int, int], cheap: Fraction, *, must_pass: bool = False
) -> Search:
    """A catalogue, and findings, by chance."""
    rng = Random(seed)

    def operation(scope: Scope, number: int) -> Operation:
        states = rng.sample(STATES[scope], rng.randint(*treats))
        opens = ("open", "needle", "board") if scope == "dial" else ("open", "face", "board")
        worn = {f"{scope}_wear": Fraction(rng.randint(1, 20), 20)} if rng.random() < 0.5 else {}
        return Operation(
            id=f"{scope}_{number}", scope=scope, kind=rng.choice(["repair", "replace"]), words="",
            fixes={state: Fraction(rng.randint(6, 20), 20) for state in states}, prevents=worn,
            minutes=spread(Fraction(rng.randint(1, 60), 4) * cheap), open=(rng.choice(opens),),
            needs=(Need(PartPrice("p", "", Fraction(rng.randint(0, 200), 10) * cheap), 1),),
            spoil=Fraction(rng.randint(0, 4), 100), spoil_minutes=Fraction(30),
            spoil_cost=Fraction(20), cautions=(), checks=(), guide=None, source="drawn",
        )  # fmt: skip

    levels = {
        name: Level(
            name, "dial" if name == "needle" else "whole", needs,
            Way("", spread(Fraction(rng.randint(8, 40), 4)), ()),
            Way("", spread(Fraction(rng.randint(8, 40), 4)), ()),
        )
        for name, needs in NEEDS.items()
    }  # fmt: skip
    points = {
        f"{scope}_wear": WeakPoint(
            f"{scope}_wear", scope, "", STATES[scope][0], Weibull(2.5, 15.0), "years", "drawn"
        )
        for scope in SCOPES
    }
    terms = Terms(
        currency="EUR", hour=Fraction(60), watch_minutes=Fraction(4), ship_one_way=Fraction(18),
        goodwill=Fraction(45), goodwill_told=Fraction(2, 5),
        check_catches=Fraction(0) if must_pass else Fraction(9, 10),
        warranty_years=Fraction(2), horizon_years=Fraction(6), km_per_year=Fraction(14_000),
    )  # fmt: skip
    work = [operation(scope, number) for scope in SCOPES for number in range(count)]
    findings = Findings(
        {(d, s): Fraction(rng.randint(1, 19), 100) for d in DIALS for s in STATES["dial"]}
        | {(None, s): Fraction(rng.randint(1, 60), 100) for s in STATES["whole"]},
        {},
    )
    catalogue = Catalogue("drawn", terms, levels, {one.id: one for one in work}, points, {})
    must = frozenset(DIALS[:1] if must_pass else ())
    shop = Workshop(catalogue, DIALS, must_pass=must)
    return search_of(shop, things_of(findings, shop, Life(9.0))[0])


def timed(search: Search) -> tuple[float, float, int]:
    """Seconds for the best, for all ruled ones, and how many could pay at one place at most."""
    begin = process_time()
    search.best()
    best = process_time() - begin
    for thing in search.things:
        treating = search.losses.treating(thing)
        search.best({thing.place: Rule(without=treating)})
        search.best({thing.place: Rule(one_of=treating)})
    return best, process_time() - begin - best, max(map(len, search.paying.values()))


def main() -> None:
    """Draw, search, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first-seed", type=int, default=100)
    parser.add_argument("--catalogues", type=int, default=5, help="of each kind")
    parser.add_argument("--must-pass", action="store_true")
    asked = parser.parse_args()
    table = Table("operations of a scope", "faults each", "could pay", "best, s, at most",
                  "all ruled, s, at most", "refused")  # fmt: skip
    for count in COUNTS:
        for treats, cheap in KINDS:
            seen, refused = [], 0
            for seed in range(asked.first_seed, asked.first_seed + asked.catalogues):
                try:
                    seen.append(timed(drawn(count, seed, treats, cheap, must_pass=asked.must_pass)))
                except PlanError:
                    refused += 1
            most = [f"{max(one):.2f}" for one in list(zip(*seen, strict=True))[:2]] or ["", ""]
            pay = str(max((one[2] for one in seen), default=""))
            table.add_row(str(count), f"{treats[0]} to {treats[1]}", pay, *most, str(refused))
    Console(width=110).print(table)


if __name__ == "__main__":
    main()
