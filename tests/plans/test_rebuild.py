"""Plans for the invented cluster: what is recommended, why, and what is refused."""

import json
import re
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import PlanError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.money import rounded
from needlewright.plans.rebuild.cautions import Complaint
from needlewright.plans.rebuild.choices import percent
from needlewright.plans.rebuild.findings import exact, findings_from
from needlewright.plans.rebuild.findings_file import joined, parse_fault, read_findings
from needlewright.plans.rebuild.plan import Plan, plan_of, with_terms
from needlewright.plans.rebuild.risks import Life

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
KNOWN = load_knowledge(None)
CATALOGUE = load_catalogue(KNOWN, FAMILY)
OLD = Life(14, 190_000)


@cache
def plan(*faults: str, life: Life = OLD) -> Plan:
    found = findings_from(dict(parse_fault(one) for one in faults), KNOWN, FAMILY)
    return plan_of(found, CATALOGUE, FAMILY, KNOWN, life)


def choices(made: Plan) -> dict[str, str]:
    return {one.thing.name: one.choice for one in made.decisions}


def test_a_slipping_movement_is_replaced_and_the_rest_is_left_with_its_reason():
    made = plan("speed:lost_steps=0.9", "whole:lamp_dim=0.6")
    assert choices(made)["speed:movement"] == "replace now"
    assert choices(made)["lamp_dim"] == "replace now"
    assert choices(made)["fuel:movement"] == "leave"
    done = {task.name for task in made.option("recommended").costs.tasks}
    assert done == {"replace_movement:speed", "replace_lamps"}
    left = [one for one in made.decisions if one.is_left]
    assert len(left) == 8
    assert all("EUR more" in one.reason and one.by == () for one in left)


def test_the_price_by_hand():
    # board out needs everything open: ways in and out of the catalogue, as (a + 4 m + b) / 6, at
    # 60 EUR an hour; movement 16.50 EUR with (8, 14, 30) minutes; 3 lamps at 1.20 EUR, (5, 10, 25)
    one = plan("speed:lost_steps=0.9", "whole:lamp_dim=0.6").option("recommended").costs

    def mean(least: int, usual: int, most: int) -> Fraction:
        return Fraction(least + 4 * usual + most, 6)

    opening = mean(4, 7, 15) + mean(5, 9, 18) + 4 * (mean(1, 2, 6) + mean(4, 7, 18))
    opening += 2 * mean(2, 4, 10) + 2 * mean(4, 7, 15)
    # checks that come with a level: every dial read, and the burn-in
    opening += 4 * mean(1, 2, 5) + mean(4, 6, 12)
    assert one.opening == opening
    # with the sweep of the movement and the look at the lamps
    assert one.labour == mean(8, 14, 30) + mean(5, 10, 25) + 2 * mean(1, 2, 4)
    assert one.parts == Fraction("20.10")
    assert one.price == opening + one.labour + one.parts


def test_the_recommendation_never_costs_more_than_the_other_two():
    for faults in (
        ("speed:lost_steps=0.9",),
        ("speed:stalled=0.4", "fuel:needle_offset=0.3"),
        ("whole:corrosion=0.7", "engine:erratic=0.5"),
    ):
        recommended, failed, everything = plan(*faults).options
        assert recommended.costs.total <= min(failed.costs.total, everything.costs.total)


def test_what_failed_is_mended_and_nothing_else():
    made = plan("speed:stalled=0.9", "fuel:backlash=0.2", "whole:supply_joint=0.8")
    names = {task.name for task in made.option("only_failed").costs.tasks}
    assert names == {"replace_movement:speed", "reflow_supply"}
    # nothing is more likely at fault than not: the most likely one
    made = plan("speed:stalled=0.2", "fuel:needle_offset=0.4")
    assert {t.name for t in made.option("only_failed").costs.tasks} == {"set_needle:fuel"}


def test_everything_that_wears_or_may_be_at_fault_is_replaced():
    made = plan("speed:lost_steps=0.9", "temp:wrong_face=0.03")
    every = made.option("everything")
    names = {task.name for task in every.costs.tasks}
    movements = {f"replace_movement:{dial.id}" for dial in FAMILY.dials}
    joints = {f"reflow_dial:{dial.id}" for dial in FAMILY.dials} | {"reflow_supply"}
    assert names == movements | joints | {"replace_lamps", "replace_tell_tales"}
    lamps = {need.part.id: need.count for need in made.parts["everything"]}
    assert lamps == {
        "movement": 4,
        "lamp": len((FAMILY.raw or {})["lamps"]),
        "tell_tale_lamp": len((FAMILY.raw or {})["tell_tales"]),
    }


def test_the_least_work_that_mends_it_and_not_what_saves_later():
    made = plan("speed:needle_offset/needle=0.99", life=Life(30, 400_000))
    failed = made.option("only_failed")
    assert [task.name for task in failed.costs.tasks] == ["set_needle:speed"]
    # an operation that hardly ever cures it does not count as mending it
    made = plan("whole:display_dim=0.9")
    assert [t.name for t in made.option("only_failed").costs.tasks] == ["renew_display_feed"]


def test_a_needle_that_is_pressed_on_anyway_is_set_with_that_and_paid_once():
    made = plan("speed:lost_steps=0.6", "speed:needle_offset=0.35")
    one = made.option("recommended").costs
    assert {task.name for task in one.tasks} == {"replace_movement:speed", "set_needle:speed"}
    without = {task for task in one.tasks if task.operation.id != "set_needle"}
    assert without != one.tasks
    steps = made.steps["recommended"]
    (pressing,) = [step for step in steps if step.task == "set_needle:speed"]
    assert (pressing.kind, pressing.guide, pressing.minutes) == (
        "close",
        "set-needle",
        Fraction(4 + 4 * 7 + 18, 6),
    )
    assert "press its needle on at the target and read it; with that: set" in pressing.words
    assert sum(step.minutes or 0 for step in steps) == made.option("recommended").minutes
    words = [step.words for step in steps if step.kind == "check"]
    assert len(words) == len(set(words))


def test_what_is_done_along_says_so_and_has_no_reason_of_its_own():
    made = plan("speed:lost_steps=0.9", "whole:lamp_dim=0.6")
    things = {one.thing.name: one for one in made.decisions}
    joint, out = things["speed:joint"], things["lamp_out"]
    assert joint.along_with == "replace_movement:speed"
    assert joint.reason.endswith("; comes along with: replace speed's movement")
    assert out.along_with == "replace_lamps"
    assert things["lamp_dim"].along_with == things["speed:movement"].along_with == ""
    work = [step for step in made.steps["recommended"] if step.kind == "work"]
    assert [len(step.reasons) for step in work] == [1, 1]


def test_what_was_complained_of_and_is_not_treated_is_said_first():
    found = findings_from({("fuel", "lost_steps"): 0.03, ("temp", "stalled"): 0.9}, KNOWN, FAMILY)
    asked = Complaint({"fuel": (), "temp": ()}, has_run=False)
    made = plan_of(found, CATALOGUE, FAMILY, KNOWN, Life(), complaint=asked)
    assert made.option("recommended").cautions[0] == (
        "What was complained of (fuel) is not treated: not established yet; take the run as found "
        "before quoting"
    )
    assert made.notes[0].startswith("made from the complaint alone: there is no run as found")
    assert made.option("everything").cautions == ()
    seen = replace(asked, has_run=True)
    made = plan_of(found, CATALOGUE, FAMILY, KNOWN, Life(), complaint=seen)
    assert (
        made.option("recommended").cautions[0].endswith("established yet; test on before quoting")
    )
    assert not made.notes[0].startswith("made from")


def test_a_way_that_costs_hardly_more_is_named():
    # at the probability at which both cost the same, a little to one side
    made = plan("fuel:lost_steps/movement=0.3", life=Life())
    switch = next(one for one in made.switches if one.kind == "probability")
    share = float(switch.at) * 1.001
    near = plan(f"fuel:lost_steps/movement={share:.6f}", life=Life()).nearly_even
    assert near is not None
    assert near.thing == "fuel:movement"
    assert 0 <= near.more < Fraction(3, 100) * 60
    assert near.words.startswith("nearly even: ")
    assert plan("fuel:lost_steps/movement=0.99", life=Life()).nearly_even is None


def test_each_way_of_treating_a_thing_has_its_cost_and_the_choice_has_the_least():
    made = plan("speed:lost_steps=0.9", "whole:supply_joint=0.05")
    total = made.option("recommended").costs.total
    for one in made.decisions:
        assert min(one.totals.values()) == one.totals[one.choice] == total
    supply = next(one for one in made.decisions if one.thing.name == "supply_joint")
    assert set(supply.totals) == {"repair now", "watch", "leave"}


def test_something_likely_enough_that_nobody_opens_for_is_watched():
    taught = with_terms(CATALOGUE, warranty_months=36)
    found = findings_from({("fuel", "needle_offset"): 0.9}, KNOWN, FAMILY)
    made = plan_of(found, taught, FAMILY, KNOWN, Life(24))
    movement = next(one for one in made.decisions if one.thing.name == "temp:movement")
    assert movement.totals["watch"] - movement.totals["leave"] == pytest.approx(
        # 4 minutes at 1 EUR, against 0.4 of 45 EUR with the chance to fail in three years
        4 - 0.4 * 45 * float(movement.chance_warranty),
        abs=1e-6,
    )


def test_what_is_watched_says_what_to_look_for():
    terms = replace(CATALOGUE.terms, watch_minutes=Fraction(0), goodwill_told=Fraction(1))
    found = findings_from({("fuel", "needle_offset"): 0.9}, KNOWN, FAMILY)
    made = plan_of(found, replace(CATALOGUE, terms=terms), FAMILY, KNOWN, OLD)
    left = [one for one in made.decisions if one.is_left]
    assert {one.choice for one in left} == {"watch"}
    movement = next(one for one in left if one.thing.name == "temp:movement")
    assert movement.reason.endswith("EUR more; look for: movement slips")


def test_where_the_vehicle_is_likelier_nothing_of_the_cluster_failed():
    made = plan("fuel:sender=0.8", "fuel:lost_steps=0.1")
    assert made.option("only_failed").costs.tasks == frozenset()
    assert made.option("only_failed").costs.price == 0


def test_a_speedometer_is_never_left_without_the_caution():
    made = plan("speed:needle_offset=0.02", "whole:lamp_dim=0.9", life=Life())
    needle = next(one for one in made.decisions if one.thing.name == "speed:needle")
    assert needle.is_left
    assert needle.caution.endswith("one that fails the final check gets no passing certificate")
    fuel = [one for one in made.decisions if one.thing.place == "fuel"]
    assert all(not one.caution for one in fuel)
    assert [len(option.cautions) for option in made.options] == [1, 1, 0]


def test_shared_ways_are_opened_once_and_what_lies_open_is_done_along():
    alone = plan("temp:stalled=0.9").option("recommended").costs
    both = plan("temp:stalled=0.9", "fuel:stalled=0.9").option("recommended").costs
    assert both.opening == alone.opening
    # by itself no reason to open the board; with the board out it pays
    only = plan("fuel:lost_steps/movement=0.3", "temp:needle_offset=0.9")
    along = plan("fuel:lost_steps/movement=0.3", "temp:stalled=0.9")
    assert choices(only)["fuel:movement"] in ("leave", "watch")
    assert choices(along)["fuel:movement"] == "replace now"


def test_steps_go_in_and_out_again_and_needles_come_last():
    steps = plan("speed:lost_steps=0.9", "whole:lamp_dim=0.6").steps["recommended"]
    kinds = [step.kind for step in steps]
    # lamps while the board is out, needles after the face is back and before the lens
    inside = ["open"] * 7 + ["work"] * 2 + ["close"] * 6
    assert kinds == [*inside, "check", "close", *["check"] * 6]
    words = [step.words for step in steps]
    board, needle = words.index("replace speed's movement"), "press its needle on at the target and"
    assert "at fault now with 81 %" in " ".join(steps[board].reasons)
    assert [need.part.id for need in steps[board].parts] == ["movement"]
    pressed = next(n for n, one in enumerate(words) if "home speed's" in one and needle in one)
    assert words.index("lay the face back and fasten it") < pressed < 15
    assert words[15] == "face lit evenly in the dark, no zone dark"
    assert words[16].startswith("close the case")
    assert words[board + 1].startswith("replace the backlight lamps")
    assert all("{" not in one for one in words)


def test_what_needs_an_open_board_is_checked_before_that_is_closed_and_readings_come_last():
    made = plan("whole:corrosion=0.9", "whole:supply_joint=0.7", "speed:erratic/joint=0.8")
    words = [step.words for step in made.steps["recommended"]]
    back = words.index("put the board back; connector and light guides seated")
    assert words[back - 3 : back] == [
        "speed swept while the board is tapped: nothing drops out",
        "current steady while connector and board are pressed and tapped",
        "both sides photographed",
    ]
    closed = next(n for n, one in enumerate(words) if one.startswith("close the case"))
    reading = "{} read at every check point, from below and from above"
    # common practice, no source: what moves anything comes before what records how it leaves
    assert words[closed + 1 :] == [
        "everything of the lamp check lights",
        "burn-in: set it running, look in at its marks, end it",
        *(reading.format(dial) for dial in ("engine", "speed", "temp", "fuel")),
    ]


def test_a_catalogue_that_says_no_level_checks_all_when_closed_and_reads_last(tmp_path: Path):
    text = (resources.files("needlewright.plans.catalogue") / "catalogue.toml").read_text("utf-8")
    older = re.sub(r', at = "[a-z ]+"(?=,| })', "", text)
    assert older.count(" at = ") == 0
    (tmp_path / "ours.toml").write_text(older, "utf-8")
    catalogue = load_catalogue(KNOWN, FAMILY, tmp_path / "ours.toml")
    found = findings_from({("speed", "erratic/joint"): 0.8}, KNOWN, FAMILY)
    made = plan_of(found, catalogue, FAMILY, KNOWN, Life(14, 190_000))
    words = [step.words for step in made.steps["recommended"]]
    closed = next(n for n, one in enumerate(words) if one.startswith("close the case"))
    tapped = words.index("speed swept while the board is tapped: nothing drops out")
    burnt = words.index("burn-in: set it running, look in at its marks, end it")
    read = words.index("engine read at every check point, from below and from above")
    assert closed < tapped < burnt < read


def test_without_age_nothing_is_said_of_wear():
    made = plan("fuel:lost_steps=0.9", life=Life())
    assert all(not one.thing.wear for one in made.decisions)
    assert made.notes[0].startswith("wear is not counted: neither age nor mileage is known")
    assert plan("fuel:lost_steps=0.9", life=Life(km=140_000)).notes[0] == (
        "age taken as 10 years: 140\u202f000 km at 14\u202f000 km a year"
    )


def test_what_lies_in_the_vehicle_is_said_and_not_planned():
    made = plan("fuel:sender=0.8", "fuel:lost_steps=0.1")
    assert made.vehicle == (
        "fuel: sender (80 %) is in the vehicle; no work on the cluster cures it",
    )


def test_what_hardly_lies_in_the_vehicle_is_one_line():
    said = "in the vehicle, each below 5 %; no work on the cluster cures them"
    made = plan("fuel:sender=0.8", "engine:sender=0.04", "speed:sender=0.01", "fuel:lost_steps=0.1")
    assert made.vehicle[1:] == (f"2 more possible causes {said}",)
    assert plan("engine:sender=0.05", "speed:sender=0.001", "fuel:lost_steps=0.1").vehicle == (
        "engine: sender (5 %) is in the vehicle; no work on the cluster cures it",
    )
    assert plan("engine:sender=0.04", "fuel:lost_steps=0.1").vehicle == (
        "one possible cause in the vehicle, below 5 %; no work on the cluster cures it",
    )


def test_what_a_person_decided_is_said_with_their_name():
    faults = dict(parse_fault(one) for one in ("fuel:lost_steps=1", "engine:sender=1"))
    who = {
        ("fuel", "lost_steps"): "decided by An on 2 March 2026",
        ("engine", "sender"): "decided by Bo on 3 March 2026",
    }
    found = replace(findings_from(faults, KNOWN, FAMILY), decided=who)
    made = plan_of(found, CATALOGUE, FAMILY, KNOWN, Life())
    parts = {one.thing.name: one for one in made.decisions if one.thing.place == "fuel"}
    shares = KNOWN.causes["lost_steps"].parts
    assert len(parts) == len(shares) > 1  # in which part was not decided
    for part, share in shares.items():
        assert parts[f"fuel:{part}"].reason.startswith(
            f"at fault now with {percent(exact(share))} "
            "(the fault itself was decided by An on 2 March 2026); "
        )
    assert made.vehicle == (
        "engine: sender (decided by Bo on 3 March 2026) is in the vehicle; no work on the cluster "
        "cures it",
    )
    faults = dict([parse_fault("fuel:lost_steps/movement=1")])
    found = replace(findings_from(faults, KNOWN, FAMILY), decided=who)
    one = plan_of(found, CATALOGUE, FAMILY, KNOWN, Life()).decisions[0]
    assert one.reason.startswith("at fault now: decided by An on 2 March 2026; ")


@pytest.mark.parametrize(
    ("faults", "said"),
    [
        ([], "there is nothing to plan for: no finding says that anything is wrong"),
        (["speed:sound=1"], "there is nothing to plan for"),
        (["speed:lost_steps=0.001"], "there is nothing to plan for"),
        (["clock:lost_steps=0.9"], "has no dial 'clock'; use one of engine, speed, temp, fuel, or"),
        (
            ["speed:loststeps=0.9"],
            "speed: there is no fault 'loststeps' of a dial; known: backlash",
        ),
        (["speed:lamp_out=0.9"], "speed: there is no fault 'lamp_out' of a dial"),
        (["whole:lost_steps=0.9"], "whole: there is no fault 'lost_steps' of the whole"),
        (["speed:lost_steps/spring=0.9"], "'lost_steps' has no part 'spring'; its parts: movement"),
        (
            ["speed:lost_steps=1.2"],
            "speed:lost_steps: expected a probability from 0 to 1, found 1.2",
        ),
        (["speed:lost_steps=0.7", "speed:backlash=0.7"], "its faults add up to 1.4; they exclude"),
        (["speed:lost_steps=0.3", "speed:lost_steps/movement=0.3"], "with a part and without"),
        (["speed=0.3"], "expected DIAL:FAULT=PROBABILITY, such as speed:lost_steps=0.9, found"),
        (["speed:lost_steps=much"], "expected DIAL:FAULT=PROBABILITY"),
    ],
)
def test_findings_that_cannot_be_used(faults: list[str], said: str):
    with pytest.raises(PlanError) as refused:
        findings_from(dict(parse_fault(one) for one in faults), KNOWN, FAMILY)
    assert said in str(refused.value)


def test_an_age_that_cannot_be():
    with pytest.raises(PlanError, match="age: expected 0 to 150, found -3"):
        plan("fuel:lost_steps=0.9", life=Life(-3))
    with pytest.raises(PlanError, match="warranty: expected 0 to 120, found -1"):
        with_terms(CATALOGUE, warranty_months=-1)


def test_causes_and_parts_are_joined_with_both_sums_kept():
    causes = {"sound": 0.1, "lost_steps": 0.6, "stalled": 0.3}
    parts = {"movement": 0.5, "driver": 0.25, "joint": 0.15}
    table = joined(causes, parts, KNOWN)
    for code in ("lost_steps", "stalled"):
        of_code = sum(p for state, p in table.items() if state.startswith(code))
        assert of_code == pytest.approx(causes[code], abs=1e-3)
    for part, p in parts.items():
        of_part = sum(share for state, share in table.items() if state.endswith(f"/{part}"))
        assert of_part == pytest.approx(p, abs=1e-3)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "is no JSON"),
        ("[]", "holds no findings; give what `needlewright troubleshoot --json` prints"),
        ('{"faults": {"speed": 0.3}}', "faults: expected 'DIAL:FAULT', found 'speed'"),
        (
            '{"faults": {"speed:stalled": "much"}}',
            "expected a probability from 0 to 1, found 'much'",
        ),
        ('{"dials": {"speed": 3}}', "dials.speed: expected probabilities by name"),
    ],
)
def test_a_file_without_findings(tmp_path: Path, text: str, said: str):
    (tmp_path / "f.json").write_text(text, "utf-8")
    with pytest.raises(PlanError) as refused:
        read_findings(tmp_path / "f.json", KNOWN)
    assert said in str(refused.value)


def test_what_nobody_complained_of_holds_no_findings(tmp_path: Path):
    believed = {"dials": {"speed": {"sound": 0.93, "lost_steps": 0.07}}, "responsible": []}
    (tmp_path / "f.json").write_text(json.dumps(believed), "utf-8")
    assert read_findings(tmp_path / "f.json", KNOWN) == {}


def test_a_list_of_faults_is_read(tmp_path: Path):
    faults = {"faults": {"speed:lost_steps/movement": 0.8, "whole:lamp_out": 0.4}}
    (tmp_path / "f.json").write_text(json.dumps(faults), "utf-8")
    assert read_findings(tmp_path / "f.json", KNOWN) == {
        ("speed", "lost_steps/movement"): 0.8,
        ("whole", "lamp_out"): 0.4,
    }


@given(st.integers(0, 10**7), st.integers(0, 600), st.integers(0, 600))
def test_money_is_rounded_once(cents: int, minutes: int, more: int):
    # labour of two tasks and a part: the sum is exact, and rounded as a decimal of all digits is
    hour = Fraction(cents, 100)
    exact = hour * Fraction(minutes, 6) / 60 + hour * Fraction(more, 6) / 60 + Fraction("0.005")
    # 360 x the sum in whole tenths of a cent: integers alone decide
    thousandths = cents * (minutes + more) * 10 + 1800
    quotient, rest = divmod(thousandths, 3600)
    up = rest * 2 > 3600 or (rest * 2 == 3600 and quotient % 2 == 1)
    assert rounded(exact, "EUR") == Decimal(quotient + up).scaleb(-2)


def test_a_probability_is_typed_with_a_decimal_comma_too():
    assert parse_fault("speed:lost_steps=0,9") == (("speed", "lost_steps"), 0.9)
    for wrong in ("speed:lost_steps=0,9,1", "speed:lost_steps=x", "speed=0.9"):
        with pytest.raises(PlanError, match="expected DIAL:FAULT=PROBABILITY"):
            parse_fault(wrong)
