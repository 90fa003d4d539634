from dataclasses import replace
from datetime import date

import pytest

from needlewright.errors import JobError, PaperError
from needlewright.families.model import Variant
from needlewright.proofs.certificate import certify, compare, report_as_found
from needlewright.readings.evidence import Evidence
from needlewright.readings.runs import Run
from proofs.drawn_job import FAMILY
from proofs.proof_job import job, measured, proof, turned, with_rows


def dial(made, name):
    return next(d for d in made.dials if d.dial == name)


# whether it may be issued


def test_the_job_as_left_is_certified():
    made = proof()
    assert made.kind == "certificate"
    assert made.issued_as_certificate
    assert made.why_not == made.exceptions == ()
    assert made.title == "Certificate of check after rebuild"


def test_the_job_as_found_is_not():
    found, left = measured("as-found"), measured("as-left")
    made = certify(FAMILY, job(), left, found)
    assert made.kind == "not_conforming_report"
    assert not made.issued_as_certificate
    assert made.title == "Report of check after rebuild: not conforming"
    assert len(made.why_not) == 1
    assert made.why_not[0].startswith("Speedometer speed: does not conform")
    assert [e.split(":")[0] for e in made.exceptions] == ["engine", "fuel"]


@pytest.mark.parametrize("row_number", range(1, 12))
def test_one_failing_speedometer_row_is_enough(row_number):
    """Every row but the one at rest is turned down, each alone, by 12 km/h."""
    seen = []

    def one_low(row):
        seen.append(row)
        return turned(-12.5)(row) if len(seen) == row_number + 1 else row

    made = proof(with_rows(measured("as-left"), "speed", one_low))
    assert made.kind == "not_conforming_report"
    failing = [r for r in dial(made, "speed").left.rows if r.code in ("fail", "conditional_fail")]
    assert len(failing) == 1


def test_a_speedometer_that_reads_a_little_low_is_not_certified():
    """0.9 km/h under the limit with U 0.4: nothing rounds it away."""
    made = proof(with_rows(measured("as-left"), "speed", turned(-3.5)))
    assert made.kind == "not_conforming_report"


def test_a_speedometer_in_doubt_is_certified_and_says_so():
    def low_at_40(row):
        """2.3 km/h of room becomes 0.2, with U 0.4."""
        return turned(-2.2)(row) if row.commanded == 40.0 else row

    made = proof(with_rows(measured("as-left"), "speed", low_at_40))
    assert dial(made, "speed").left.code == "conditional_pass"
    assert made.kind == "certificate"
    assert any("'speed' conforms in doubt" in c for c in made.cautions)


@pytest.mark.parametrize(("turn_deg", "kind"), [(-8.0, "certificate"), (-16.0, "report")])
def test_a_rule_that_is_silent_at_160_does_not_let_the_speedometer_read_low_there(turn_deg, kind):
    """4.7 km/h high at 160 and about 1 km/h a degree: 3 low is let be, 10.7 is more than 8."""
    dials = [replace(d, rule="us-393.82") if d.id == "speed" else d for d in FAMILY.dials]
    family = replace(FAMILY, dials=tuple(dials))

    def low_at_160(row):
        return turned(turn_deg)(row) if row.commanded == 160.0 else row

    left = with_rows(measured("as-left"), "speed", low_at_160)
    made = certify(family, job(), measured("as-found"), left)
    assert dial(made, "speed").left.code == "pass"
    assert kind in made.kind
    assert len(made.why_not) == (1 if kind == "report" else 0)
    for sentence in made.why_not:
        assert sentence.startswith(
            "Speedometer speed: at 160 km/h, up, where its rule says nothing"
        )
        assert sentence.endswith("more than the 8 km/h that the rule allows where it speaks.")


def test_a_check_point_that_was_never_read_is_no_pass():
    def without_120(row):
        return None if row.commanded == 120.0 else row

    made = proof(with_rows(measured("as-left"), "speed", without_120))
    assert made.kind == "not_conforming_report"
    assert "120" in made.why_not[0]


def test_a_row_that_was_not_read_is_no_pass():
    def unread_200(row):
        if row.commanded != 200.0:
            return row
        blank = dict.fromkeys(("angle_deg", "u_angle_deg", "indicated", "u_indicated"))
        return replace(row, flags=("occluded",), **blank)

    made = proof(with_rows(measured("as-left"), "speed", unread_200))
    assert made.kind == "not_conforming_report"
    assert "1 not read" in made.why_not[0]


def test_a_run_without_the_speedometer_is_no_pass():
    made = proof(with_rows(measured("as-left"), "speed", lambda row: None))
    assert made.kind == "not_conforming_report"


def test_another_dial_that_fails_is_an_exception():
    made = proof(with_rows(measured("as-left"), "fuel", turned(6.0)))
    assert made.kind == "certificate_with_exceptions"
    assert made.title.endswith("with exceptions")
    assert made.issued_as_certificate
    assert [e.split(":")[0] for e in made.exceptions] == ["fuel"]


def test_a_family_without_speedometer_needs_a_dial_that_passes():
    gauges = replace(FAMILY, dials=tuple(d for d in FAMILY.dials if d.id != "speed"))
    found = with_rows(measured("as-found"), "speed", lambda row: None)
    left = with_rows(measured("as-left"), "speed", lambda row: None)
    assert certify(gauges, job(), found, left).kind == "certificate"
    for name in ("engine", "temp", "fuel"):
        left = with_rows(left, name, turned(9.0))
    assert certify(gauges, job(), found, left).kind == "not_conforming_report"


def test_odometer_zero_with_notice_is_certified_and_cautioned():
    odometer = {
        "as_received": 184213,
        "as_returned": 0,
        "notice": {"mileage_before": 184213, "date": date(2026, 3, 5)},
    }
    made = proof(odometer=odometer)
    assert made.kind == "certificate"
    assert made.odometer.outcome == "zero_with_notice"
    assert made.cautions[0] == made.odometer.sentence


def test_the_mileage_as_returned_must_be_stated():
    with pytest.raises(JobError, match=r"'as_returned' is missing"):
        proof(odometer={"as_received": 184213})


def test_the_same_run_twice_is_refused():
    left = measured("as-left")
    with pytest.raises(PaperError, match="same angles in every row"):
        certify(FAMILY, job(), left, replace(left, run=Run("again", left.run.rows)))


def test_the_photos_of_one_run_do_not_prove_two():
    left = measured("as-left")
    other = with_rows(left, "fuel", turned(0.2))
    with pytest.raises(PaperError, match=r"share the photo 'as-left/00\.jpg'"):
        certify(FAMILY, job(), left, other)


def test_one_picture_under_two_names_does_not_prove_two():
    def with_content(run, sha256):
        photo = run.run.rows[0].photo
        return replace(run, evidence=Evidence(photos=({"photo": photo, "sha256": sha256},)))

    found, left = measured("as-found"), measured("as-left")
    with pytest.raises(PaperError, match=r"share the photo 'as-left/00\.jpg'"):
        certify(FAMILY, job(), with_content(found, "a" * 64), with_content(left, "a" * 64))
    other = certify(FAMILY, job(), with_content(found, "a" * 64), with_content(left, "b" * 64))
    assert other.issued_as_certificate


def test_a_run_as_left_that_is_older_is_refused():
    found = measured("as-found", time="2026-03-05T10:00:00")
    left = measured("as-left", time="2026-03-03T10:00:00")
    with pytest.raises(PaperError, match="swap --found and --left"):
        certify(FAMILY, job(), found, left)


def test_a_variant_the_family_does_not_have_is_refused():
    family = replace(FAMILY, variants=(Variant("kmh-220", "scale ends at 220 km/h"),))
    with pytest.raises(JobError, match="no variant 'mph-140'; it has kmh-220"):
        certify(family, job(variant="mph-140"), measured("as-found"), measured("as-left"))
    made = certify(family, job(variant="kmh-220"), measured("as-found"), measured("as-left"))
    assert made.item.variant_told_apart_by == "scale ends at 220 km/h"


# what it contains


def test_rows_stand_before_and_after():
    speed = dial(proof(), "speed")
    pairs = [(speed.found.rows[f], speed.left.rows[n]) for f, n in speed.pairs]
    at_120 = next(p for p in pairs if p[0].commanded == 120.0 and p[0].approach == "up")
    # The programme shows 123.9 at 120; three cycles of 2 degrees are 5.77 km/h. Within twice the
    # movement's repeatability of 0.15 degrees.
    assert at_120[0].deviation == pytest.approx(123.9 - 5.77 - 120.0, abs=0.29)
    assert at_120[1].deviation == pytest.approx(123.9 - 120.0, abs=0.29)
    assert at_120[1].lower == 120.0
    assert at_120[1].upper == pytest.approx(136.0)
    assert at_120[0].code == "fail"
    assert at_120[1].code == "pass"


def test_at_zero_the_needle_is_judged_by_its_angle():
    row = next(r for r in dial(proof(), "speed").left.rows if r.commanded == 0.0)
    half_tip_deg = 0.883  # 1.39 mm of tip at 45.09 mm: degrees(0.5 * 1.39 / 45.09)
    assert row.basis == "rest"
    assert row.deviation_unit == row.limits_unit == "deg"
    assert row.upper - row.lower == pytest.approx(2 * half_tip_deg, abs=0.001)


def test_the_tolerance_over_the_scale_is_the_rules():
    (stretch,) = dial(proof(), "speed").allowed
    assert stretch[0].true_value == pytest.approx(0.0, abs=0.01)
    assert stretch[-1].true_value == 220.0
    for point in stretch:
        assert point.lower == 0.0
        assert point.upper == pytest.approx(0.1 * point.true_value + 4.0)


def test_a_rule_that_speaks_at_one_point_has_one_short_stretch():
    speed = replace(FAMILY.dial("speed"), rule="us-393.82")
    family = replace(FAMILY, dials=(speed, *(d for d in FAMILY.dials if d.id != "speed")))
    made = certify(family, job(), measured("as-found"), measured("as-left"))
    (stretch,) = dial(made, "speed").allowed
    assert [p.true_value for p in stretch] == [80.0]
    assert (stretch[0].lower, stretch[0].upper) == (-8.0, 8.0)
    assert any("lets it read low" in c for c in made.cautions)


def test_temperature_outside_the_reference_is_a_deviation():
    assert proof().deviations == ()
    cold = certify(FAMILY, job(), measured("as-found"), measured("as-left", at_c=12.0))
    assert cold.deviations == (
        "Run 'as-left' was taken at 12 to 12 °C; UN Regulation No. 39 refers to 23 ± 5 °C.",
    )
    unknown = certify(FAMILY, job(), measured("as-found"), measured("as-left", at_c=None))
    assert "not recorded" in unknown.deviations[0]


def test_what_is_not_known_of_the_stimulus_is_said():
    assert any("stimulus" in s and "not known" in s for s in proof().uncertainty)
    stated = certify(
        FAMILY, job(), measured("as-found", u_commanded=0.1), measured("as-left", u_commanded=0.1)
    )
    assert not any("not known" in s for s in stated.uncertainty)


def test_instruments_that_were_overdue_are_named():
    late = {"name": "thermometer", "number": "TH-9", "due": date(2026, 1, 31)}
    made = proof(instruments=(late,))
    assert "thermometer, number TH-9, was due on 2026-01-31, before the day of the work." in (
        made.traceability
    )


def test_the_wait_at_an_airbag_is_ten_minutes_unless_the_manual_says_otherwise():
    assert any("wait 10 minutes, unless" in c for c in proof().cautions)
    stated = proof(battery_wait="3 minutes, workshop manual section 80")
    assert any("3 minutes, workshop manual section 80" in c for c in stated.cautions)
    assert not any("10 minutes" in c for c in stated.cautions)


# the report as found, and the comparison


def test_the_report_as_found_judges_and_instructs():
    made = report_as_found(FAMILY, job(), measured("as-found"))
    assert made.kind == "as_found_report"
    assert not made.issued_as_certificate
    assert made.number == "TB-2026-77-as-found"
    assert made.issued == date(2026, 3, 3)
    assert made.odometer.as_returned is None
    assert dial(made, "speed").left is None
    instructions = {n.dial: n.sentence for n in made.needle_set}
    assert instructions["engine"].startswith("engine: turn the needle 3.4 ± ")
    assert "clockwise" in instructions["engine"]
    assert instructions["speed"].startswith("speed: not the needle's seat")
    assert instructions["fuel"].startswith("fuel: not the needle's seat")
    assert instructions["temp"].startswith("temp: leave the needle as it sits")


def test_a_comparison_needs_no_job():
    made = compare(FAMILY, measured("as-found"), measured("as-left"))
    assert (made.found_run, made.left_run) == ("as-found", "as-left")
    assert [d.dial for d in made.dials] == ["engine", "speed", "temp", "fuel"]
    assert {d.dial: d.left.code for d in made.dials}["speed"] == "pass"
