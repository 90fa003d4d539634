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


LOCAL = "the local road traffic act"


def locally(returned: float, procedure: str, stated: ZeroNotice | None):
    facts = OdometerFacts("km", 184213.0, returned, stated, None, LOCAL, procedure)
    return judge_odometer(facts, RECEIVED, ISSUED)


@pytest.mark.parametrize(
    ("returned", "outcome", "certifiable"),
    [(184213.0, "unchanged", True), (0.0, "zero_with_notice", True), (50.0, "local_law", False)],
)
def test_under_a_local_law_its_procedure_is_stated(returned, outcome, certifiable):
    verdict = locally(returned, "entered in the papers.", notice())
    assert (verdict.outcome, verdict.lawful, verdict.certifiable) == (outcome, True, certifiable)
    assert "49 USC" not in verdict.sentence


@pytest.mark.parametrize(
    ("procedure", "stated"),
    [
        ("", notice()),
        ("entered in the papers", None),
        ("entered in the papers", notice(mileage=1.0)),
        ("entered in the papers", notice(day=date(2026, 3, 7))),
    ],
)
@pytest.mark.parametrize("returned", [0.0, 50.0, 184214.0])
def test_under_a_local_law_a_change_without_its_record_is_refused(procedure, stated, returned):
    verdict = locally(returned, procedure, stated)
    assert (verdict.lawful, verdict.certifiable) == (False, False)
    assert verdict.sentence.endswith(f"({LOCAL}).")
