"""49 USC 32704(a), service of odometers: two outcomes are lawful, every third is refused.

Source: 49 USC 32704(a) (seen): service may leave the mileage unchanged; where it cannot, the
odometer is set to zero and the owner or agent attaches to the left door frame a written notice
with the mileage before and the date. A fact of the text, not legal advice.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.proofs.odometer import OdometerFacts, ZeroNotice, judge_odometer
from proofs.proof_job import proof

RECEIVED, SERVICED, ISSUED = date(2026, 3, 2), date(2026, 3, 5), date(2026, 3, 6)
NOTICE = ZeroNotice(184213.0, SERVICED, "left door frame")
mileages = st.integers(0, 2_000_000).map(float)


def judged(before: float, after: float, notice: ZeroNotice | None = None):
    return judge_odometer(OdometerFacts("mi", before, after, notice), RECEIVED, ISSUED)


def test_first_outcome_the_mileage_is_unchanged():
    assert judged(184213.0, 184213.0).outcome == "unchanged"


def test_second_outcome_zero_with_the_written_notice():
    verdict = judged(184213.0, 0.0, NOTICE)
    assert verdict.outcome == "zero_with_notice"
    for must_say in ("184 213 mi", "2026-03-05", "left door frame"):
        assert must_say in verdict.sentence


def test_zero_without_the_notice_is_a_third_outcome():
    assert judged(184213.0, 0.0).outcome == "refused"


@given(before=mileages, after=mileages, with_notice=st.booleans())
def test_every_other_outcome_is_refused(before: float, after: float, with_notice: bool):
    notice = ZeroNotice(before, SERVICED, "left door frame") if with_notice else None
    verdict = judged(before, after, notice)
    assert verdict.lawful == (before == after or (after == 0 and with_notice))


@pytest.mark.parametrize("after", [184212.0, 184214.0, 84213.0, 1.0])
def test_no_certificate_with_an_altered_mileage(after: float):
    altered = {
        "unit": "km",
        "as_received": 184213.0,
        "as_returned": after,
        "notice": {"mileage_before": 184213.0, "date": SERVICED},
    }
    refused = proof(odometer=altered)
    assert refused.kind == "not_conforming_report"
    assert not refused.issued_as_certificate
    assert refused.why_not == (refused.odometer.sentence,)
    assert "32704" in refused.why_not[0]
