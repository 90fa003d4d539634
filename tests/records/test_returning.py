"""How a cluster goes back: an odometer that changed keeps it here until the law is followed."""

import json
from datetime import date

import pytest

from needlewright.errors import JobError, RecordError
from needlewright.papers.notice import notice_pdf
from needlewright.records import intake, jobs, papers, returning, shop, stages
from needlewright.records.sheet import job_sheet
from records.benches import ANNA, bench, measured_side, received

BOX = {
    "contents": [{"what": "cluster", "ticked": True}],
    "packing": "double box",
    "carrier": "by hand",
}


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path, local_law="the local road traffic act") as (one, clock):
        received(one)
        jobs.decide(one, "T-77", "goes back as it is", "the owner's wish", ANNA, kind="no_paper")
        returning.record_return(one, "T-77", BOX, ANNA)
        clock.days(3)
        yield one


def missing(opened):
    return stages.what_is_missing(opened, "T-77", "returned")


def said(opened, **fields):
    return returning.record_return(opened, "T-77", fields, ANNA)


def test_an_unchanged_mileage_lets_it_go(opened):
    assert missing(opened) == ("the mileage as returned is not recorded",)
    sheet = said(opened, odometer_out=184213)
    assert returning.odometer_state(opened, "T-77").outcome == "unchanged"
    assert sheet.closed_at is None
    closed = stages.finish_stage(opened, "T-77", "returned", ANNA)
    assert (closed.waits_for, closed.returned.day) == ("nothing", date(2026, 3, 5))
    assert closed.closed_at is not None


@pytest.mark.parametrize("out", [184214, 184212, 0, 1, 99999])
def test_a_changed_mileage_keeps_it_here(opened, out):
    said(opened, odometer_out=out)
    assert not returning.odometer_state(opened, "T-77").lawful
    with pytest.raises(RecordError) as refusal:
        stages.finish_stage(opened, "T-77", "returned", ANNA)
    assert "The odometer's outcome is not a lawful one" in str(refusal.value)
    assert "49 USC 32704(a)" in str(refusal.value)
    assert job_sheet(opened, "T-77").closed_at is None


def test_zero_with_its_notice_printed_lets_it_go(opened):
    """49 USC 32704(a): set to zero, and a written notice with the mileage before and the date."""
    notice = {"law": "us", "notice_mileage_before": 184213, "notice_day": "2026-03-05"}
    said(opened, odometer_out=0, **notice)
    state = returning.odometer_state(opened, "T-77")
    assert (state.outcome, state.lawful) == ("zero_with_notice", True)
    assert missing(opened) == (
        "the notice with the mileage before and the date has not been printed",
    )
    document = returning.notice_document(opened, "T-77")
    assert (document["mileage_before"], document["date"]) == (184213.0, "2026-03-05")
    assert (document["law"], document["attached_to"]) == ("49 USC 32704(a)", "left door frame")
    papers.file_paper(opened, "T-77", document, {".pdf": notice_pdf(document)}, ANNA)
    assert missing(opened) == ()
    assert stages.finish_stage(opened, "T-77", "returned", ANNA).closed_at is not None


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"notice_mileage_before": 184212}, "the notice states 184 212 km as the mileage before"),
        ({"notice_day": "2026-03-01"}, "the notice is dated 2026-03-01, outside the job's days"),
        ({"notice_day": "2026-03-06"}, "the notice is dated 2026-03-06, outside the job's days"),
        ({"odometer_out": 5}, "goes out at 5 km"),
    ],
)
def test_a_notice_that_does_not_fit_is_none(opened, fields, says):
    notice = {
        "odometer_out": 0,
        "law": "us",
        "notice_mileage_before": 184213,
        "notice_day": "2026-03-05",
    }
    said(opened, **notice | fields)
    state = returning.odometer_state(opened, "T-77")
    assert not state.lawful
    assert says in state.sentence


def test_a_notice_has_two_fields(opened):
    for fields in ({"notice_mileage_before": 184213}, {"notice_day": "2026-03-05"}, {}):
        with pytest.raises(RecordError, match="the notice needs its two fields"):
            said(opened, odometer_out=0, law="us", **fields)
    with pytest.raises(RecordError, match="there is nothing to print"):
        returning.notice_document(opened, "T-77")


LOCALLY = {"odometer_out": 12, "notice_mileage_before": 184213, "notice_day": "2026-03-05"}


def test_the_local_law_is_followed_in_words_with_its_notice(opened):
    with pytest.raises(RecordError, match="'procedure' is empty"):
        said(opened, law="local", **LOCALLY)
    said(opened, law="local", procedure="reported to the registration office", **LOCALLY)
    state = returning.odometer_state(opened, "T-77")
    assert (state.outcome, state.lawful) == ("local_law", True)
    assert "came in at 184 213 km and goes out at 12 km" in state.sentence
    assert "the local road traffic act was followed: reported to" in state.sentence
    document = returning.notice_document(opened, "T-77")
    assert (document["law"], document["attached_to"]) == ("the local road traffic act", "")
    papers.file_paper(opened, "T-77", document, {".pdf": notice_pdf(document)}, ANNA)
    assert missing(opened) == ()
    said(opened, notice_mileage_before=5)
    assert "the notice states 5 km as the mileage before" in missing(opened)[0]


def test_a_notice_printed_before_it_was_changed_is_printed_anew(opened):
    said(opened, law="local", procedure="reported", **LOCALLY)
    document = returning.notice_document(opened, "T-77")
    papers.file_paper(opened, "T-77", document, {".pdf": b"%PDF"}, ANNA)
    assert missing(opened) == ()
    said(opened, procedure="reported and entered in the papers")
    assert missing(opened)[0].startswith("the notice was printed before what it says was changed")
    with pytest.raises(RecordError, match="cannot be finished: the notice was printed before"):
        stages.finish_stage(opened, "T-77", "returned", ANNA)
    newer = returning.notice_document(opened, "T-77", because="the procedure in full")
    papers.file_paper(opened, "T-77", newer, {".pdf": b"%PDF 2"}, ANNA)
    assert missing(opened) == ()


def test_where_a_local_law_holds_that_one_is_named(opened):
    shop.change_settings(opened, {"law": "local"})
    said(opened, odometer_out=12)
    sentence = returning.odometer_state(opened, "T-77").sentence
    assert sentence.endswith("(the local road traffic act).")
    assert "49 USC" not in sentence
    assert "record the procedure of that law" in sentence
    said(opened, odometer_out=184213)
    assert returning.odometer_state(opened, "T-77").outcome == "unchanged"


@pytest.mark.parametrize(("out", "outcome"), [(12, "local_law"), (0, "zero_with_notice")])
def test_a_paper_states_what_the_local_law_let_change(tmp_path, out, outcome):
    """Another mileage but zero is stated in a report and never certified."""
    with bench(tmp_path, local_law="the local road traffic act") as (opened, clock):
        received(opened, max_speed=180)
        measured_side(opened, "T-77", "found")
        clock.days(3)
        measured_side(opened, "T-77", "left")
        fields = LOCALLY | {"odometer_out": out, "law": "local", "procedure": "reported to office"}
        returning.record_return(opened, "T-77", BOX | fields, ANNA)
        document = papers.prove(opened, "T-77", "certificate").document
        assert document["odometer"]["outcome"] == outcome
        assert document["odometer"]["lawful"] is True
        assert (document["odometer"]["as_received"], document["odometer"]["as_returned"]) == (
            184213,
            out,
        )
        sentence = document["odometer"]["sentence"]
        assert "the local road traffic act was followed: reported to office" in sentence
        assert "not a lawful one" not in json.dumps(document)
        if out == 0:
            assert document["kind"] == "certificate"
            return
        assert document["kind"] == "not_conforming_report"
        assert document["issued_as_certificate"] is False
        assert document["why_not"][0] == sentence
        assert "with no other mileage" in document["why_not"][1]
        papers.file_paper(opened, "T-77", document, {".pdf": b"%PDF"}, ANNA)
        notice = returning.notice_document(opened, "T-77")
        papers.file_paper(opened, "T-77", notice, {".pdf": notice_pdf(notice)}, ANNA)
        assert stages.finish_stage(opened, "T-77", "returned", ANNA).closed_at is not None
        assert papers.facts(opened, "T-77", because="a test").odometer.as_received == 184213


def test_no_odometer_no_mileage(opened):
    intake.receive(
        opened, "T-77", {"odometer_in": None, "odometer_none": "a rev counter only"}, ANNA
    )
    assert missing(opened) == ()
    with pytest.raises(RecordError, match="also that no odometer is fitted"):
        said(opened, odometer_out=5)


def test_a_mileage_never_read_keeps_it_here(opened):
    intake.receive(
        opened, "T-77", {"odometer_in": None, "odometer_unreadable": "display dark"}, ANNA
    )
    said(opened, odometer_out=184213)
    assert missing(opened) == ("the mileage as received is not recorded",)


def test_a_cluster_goes_back_without_a_paper_only_by_decision(tmp_path):
    with bench(tmp_path) as (opened, _):
        received(opened)
        returning.record_return(opened, "T-77", BOX | {"odometer_out": 184213}, ANNA)
        jobs.decide(opened, "T-77", "lamps left", "sound", ANNA)
        assert missing(opened) == (
            "no certificate or report was issued; certify it, or write a decision why it goes "
            "back without one",
        )
        jobs.decide(opened, "T-77", "as it is", "too dear", ANNA, kind="no_paper")
        assert missing(opened) == ()


@pytest.mark.parametrize(
    ("field", "value"), [("law", "moon"), ("odometer_out", -3), ("notice_day", "soon")]
)
def test_a_field_that_cannot_be_used_is_named(opened, field, value):
    with pytest.raises(JobError, match=f"job T-77, Returned: {field}: expected"):
        said(opened, **{field: value})


def test_settings_say_which_law_holds(opened):
    assert shop.change_settings(opened, {"law": "local"}).law == "local"
    with pytest.raises(JobError, match="law: expected 'us' or 'local', found 'eu'"):
        shop.change_settings(opened, {"law": "eu"})


def test_it_cannot_leave_before_it_came(opened):
    with pytest.raises(RecordError) as refusal:
        said(opened, day="2026-03-01", odometer_out=184213)
    assert str(refusal.value) == (
        "job T-77: the day of return, 2026-03-01, lies before the day of receipt, 2026-03-02; "
        "correct the one that is wrong"
    )
    sheet = job_sheet(opened, "T-77")
    assert (sheet.returned.day, sheet.odometer_out) == (None, None)
    assert said(opened, day="2026-03-02").returned.day == date(2026, 3, 2)
    with pytest.raises(RecordError, match="the day of return, 2026-03-02, lies before the day of"):
        intake.receive(opened, "T-77", {"day": "2026-03-03"}, ANNA)
    assert job_sheet(opened, "T-77").received.day == date(2026, 3, 2)


def test_a_receipt_after_today_keeps_it_here(opened):
    said(opened, odometer_out=184213)
    intake.receive(opened, "T-77", {"day": "2026-03-06"}, ANNA)
    assert missing(opened) == (
        "the day of return, 2026-03-05, lies before the day of receipt, 2026-03-06; correct the "
        "one that is wrong",
    )
