"""Which assumption changes the recommendation: looked at anew on either side of each."""

from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.catalogue.model import Catalogue
from needlewright.plans.rebuild.findings import Findings, findings_from
from needlewright.plans.rebuild.findings_file import parse_fault
from needlewright.plans.rebuild.plan import Plan, plan_of, with_terms
from needlewright.plans.rebuild.risks import Life, things_of
from needlewright.plans.rebuild.search import search_of
from needlewright.plans.rebuild.switches import Switch
from needlewright.plans.rebuild.work import Workshop

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
KNOWN = load_knowledge(None)
CATALOGUE = load_catalogue(KNOWN, FAMILY)
CASES = {
    "worn": (("speed:stalled=0.9", "fuel:backlash=0.2", "whole:supply_joint=0.3"), Life(5, 60_000)),
    "old": (("whole:corrosion=0.7", "engine:erratic=0.5"), Life(14, 190_000)),
    "doubtful": (
        (
            "speed:lost_steps=0.3", "speed:erratic=0.2", "fuel:stalled=0.25", "fuel:backlash=0.2",
            "whole:corrosion=0.3", "whole:lamp_dim=0.4", "whole:supply_joint=0.25",
        ),
        Life(9, 120_000),
    ),
    "barely": (("speed:lost_steps=0.35",), Life(9, 120_000)),
    "young": (("fuel:needle_offset=0.4", "whole:corrosion=0.7"), Life(1, 14_000)),
}  # fmt: skip


def found(case: str, chances: dict[tuple[str, str], float]) -> Findings:
    given = dict(parse_fault(one) for one in CASES[case][0]) | chances
    return findings_from(given, KNOWN, FAMILY)


def searched(
    case: str, catalogue: Catalogue = CATALOGUE, chances: dict[tuple[str, str], float] | None = None
) -> set[str]:
    """What is recommended, worked out from the start."""
    dials = tuple(dial.id for dial in FAMILY.dials)
    shop = Workshop(catalogue, dials, must_pass=frozenset({"speed"}))
    things, _ = things_of(found(case, chances or {}), shop, CASES[case][1])
    best = search_of(shop, things).best()
    assert best is not None
    return {task.name for task in best.tasks}


@cache
def plan(case: str) -> Plan:
    return plan_of(found(case, {}), CATALOGUE, FAMILY, KNOWN, CASES[case][1])


def done(made: Plan) -> set[str]:
    return {task.name for task in made.option("recommended").costs.tasks}


def made_with(case: str, one: Switch, at: Fraction) -> set[str]:
    """What is recommended with that assumption."""
    if one.kind == "horizon":
        return searched(case, with_terms(CATALOGUE, horizon_years=float(at)))
    if one.kind == "return":
        terms = CATALOGUE.terms
        times = at / one.assumed
        dearer = replace(
            terms, ship_one_way=terms.ship_one_way * times, goodwill=terms.goodwill * times
        )
        return searched(case, replace(CATALOGUE, terms=dearer))
    return searched(case, chances={(one.place or "whole", one.code): float(at)})


@pytest.mark.parametrize("case", CASES)
def test_either_side_of_a_switch_is_what_it_says(case: str):
    made = plan(case)
    assert made.switches
    assert [one.distance for one in made.switches] == sorted(o.distance for o in made.switches)
    for one in made.switches:
        beyond = {task.name for task in one.tasks}
        assert beyond != done(made)
        # of a horizon the first tenth of a year, of the others the crossing itself
        tenth, least = Fraction(1, 10), one.at / 10**6
        near, far = (-tenth, Fraction(0)) if one.kind == "horizon" else (-least, least)
        sign = 1 if one.side == "above" else -1
        assert made_with(case, one, one.at + sign * near) == done(made)
        assert made_with(case, one, one.at + sign * far) == beyond
        assert one.words not in made.notes


def test_at_the_crossing_both_cost_the_same():
    made = plan("worn")
    one = next(one for one in made.switches if one.kind == "return" and one.side == "below")
    assert one.assumed == 81  # twice 18 of shipping and 45 of goodwill
    terms = CATALOGUE.terms
    times = one.at / one.assumed
    there = replace(terms, ship_one_way=18 * times, goodwill=45 * times)
    faults, life = found("worn", {}), CASES["worn"][1]
    made_there = plan_of(faults, replace(CATALOGUE, terms=there), FAMILY, KNOWN, life)
    other = made_there.nearly_even
    assert other is not None
    assert other.more < Fraction(1, 10**12)


def test_how_far_minutes_vary_and_that_nothing_is_discounted_is_said():
    made = plan("old")
    one = made.option("recommended")
    assert 1.5 * one.u_minutes < one.u_together < one.minutes
    assert f"within {one.u_minutes:.0f} (one standard deviation)" in made.notes[-2]
    assert f"within {one.u_together:.0f} where all" in made.notes[-2]
    assert "nothing is discounted" in made.notes[-1]
