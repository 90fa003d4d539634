from datetime import date

import pytest

from needlewright.proofs.odometer import (
    OdometerFacts,
    ZeroNotice,
    judge_odometer,
    note_odometer,
)

RECEIVED, ISSUED = date(2026, 3, 2), date(2026, 3, 6)


def judged(received: float | None, returned: float | None, notice: ZeroNotice | None = None):
    return judge_odometer(OdometerFacts("km", received, returned, notice), RECEIVED, ISSUED)


def notice(mileage: float = 184213.0, day: date = date(2026, 3, 5)) -> ZeroNotice:
    return ZeroNotice(mileage, day, "left door frame")


def test_the_sentence_of_an_unchanged_odometer_says_both_ends():
    assert judged(184213.0, 184213.0).sentence == (
        "The odometer shows 184 213 km, as it did when received."
    )


def test_tenths_are_kept():
    assert "77 162.7 km" in judged(77162.7, 77162.7).sentence
    assert not judged(77162.7, 77162.8).lawful


def test_zero_that_was_zero_is_unchanged():
    assert judged(0.0, 0.0).outcome == "unchanged"


def test_a_notice_with_another_mileage_is_refused():
    verdict = judged(184213.0, 0.0, notice(mileage=84213.0))
    assert verdict.outcome == "refused"
    assert "84 213 km" in verdict.sentence
    assert "184 213 km" in verdict.sentence


@pytest.mark.parametrize("day", [date(2026, 3, 1), date(2026, 3, 7)])
def test_a_notice_dated_outside_the_job_is_refused(day: date):
    verdict = judged(184213.0, 0.0, notice(day=day))
    assert verdict.outcome == "refused"
    assert f"{day}" in verdict.sentence


@pytest.mark.parametrize(("received", "returned"), [(None, 5.0), (5.0, None), (None, None)])
def test_a_mileage_that_was_not_recorded_is_no_lawful_outcome(received, returned):
    assert judged(received, returned).outcome == "refused"


def test_a_cluster_without_odometer_says_why():
    facts = OdometerFacts("km", None, None, none_fitted="rev counter only")
    assert judge_odometer(facts, RECEIVED, ISSUED).lawful
    assert "rev counter only" in judge_odometer(facts, RECEIVED, ISSUED).sentence
    assert note_odometer(facts).outcome == "none_fitted"


def test_on_receipt_nothing_is_judged():
    noted = note_odometer(OdometerFacts("mi", 1200.0, None))
    assert noted.outcome == "received"
    assert noted.sentence == "The odometer showed 1 200 mi when received."
