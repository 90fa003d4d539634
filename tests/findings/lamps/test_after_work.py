"""What became of a lamp: every pair of looks has one outcome. The pairs are counted by hand."""

import pytest

from needlewright.findings.evidence import Evidence
from needlewright.findings.lamps.after_work import ORDER, after_work, outcome_of
from needlewright.findings.lamps.halo import HubState
from needlewright.findings.lamps.looked import (
    Condition,
    Looked,
    looked_at,
    looked_at_currents,
    looked_at_drops,
)
from needlewright.findings.lamps.signs import SignState
from needlewright.findings.supply import Drawn, judge_current


def look(condition: Condition | None, name: str = "a") -> Looked:
    return Looked("zone", name, None, condition, None if condition is None else 0.9)


UNSEEN = look(None)


@pytest.mark.parametrize(
    ("found", "left", "outcome"),
    [
        ("right", "right", "right"),
        ("right", "dim", "new"),
        ("right", "dark", "new"),
        ("right", "halo", "new"),
        ("dim", "right", "mended"),
        ("dim", "dim", "still"),
        ("dim", "dark", "worse"),
        ("dark", "right", "mended"),
        ("dark", "dim", "better"),
        ("dark", "dark", "still"),
        ("off", "right", "mended"),
        ("right", None, "right_not_seen"),
        ("dim", None, "not_seen"),
        (None, "right", "right"),
        (None, "dim", "wrong"),
        (None, None, "not_known"),
    ],
)
def test_every_pair_of_looks_has_its_outcome(found, left, outcome):
    assert outcome_of(look(found), look(left)) == outcome
    if found is None:
        assert outcome_of(None, look(left)) == outcome
    if left is None:
        assert outcome_of(look(found), None) == outcome


@pytest.mark.parametrize(
    ("found", "left", "outcome"),
    [
        (("dim", 0.99, 0.56), ("right", 0.69, 0.61), "still"),
        (("right", 0.69, 0.61), ("dim", 0.99, 0.56), "still"),
        (("dim", 0.60, 0.80), ("right", 0.95, 0.88), "right"),
        (("dim", 0.60, 0.30), ("dark", 0.55, 0.20), "still"),
        (("dark", 0.55, 0.20), ("dim", 0.60, 0.30), "still"),
    ],
)
def test_what_is_called_otherwise_and_measured_the_same_was_neither_mended_nor_spoilt(
    found, left, outcome
):
    """Lights with u = 0.06: by k = 2 two of them differ from 0.17 on."""
    assert of_lights(found, left) == outcome


def of_lights(*looks: tuple[Condition, float, float]) -> str:
    """Of two lights, each with what it is called and how probably."""
    one, other = (Looked("zone", "a", None, c, p, size, 0.06) for c, p, size in looks)
    return outcome_of(one, other)


@pytest.mark.parametrize(
    ("found", "left", "outcome"),
    [
        (("dim", 0.99, 0.56), ("right", 0.97, 0.98), "mended"),
        (("dim", 0.60, 0.70), ("right", 0.95, 0.88), "mended"),  # 0.18, just over U
        (("dark", 0.99, 0.04), ("right", 0.69, 0.61), "mended"),
        (("right", 0.97, 0.98), ("dim", 0.60, 0.70), "new"),
        (("dim", 0.60, 0.50), ("dark", 0.55, 0.04), "worse"),
    ],
)
def test_what_was_measured_to_change_is_called_as_it_is_seen(found, left, outcome):
    assert of_lights(found, left) == outcome


def test_a_doubt_that_came_with_the_work_is_never_hidden():
    """The surer look says right and the later one dim: nothing measured, and it is told first."""
    assert of_lights(("right", 0.95, 0.88), ("dim", 0.60, 0.80)) == "new"


def test_what_either_look_holds_is_told_and_what_got_worse_comes_first():
    found = [look("dark", "a"), look("right", "b"), look("dim", "c"), look("dark", "e")]
    found += [look("right", "f"), look(None, "g")]
    left = [look("right", "a"), look("dark", "b"), look("dim", "c"), look("dark", "d")]
    said = [(one.id, one.outcome) for one in after_work(found, left)]
    assert said == [
        ("b", "new"), ("d", "wrong"), ("c", "still"), ("e", "not_seen"), ("f", "right_not_seen"),
        ("a", "mended"), ("g", "not_known"),
    ]  # fmt: skip
    assert [one.is_worse for one in after_work(found, left)] == [True, *([False] * 6)]
    assert [one.is_wrong for one in after_work(found, left)] == [True] * 3 + [False] * 4
    assert [one.id for one in after_work(found, left) if one.is_unseen] == ["e", "f", "g"]
    assert len(set(ORDER)) == 10


def test_signs_hubs_and_currents_are_called_by_the_likelier_of_two():
    signs = [
        SignState("oil", "tell_tale", 0.97, 0.01, 0.01, None),
        SignState("a1", "segment", 0.2, 0.8, 0.1, None, "odometer"),
        SignState("fog", "tell_tale", None, None, None, "nobody could switch it on"),
    ]
    seen = looked_at(None, signs, [HubState("fuel", 0.9, 0.3, 0.02, None)])
    assert [(one.kind, one.of, one.id, one.condition, one.probability) for one in seen] == [
        ("tell_tale", None, "oil", "dark", 0.97),
        ("segment", "odometer", "a1", "right", 0.8),
        ("tell_tale", None, "fog", None, None),
        ("hub", None, "fuel", "halo", 0.9),
    ]
    assert seen[2].why == "nobody could switch it on"
    drawn = judge_current("rest", [Drawn(0.6, "after 1 key-on")], (0.15, 0.25))
    assert drawn is not None
    [current] = looked_at_currents([drawn])
    assert (current.id, current.condition, current.size) == ("rest", "off", 0.6)


def test_a_run_without_a_drop_says_little_and_one_with_two_says_much():
    """Even odds beforehand: 1 / (1 + 1/2) of a quiet run, R / (1 + R) of a ratio R."""
    quiet, dropped = (
        looked_at_drops([]),
        looked_at_drops([Evidence("all_at_once", None, 49.0, "drops", "run")]),
    )
    assert (quiet.condition, quiet.probability) == ("right", pytest.approx(2 / 3))
    assert (dropped.condition, dropped.probability) == ("off", pytest.approx(0.98))
