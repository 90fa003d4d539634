"""Answers to questions and tests of a job, and opinions beside what the program said."""

import pytest

from needlewright.errors import JobError, RecordError
from needlewright.records import stages
from needlewright.records.analyses import keep_analysis
from needlewright.records.answers import Given, answer
from needlewright.records.opinions import Decided, finished_jobs, give_opinion
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import history, undo_last
from records.benches import ANNA, BERT, bench, new, received
from records.test_undo import comparable, everything

SAID = {"sound": 0.2, "lost_steps": 0.8}


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        new(one)
        yield one


def answers(opened):
    return [(a.finding, a.dial, a.yes, a.source, a.by) for a in job_sheet(opened, "T-77").answers]


def test_an_answer_given_anew_takes_the_place_of_the_one_before(opened):
    first = [Given("reads_wrong", True, "fuel"), Given("all_at_once", False)]
    answer(opened, "T-77", first, ANNA, source="pasted")
    answer(opened, "T-77", [Given("reads_wrong", False, "fuel")], BERT, source="bench")
    assert answers(opened) == [
        ("all_at_once", None, False, "pasted", ANNA),
        ("reads_wrong", "fuel", False, "bench", BERT),
    ]
    undo_last(opened, "T-77", ANNA)
    assert answers(opened) == [
        ("reads_wrong", "fuel", True, "pasted", ANNA),
        ("all_at_once", None, False, "pasted", ANNA),
    ]
    undo_last(opened, "T-77", ANNA)
    assert answers(opened) == []


def test_an_answer_may_be_that_it_is_not_known(opened):
    answer(opened, "T-77", [Given("reads_wrong", True, "fuel")], ANNA)
    answer(opened, "T-77", [Given("reads_wrong", None, "fuel")], ANNA)
    assert answers(opened) == [("reads_wrong", "fuel", None, "typed", ANNA)]
    undo_last(opened, "T-77", ANNA)
    assert answers(opened) == [("reads_wrong", "fuel", True, "typed", ANNA)]


def test_the_same_answer_again_saves_nothing(opened):
    one = [Given("reads_wrong", True, "fuel")]
    before = answer(opened, "T-77", one, ANNA)
    assert answer(opened, "T-77", one, BERT) == before
    assert [edit.what for edit in history(opened, "T-77")] == [
        "answer: reads_wrong of dial 'fuel' yes",
        "job opened",
    ]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ([], "no answer was given"),
        ([Given("x", True), Given("x", False)], "'x' of the whole is answered twice"),
        ([Given("x", True, "fuel"), Given("x", True, "fuel")], "'x' of dial 'fuel' is answered"),
    ],
)
def test_answers_that_cannot_be_kept_are_one_sentence(opened, given, says):
    with pytest.raises(RecordError, match=says):
        answer(opened, "T-77", given, ANNA)
    assert answers(opened) == []


def test_an_overruled_opinion_stays_on_record(opened):
    give_opinion(opened, "T-77", Decided(("dragging",), "felt it", SAID, "fuel"), ANNA)
    give_opinion(
        opened, "T-77", Decided((), "was the table", {"sound": 0.9}, "fuel", part="needle"), BERT
    )
    give_opinion(
        opened, "T-77", Decided(("lamp_out", "lamp_dim"), "seen", {}, system="lamps"), BERT
    )
    found = job_sheet(opened, "T-77").opinions
    assert [(o.dial, o.decided, o.why, o.by, o.counts) for o in found] == [
        ("fuel", ("dragging",), "felt it", ANNA, False),
        ("fuel", (), "was the table", BERT, True),
        (None, ("lamp_out", "lamp_dim"), "seen", BERT, True),
    ]
    assert (found[0].said, found[1].part) == (SAID, "needle")
    undo_last(opened, "T-77", ANNA)
    undo_last(opened, "T-77", ANNA)
    assert [(o.decided, o.counts) for o in job_sheet(opened, "T-77").opinions] == [
        (("dragging",), True)
    ]


def test_an_opinion_needs_a_reason_and_one_cause_a_dial(opened):
    with pytest.raises(RecordError, match="an opinion on dial 'fuel' needs its reason"):
        give_opinion(opened, "T-77", Decided(("dragging",), " ", SAID, "fuel"), ANNA)
    with pytest.raises(RecordError, match="have dragging and stalled; a dial has one main cause"):
        give_opinion(opened, "T-77", Decided(("dragging", "stalled"), "x", SAID, "fuel"), ANNA)
    with pytest.raises(JobError, match="opinion on the lamps"):
        give_opinion(opened, "T-77", Decided((), "x" * 3000, SAID, system="lamps"), ANNA)
    for dial, system in ((None, None), ("fuel", "lamps")):
        with pytest.raises(RecordError, match="is of one dial, or of one system; name it"):
            give_opinion(opened, "T-77", Decided((), "x", SAID, dial, system), ANNA)
    assert job_sheet(opened, "T-77").opinions == ()


def test_answers_and_opinions_are_taken_back_like_everything_else(opened):
    for save in (
        lambda: answer(opened, "T-77", [Given("reads_wrong", True, "fuel")], ANNA),
        lambda: give_opinion(opened, "T-77", Decided((), "w", SAID, "fuel"), ANNA),
        lambda: keep_analysis(opened, "T-77", "light.json", [{"ratio": 2.0}], ANNA),
        lambda: keep_analysis(opened, "T-77", "light.json", [{"ratio": 3.0}], ANNA),
    ):
        before = everything(opened, None)
        save()
        assert everything(opened, None) != before
        undo_last(opened, "T-77", BERT)
        assert comparable(everything(opened, None)) == comparable(before)


def test_an_analysis_made_anew_takes_the_place_of_the_one_before(opened):
    for ratio in (2.0, 3.0):
        keep_analysis(opened, "T-77", " light.json ", [{"ratio": ratio}], ANNA)
    keep_analysis(opened, "T-77", "port.json", [{"ratio": 5.0}], BERT)
    kept = [(a.name, a.pieces, a.by) for a in job_sheet(opened, "T-77").analyses]
    assert kept == [
        ("light.json", ({"ratio": 3.0},), ANNA),
        ("port.json", ({"ratio": 5.0},), BERT),
    ]
    with pytest.raises(RecordError, match=r"light\.json holds no evidence"):
        keep_analysis(opened, "T-77", "light.json", [], ANNA)
    with pytest.raises(JobError, match="analysis"):
        keep_analysis(opened, "T-77", " ", [{}], ANNA)


def test_jobs_that_were_returned_tell_what_was_decided(opened):
    received(opened, "T-78", serial="S-9")
    for tag in ("T-77", "T-78"):
        give_opinion(opened, tag, Decided(("dragging",), "felt it", SAID, "fuel"), ANNA)
    give_opinion(opened, "T-78", Decided(("blocked",), "saw it", SAID, "fuel"), ANNA)
    assert finished_jobs(opened) == ()
    with opened.writing("returned, for a test") as session:
        row = session.scalars(stages.select(stages.Job).where(stages.Job.tag == "T-78")).one()
        row.closed_at = opened.now()
    (one,) = finished_jobs(opened)
    assert (one.tag, one.family, [o.decided for o in one.opinions]) == (
        "T-78",
        "fam-job",
        [("blocked",)],
    )
    assert finished_jobs(opened, but="T-78") == ()
