"""What each kind of record says of a job's causes: rests, cold, sweeps, the board."""

from dataclasses import replace
from pathlib import Path

import pytest

from needlewright.composing.job_findings import job_findings
from needlewright.readings.runs import Run, RunRow
from needlewright.records.board import add_board_photo
from needlewright.records.board_pins import set_pin
from needlewright.records.runs import type_run
from needlewright.records.sweeps import add_sweep, store_sweep
from proofs.drawn_job import FAMILY, true_run
from records.benches import ANNA, bench, jpeg, received

CLIP = Path(__file__).parents[1] / "data" / "videos" / "dev-lost-steps.mp4"
FUEL = FAMILY.dial("fuel")


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        received(one)
        yield one


def card(opened, name="fuel"):
    findings = job_findings(opened, "T-77", looks_ahead=0)
    assert findings.not_used == ()
    return findings.card(name)


def seen(opened, finding, name="fuel"):
    (one,) = [e for e in card(opened, name).evidence if e.finding == finding]
    return one


def rest(key_ons, off_deg):
    angle = FUEL.rest_target_deg + FUEL.scale.sense * off_deg
    return RunRow(
        *("as-found", "fuel", FUEL.unit, "rest", None, 23.0, angle, 0.1), key_cycle=key_ons
    )


def test_a_needle_that_creeps_home_over_key_ons_points_at_its_movement(opened):
    slips = {one.cause: one.probability for one in card(opened).shares}["lost_steps"]
    rows = [rest(n, off) for n, off in ((0, 12.0), (1, 10.0), (3, 6.0), (5, 2.0))]
    told = [row for row in true_run("as-left").rows if row.dial == "fuel"]
    type_run(opened, "T-77", "found", Run("as-found", (*rows, *told)), ANNA)
    one = seen(opened, "creeps_home")
    assert (one.speaks, one.strength, one.at.kind) == ("for", "strongly", "run")
    assert "relief for days, not a repair" in one.words
    shares = {one.cause: one.probability for one in card(opened).shares}
    assert shares["lost_steps"] > 2 * slips


def test_runs_at_several_temperatures_speak_of_the_cold(opened):
    """Right when warm, standing in the cold: where the movement begins to fail lies between."""
    rows = [row for row in true_run("as-left").rows if row.dial == "fuel"]
    for name, degc in (("warm", 23.0), ("cool", 5.0), ("cold", -15.0)):
        run = Run(
            name,
            tuple(
                replace(
                    row,
                    run=name,
                    temperature_c=degc,
                    angle_deg=FUEL.rest_angle_deg if name == "cold" else row.angle_deg,
                )
                for row in rows
            ),
        )
        type_run(opened, "T-77", "other", run, ANNA)
    one = seen(opened, "cold_wrong")
    assert one.speaks == "for"
    assert one.seen_in == "temperatures of check, check-2, check-3"


def document(fault="dragging"):
    """Three sweeps up and down, the needle held back at the same angle each time."""
    angles = [float(a) for _ in range(3) for a in (*range(0, 90, 3), *range(90, 0, -3))]
    frames = [
        {"t_s": i / 30, "dials": {"fuel": {"angle_deg": FUEL.rest_angle_deg + a, "u": 0.1}}}
        for i, a in enumerate(angles)
    ]
    events = [
        {"t_s": n * 2.0 + 0.5, "dial": "fuel", "fault": fault, "size_deg": 4.0, "u_size_deg": 0.3}
        for n in range(3)
    ]
    return {"frames": frames, "events": events, "summary": {}, "told": None}


def test_a_followed_sweep_speaks_and_leads_to_its_place(opened):
    before = card(opened).faulty
    sweep = add_sweep(opened, "T-77", CLIP.read_bytes(), "slow.mp4", ANNA)
    assert [e for e in card(opened).evidence if e.kind == "seen"] == []  # it waits
    store_sweep(opened, sweep.id, document())
    one = seen(opened, "sweep_uneven")
    assert (one.speaks, one.at.kind, one.at.id) == ("for", "sweep", sweep.id)
    assert one.seen_in == "sweep slow.mp4"
    assert one.words.startswith("Fuel: ")
    assert card(opened).faulty > 4 * before


def test_a_sweep_in_which_nothing_went_wrong_speaks_against(opened):
    sweep = add_sweep(opened, "T-77", CLIP.read_bytes(), "slow.mp4", ANNA)
    store_sweep(opened, sweep.id, {**document(), "events": []})
    assert seen(opened, "sweep_uneven").speaks == "against"


def test_needles_that_fail_in_one_instant_speak_for_what_feeds_them_all(opened):
    before = card(opened, "supply").faulty
    both = document("lost_steps")
    for frame in both["frames"]:
        frame["dials"]["temp"] = frame["dials"]["fuel"]
    both["events"] += [{**event, "dial": "temp"} for event in both["events"]]
    sweep = add_sweep(opened, "T-77", CLIP.read_bytes(), "slow.mp4", ANNA)
    store_sweep(opened, sweep.id, both)
    one = seen(opened, "all_at_once", "supply")
    assert (one.speaks, one.at.id) == ("for", sweep.id)
    assert card(opened, "supply").faulty > 3 * before


def test_a_cracked_joint_on_the_board_speaks_for_the_supply(opened):
    before = card(opened, "supply").faulty
    photo = add_board_photo(
        opened, "T-77", jpeg(1), "front.png", ANNA, side="front", moment="before"
    )
    pin = {"what": "joint", "state": "cracked", "x": 0.25, "y": 0.5, "part": "supply"}
    set_pin(opened, "T-77", photo.id, pin, ANNA)
    one = seen(opened, "board_cracked", "supply")
    assert (one.speaks, one.at.kind) == ("for", "board")
    assert card(opened, "supply").faulty > 5 * before
