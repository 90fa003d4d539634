"""Rest angles over key-ons: who creeps home, who sits turned, who is dead."""

import json
from pathlib import Path

import numpy as np
import pytest
from benchmarks.sweep_cases import dial_of
from scipy.stats import beta

from needlewright.findings.key_cycle import (
    LARGEST_RATIO,
    PRIOR,
    RELIEF,
    SMALLEST_RATIO,
    judge_key_cycle,
    key_cycle_evidence,
)
from needlewright.readings.runs import RunRow
from needlewright.rehearsal.movement.faults import MovementFaults
from needlewright.rehearsal.movement.shown import key_cycles, movement_of

KEY_ONS = (0, 1, 3, 5)
ROOT = Path(__file__).parents[2]


def rests(dial, offs, key_ons=KEY_ONS, u=0.1):
    return [
        RunRow("r", dial.id, "km/h", "rest", None, 23.0, dial.rest_angle_deg + off, u, key_cycle=n)
        for n, off in zip(key_ons, offs, strict=True)
    ]


def top(offs, *, sense=1, **how):
    dial = dial_of(sense=sense)
    return judge_key_cycle(dial, rests(dial, [sense * off for off in offs], **how))


@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize(
    ("offs", "fault"),
    [
        ((0.1, 0.0, -0.1, 0.05), "sound"),
        ((40.0, 0.0, 0.1, 0.0), "sound"),  # the power went at a reading; home at the first key-on
        ((4.0, 4.1, 3.9, 4.0), "needle_offset"),
        ((12.0, 10.0, 6.0, 2.0), "lost_steps"),
        ((2.0, 1.5, 0.5, 0.0), "lost_steps"),  # by parts of a cycle
        ((14.0, 13.0, 9.0, 5.0), "lost_steps"),  # with a seat a degree off
        ((60.0, 60.05, 60.0, 59.95), "stalled"),
        ((3.0, -2.0, 5.0, -4.0), "erratic"),
        ((2.0, 6.0, 10.0, 12.0), "erratic"),  # away from its rest is not home
    ],
)
def test_each_is_told(offs, fault, sense):
    found = top(offs, sense=sense)
    assert found.faults[0][0] == fault
    assert sum(share for _, share in found.faults) == pytest.approx(1.0)
    assert (found.ratio > 3) == (fault == "lost_steps")
    assert found.crept_deg == pytest.approx(sense * (offs[-1] - offs[0]))


def test_what_creeps_home_is_relief_and_no_repair():
    found = top((12.0, 10.0, 6.0, 2.0))
    (evidence,) = key_cycle_evidence(found, "run 'r'")
    assert (evidence.finding, evidence.part, evidence.unit) == ("creeps_home", "movement", "deg")
    assert (evidence.size, evidence.ratio) == (pytest.approx(-10.0), LARGEST_RATIO)
    assert RELIEF in evidence.words
    assert "relief for days, not a repair" in RELIEF
    assert "or else it rests anywhere and came in this order by chance (" in evidence.words
    assert "+12.0 after 0, +10.0 after 1" in evidence.words
    (evidence,) = key_cycle_evidence(top((0.0, 0.1, 0.0, -0.1)), "run 'r'")
    assert (evidence.ratio, evidence.part) == (SMALLEST_RATIO, None)


def test_no_ratio_beyond_what_the_drawn_key_ons_bear():
    """Bounds of C. J. Clopper and E. S. Pearson, 1934 (from memory), by scipy.stats.beta."""
    rows = json.loads((ROOT / "docs/measured/cold.json").read_text())["key_ons"]
    creep, others = rows[0], rows[1:]
    assert creep["rests"].startswith("weak torque")
    kinds = ("sound", "needle_offset", "stalled", "erratic")
    assert [o["rests"].split()[0] for o in others] == ["sound", "sits", "dead", "scatters"]
    bounds = [beta.ppf(0.95, o["surely"] + 1, o["drawn"] - o["surely"]) for o in others]
    weights = [PRIOR[kind] for kind in kinds]
    surely = np.average(bounds, weights=weights)
    assert creep["surely"] / creep["drawn"] / surely >= LARGEST_RATIO
    missed = creep["drawn"] - creep["creeps"]
    quiet = min(1 - o["creeps"] / o["drawn"] for o in others)
    bound = quiet / beta.ppf(0.95, missed + 1, creep["drawn"] - missed)
    assert bound >= 1 / SMALLEST_RATIO


def test_two_looks_do_not_tell_creeping_from_homing():
    assert top((12.0, 2.0), key_ons=(0, 5)) is None
    assert top((12.0, 12.1, 2.0), key_ons=(0, 0, 5)) is None
    assert top((12.0, 6.0, 2.0), key_ons=(1, 3, 5)).faults[0][0] == "lost_steps"


def test_a_movement_that_is_no_stepper_is_not_driven_home():
    dial = dial_of("air_core")
    assert judge_key_cycle(dial, rests(dial, (12.0, 10.0, 6.0, 2.0))) is None


def test_a_coarse_reading_is_less_sure():
    fine, coarse = (top((2.0, 2.0, 0.0, 0.0), u=u) for u in (0.1, 1.5))
    assert fine.creeps
    assert not coarse.creeps
    assert 0.1 < coarse.ratio < 3


@pytest.mark.parametrize("torque", [0.15, 0.1])
def test_a_rehearsed_movement_without_torque_creeps_and_is_found(torque):
    """What a weak magnet does at homing comes out of the physics."""
    dial = dial_of()
    weak = MovementFaults(torque_factor=torque)
    angles = key_cycles(movement_of(dial, weak, at_angle_deg=-80.0), 5)[list(KEY_ONS)]
    read = angles + np.random.default_rng(2).normal(0, 0.1, 4)
    found = judge_key_cycle(dial, rests(dial, read - dial.rest_angle_deg))
    assert found.creeps
    sound = key_cycles(movement_of(dial, at_angle_deg=-80.0), 5)[list(KEY_ONS)]
    home = judge_key_cycle(dial, rests(dial, sound - dial.rest_angle_deg))
    assert (home.faults[0][0], home.ratio < 0.1) == ("sound", True)
