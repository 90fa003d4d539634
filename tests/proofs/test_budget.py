from math import degrees, hypot

import pytest

from needlewright.proofs.budget import budget_of
from needlewright.proofs.verdicts import judge_run
from needlewright.readings.complete import complete_run
from needlewright.readings.evidence import NO_EVIDENCE, Evidence
from needlewright.readings.runs import Run
from proofs.drawn_job import FAMILY, row
from proofs.proof_job import measured, with_rows

SPEED = FAMILY.dial("speed")
KMH_PER_DEG = 20 / 20.807  # 20 km/h between marks 20.807 degrees apart


def budget(run: Run, evidence: Evidence = NO_EVIDENCE, dial=SPEED):
    verdict = judge_run(FAMILY, run).dial(dial.id)
    return budget_of(dial, verdict, FAMILY.eccentricity_mm, evidence)


def lines(made):
    return {line.component: line for line in made.lines}


def test_components_of_a_photo_add_up_to_the_stated_uncertainty():
    made = budget(measured("as-left").run)
    found = lines(made)
    assert list(found) == [
        "direction of the needle",
        "shaft off the printed centre",
        "movement, repeatability",
        "stimulus",
    ]
    assert found["direction of the needle"].u == pytest.approx(0.05 * KMH_PER_DEG, rel=1e-3)
    eccentricity_deg = degrees(0.15 / 45.09)
    assert found["shaft off the printed centre"].u_deg == pytest.approx(eccentricity_deg)
    contained = [line.u for line in made.lines if line.contained]
    assert hypot(*contained) == pytest.approx(made.combined, rel=1e-9)
    assert made.expanded == 2 * made.combined


def test_what_is_not_known_is_not_zero():
    stimulus = lines(budget(measured("as-left").run))["stimulus"]
    assert stimulus.u is None
    assert not stimulus.contained


def test_a_known_stimulus_is_contained():
    made = budget(measured("as-left", u_commanded=0.2).run)
    stimulus = lines(made)["stimulus"]
    assert (stimulus.u, stimulus.contained) == (0.2, True)
    assert hypot(*(line.u for line in made.lines if line.contained)) == pytest.approx(made.combined)


def test_the_items_own_scatter_is_told_and_not_contained():
    movement = lines(budget(measured("as-left").run))["movement, repeatability"]
    assert movement.u == pytest.approx(0.15 * KMH_PER_DEG, rel=1e-3)
    assert not movement.contained


def test_evidence_breaks_the_direction_down():
    run = measured("as-left").run
    shown = budget(run)
    worst = next(
        r
        for r in run.of_dial("speed")
        if (r.commanded, r.approach) == (shown.commanded, shown.approach)
    )
    needle = {"dial": "speed", "components_deg": {"fit": 0.03, "registration": 0.04}}
    evidence = Evidence.model_validate({"photos": [{"photo": worst.photo, "needles": [needle]}]})
    made = budget(run, evidence)
    assert list(lines(made))[:2] == ["direction: fit", "direction: registration"]
    assert lines(made)["direction: fit"].u_deg == 0.03
    assert hypot(*(line.u for line in made.lines if line.contained)) == pytest.approx(made.combined)


def test_evidence_that_does_not_add_up_is_not_shown():
    run = measured("as-left").run
    needles = [{"dial": "speed", "components_deg": {"fit": 0.5}}]
    photos = [{"photo": r.photo, "needles": needles} for r in run.of_dial("speed")]
    made = budget(run, Evidence.model_validate({"photos": photos}))
    assert next(iter(lines(made))) == "direction of the needle"


def test_a_value_read_by_eye_is_half_a_graduation():
    rows = tuple(row("speed", v, v + 3.0, u_indicated=None) for v in (40.0, 80.0, 120.0))
    made = budget(complete_run(Run("typed", rows), FAMILY))
    assert lines(made)["reading by eye"].u == pytest.approx(20 / 2 / 3**0.5)
    assert made.combined == pytest.approx(20 / 2 / 3**0.5)


def test_a_value_with_its_own_uncertainty_is_not_broken_down():
    rows = tuple(row("speed", v, v + 3.0) for v in (40.0, 80.0, 120.0))
    made = budget(complete_run(Run("typed", rows), FAMILY))
    assert lines(made)["reading"].u == 0.2
    assert made.combined == pytest.approx(0.2)


def test_no_row_that_was_read_no_budget():
    gone = with_rows(measured("as-left"), "speed", lambda row: None)
    assert budget(gone.run) is None
