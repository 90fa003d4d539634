"""Two people save the same job: what each did is kept, or the second is told in one sentence."""

import threading

import pytest

from needlewright.errors import ConflictError, RecordError
from needlewright.records import intake, jobs, returning, shop
from needlewright.records.opening import open_shop
from needlewright.records.sheet import job_sheet
from records.benches import ANNA, BERT, bench, new


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        yield one


def test_the_same_field_is_a_conflict_that_names_who_and_what(opened):
    seen = new(opened).version
    jobs.edit_job(opened, "T-77", {"owner": "by Bert"}, BERT, seen=seen)
    with pytest.raises(ConflictError) as said:
        jobs.edit_job(opened, "T-77", {"owner": "by Anna"}, ANNA, seen=seen)
    sentence = str(said.value)
    assert sentence.startswith("job T-77: Bert Invented saved 'owner' at ")
    assert "it is now 'by Bert', you typed 'by Anna'" in sentence
    assert "\n" not in sentence
    sheet = job_sheet(opened, "T-77")
    assert (sheet.owner, sheet.version) == ("by Bert", 2)


def test_different_fields_are_both_kept(opened):
    seen = new(opened).version
    jobs.edit_job(opened, "T-77", {"owner": "by Bert"}, BERT, seen=seen)
    sheet = jobs.edit_job(opened, "T-77", {"vehicle": "by Anna"}, ANNA, seen=seen)
    assert (sheet.owner, sheet.vehicle) == ("by Bert", "by Anna")


def test_a_whole_form_sent_back_does_not_undo_what_the_other_did(opened):
    sheet = new(opened)
    form = {"owner": sheet.owner, "vehicle": sheet.vehicle, "complaint": "by Anna"}
    jobs.edit_job(opened, "T-77", {"owner": "by Bert"}, BERT, seen=sheet.version)
    saved = jobs.edit_job(opened, "T-77", form, ANNA, seen=sheet.version)
    assert (saved.owner, saved.complaint) == ("by Bert", "by Anna")


def test_both_typing_the_same_is_no_conflict(opened):
    seen = new(opened).version
    jobs.edit_job(opened, "T-77", {"owner": "the same"}, BERT, seen=seen)
    assert jobs.edit_job(opened, "T-77", {"owner": "the same"}, ANNA, seen=seen).owner == "the same"


def test_nothing_of_a_conflicting_form_is_saved(opened):
    seen = new(opened).version
    jobs.edit_job(opened, "T-77", {"serial": "S-9"}, BERT, seen=seen)
    with pytest.raises(ConflictError, match="saved 'serial'"):
        jobs.edit_job(opened, "T-77", {"owner": "mine", "serial": "S-8"}, ANNA, seen=seen)
    assert job_sheet(opened, "T-77").owner == "C. Ustomer"


@pytest.mark.parametrize(
    ("save", "field"),
    [
        (
            lambda s, v, who, seen: intake.receive(s, "T-77", {"sender": v}, who, seen=seen),
            "sender",
        ),
        (
            lambda s, v, who, seen: returning.record_return(
                s, "T-77", {"carrier": v}, who, seen=seen
            ),
            "carrier",
        ),
        (
            lambda s, v, who, seen: intake.receive(
                s, "T-77", {"odometer_in": len(v)}, who, seen=seen
            ),
            "odometer in",
        ),
    ],
)
def test_the_other_forms_are_compared_too(opened, save, field):
    seen = new(opened).version
    save(opened, "first", BERT, seen)
    with pytest.raises(ConflictError, match=f"Bert Invented saved '{field}'"):
        save(opened, "second one", ANNA, seen)


def test_settings_are_saved_by_one_person_at_a_time(opened):
    seen = shop.settings(opened).version
    shop.change_settings(opened, {"place": "here"}, seen=seen)
    with pytest.raises(ConflictError, match="saved by somebody else after you opened them"):
        shop.change_settings(opened, {"place": "there"}, seen=seen)
    assert shop.settings(opened).place == "here"


def test_threads_and_processes_that_save_at_once_lose_nothing(opened):
    new(opened)
    refused = []

    def write(who: str, number: int) -> None:
        with open_shop(opened.folder) as own:
            for n in range(10):
                try:
                    jobs.add_note(own if number % 2 else opened, "T-77", f"{number}-{n}", who)
                except RecordError as error:
                    refused.append(error)

    threads = [threading.Thread(target=write, args=(ANNA, i)) for i in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert refused == []
    sheet = job_sheet(opened, "T-77")
    assert {note.text for note in sheet.notes} == {f"{i}-{n}" for i in range(4) for n in range(10)}
    assert sheet.version == 41
