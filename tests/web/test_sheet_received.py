from io import BytesIO

import pytest

from needlewright.records.intake import receive
from needlewright.records.jobs import edit_job
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import add_person
from web.sheet_desk import (
    BY,
    TAG,
    Desk,
    desk,
    next_words,
    open_job,
    part_of,
    picture,
    received,
    words_of,
)


@pytest.fixture
def at(tmp_path):
    with desk(tmp_path) as one:
        yield one


def test_a_new_tag_opens_a_sheet_whose_parts_stand_in_the_order_of_the_work(at: Desk):
    page = at.get()
    places = [page.index(f'id="part-{part}"') for part in (
        "received", "bench_check", "needles", "final_check", "returned",
    )]  # fmt: skip
    assert places == sorted(places)
    assert "speedometer reads low" in page
    assert next_words(page) == "Write down who sent it"
    assert page.count('class="button main"') == 1


def test_a_tag_is_opened_by_the_form_and_a_wrong_one_keeps_what_was_typed(at: Desk):
    assert at.client.get("/jobs/new").status_code == 200
    typed = {"tag": "EX-0413", "family": "invented-estate", "owner": "B. Sample"}
    answer = at.post("/jobs/new", {**typed, "promised": "2026-03-20"})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/jobs/EX-0413"
    assert job_sheet(at.shop, "EX-0413").owner == "B. Sample"
    again = at.post("/jobs/new", {**typed, "complaint": "rests above zero"})
    assert again.status_code == 422
    assert "the tag &#39;EX-0413&#39; is taken" in again.text
    assert "rests above zero" in again.text
    assert 'value="B. Sample"' in again.text


def test_a_second_visit_shows_the_first_ones_results(at: Desk):
    edit_job(at.shop, TAG, {"work_done": ["speed: movement replaced"]})
    open_job(at.shop, "EX-0500")
    page = at.get("/jobs/EX-0500")
    assert "This cluster has been here before" in page
    assert 'href="/jobs/EX-0412"' in page
    assert "speed: movement replaced" in page


def test_a_field_saves_itself_and_the_next_thing_moves_on(at: Desk):
    seen = job_sheet(at.shop, TAG).version
    said = at.script(f"/jobs/{TAG}/received", {"sender": "A. Sample", "seen": str(seen)})
    assert said.json()["saved"] is True
    assert said.json()["version"] == seen + 1
    page = at.get()
    assert 'name="sender" type="text" value="A. Sample"' in page
    assert next_words(page) == "Tick off what came in the box"


def test_mileage_may_be_typed_as_it_is_read(at: Desk):
    assert at.script(f"/jobs/{TAG}/received", {"odometer_in": "771 627"}).status_code == 200
    assert job_sheet(at.shop, TAG).odometer_in == 771627
    wrong = at.script(f"/jobs/{TAG}/received", {"odometer_in": "many"})
    assert wrong.status_code == 422
    assert "odometer_in: expected the mileage" in wrong.json()["error"]["what"]
    assert job_sheet(at.shop, TAG).odometer_in == 771627


def test_without_a_script_what_was_typed_stays_beside_what_is_wrong(at: Desk):
    answer = at.post(
        f"/jobs/{TAG}/received", {"form": "received-odometer", "odometer_in": "many miles"}
    )
    assert answer.status_code == 422
    place = part_of(answer.text, 'data-wrong-of="received-odometer"', "odometer_unit")
    assert "expected the mileage" in place
    assert 'value="many miles"' in place


def test_the_box_is_ticked_off_line_by_line(at: Desk):
    fields = {
        "items": "1",
        "item-0-what": "cluster",
        "item-0-ticked": "yes",
        "item-1-what": "screws",
        "item-1-note": "two of four",
        "item-2-what": " ",
        "item-2-ticked": "yes",
    }
    assert at.script(f"/jobs/{TAG}/received", fields).status_code == 200
    came = job_sheet(at.shop, TAG).received.contents
    assert [(i.what, i.ticked, i.note) for i in came] == [
        ("cluster", True, ""),
        ("screws", False, "two of four"),
    ]


def test_not_ok_needs_what_was_found_and_then_a_decision_before_any_work(at: Desk):
    bare = at.script(f"/jobs/{TAG}/received", {"face_ok": "no", "face_note": ""})
    assert bare.status_code == 422
    assert "write what was found instead" in bare.json()["error"]["do"]
    received(at.shop, face_ok=False, face_note="a face in mph")
    page = at.get()
    assert next_words(page) == "Decide what to do about the wrong unit"
    assert "a face in mph" in part_of(page, 'id="wrong-unit"', "</section>")
    at.post(
        f"/jobs/{TAG}/decisions",
        {"kind": "wrong_unit", "text": "go on", "why": "the owner wants mph"},
    )
    assert next_words(at.get()) == "Start the run as found"


def test_a_conflict_says_who_and_what_and_keeps_the_typed_text(at: Desk):
    add_person(at.shop, "S. Other")
    seen = job_sheet(at.shop, TAG).version
    receive(at.shop, TAG, {"sender": "the owner"}, "S. Other")
    fields = {"sender": "a carrier", "seen": str(seen), "form": "received"}
    at.post("/person", {"person": BY, "next": "/"})
    refused = at.script(f"/jobs/{TAG}/received", fields)
    assert refused.status_code == 409
    assert "S. Other saved 'sender'" in refused.json()["error"]["what"]
    page = at.post(f"/jobs/{TAG}/received", fields)
    assert page.status_code == 409
    assert 'value="a carrier"' in page.text
    assert "S. Other saved" in page.text
    assert job_sheet(at.shop, TAG).received.sender == "the owner"


def test_another_field_saved_meanwhile_is_no_conflict(at: Desk):
    seen = job_sheet(at.shop, TAG).version
    receive(at.shop, TAG, {"packing": "double box"})
    answer = at.script(f"/jobs/{TAG}/received", {"sender": "A. Sample", "seen": str(seen)})
    assert answer.status_code == 200
    came = job_sheet(at.shop, TAG).received
    assert (came.sender, came.packing) == ("A. Sample", "double box")


def test_undo_takes_back_the_last_thing_saved(at: Desk):
    receive(at.shop, TAG, {"sender": "A. Sample"})
    assert "received: sender" in part_of(at.get(), 'id="saved-line"', "</div>")
    assert at.post(f"/jobs/{TAG}/undo").status_code == 303
    assert job_sheet(at.shop, TAG).received.sender == ""
    assert "taken back" in part_of(at.get(), 'id="history"', "</section>")


def test_undo_of_a_changed_tag_goes_on_under_the_old_one(at: Desk):
    edit_job(at.shop, TAG, {"tag": "EX-0999"})
    answer = at.post("/jobs/EX-0999/undo")
    assert answer.headers["location"].startswith(f"/jobs/{TAG}")


def test_photos_of_a_damage_are_kept_and_can_be_taken_off(at: Desk):
    files = {"photo": ("dent.jpg", BytesIO(picture(1)), "image/jpeg")}
    answer = at.script(f"/jobs/{TAG}/photos", {"stage": "received", "kind": "damage"}, files=files)
    assert answer.status_code == 200
    (photo,) = job_sheet(at.shop, TAG).photos
    assert f"/originals/{photo.sha256}/small" in at.get()
    at.post(f"/jobs/{TAG}/photos/{photo.id}/off")
    assert job_sheet(at.shop, TAG).photos == ()
    at.post(f"/jobs/{TAG}/undo")
    assert len(job_sheet(at.shop, TAG).photos) == 1


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("note.jpg", b"this is a text", "note.jpg"),
        ("empty.jpg", b"", "empty.jpg"),
        ("half.jpg", picture(3)[:30], "half.jpg"),
    ],
)
def test_what_is_no_photo_is_refused_where_it_was_added(at: Desk, name, content, says):
    files = {"photo": (name, BytesIO(content), "image/jpeg")}
    page = at.post(f"/jobs/{TAG}/photos", {"stage": "received", "kind": "damage"}, files=files)
    assert page.status_code == 422
    place = part_of(page.text, 'data-wrong-of="photos-received-damage"', "</ul>")
    assert says in place
    assert job_sheet(at.shop, TAG).photos == ()


def test_a_finished_part_folds_to_its_result_and_can_be_taken_up_again(at: Desk):
    received(at.shop)
    page = at.get()
    summary = words_of(part_of(page, 'id="part-received"', "</summary>"))
    assert "done: from A. Sample; 1 of 1 things in the box; the right unit" in summary
    assert "771 627 km" in summary
    assert "R. Example" in summary
    head = page.split('id="part-received"')[1].split(">")[0]
    assert " open" not in head
    at.post(f"/jobs/{TAG}/parts/received/reopen")
    assert job_sheet(at.shop, TAG).stage == "received"


def test_a_part_with_something_missing_says_what(at: Desk):
    receive(at.shop, TAG, {"sender": "A. Sample"})
    answer = at.post(f"/jobs/{TAG}/parts/received/finish")
    assert answer.status_code == 422
    assert "the condition is not stated" in answer.text
    said = part_of(at.get(), 'id="foot-received"', "</footer>")
    assert "The odometer is not recorded" in said


def test_notes_and_decisions_stand_on_the_sheet(at: Desk):
    at.post(f"/jobs/{TAG}/notes", {"text": "owner calls on Friday <b>"})
    at.post(f"/jobs/{TAG}/decisions", {"text": "lamps stay", "why": "they are new"})
    page = at.get()
    assert "owner calls on Friday &lt;b&gt;" in page
    assert "Because: they are new" in page
    empty = at.post(f"/jobs/{TAG}/notes", {"text": "  ", "form": "note"})
    assert empty.status_code == 422
    assert "the note is empty" in part_of(empty.text, 'data-wrong-of="note"', "</form>")


def test_what_it_waits_for_and_the_facts_are_changed_in_place(at: Desk):
    at.script(f"/jobs/{TAG}/waits", {"waits_for": "parts"})
    at.script(f"/jobs/{TAG}/facts", {"promised": "2026-03-20", "max_speed": "180"})
    job = job_sheet(at.shop, TAG)
    assert job.waits_for == "parts"
    assert job.promised is not None
    assert job.promised.isoformat() == "2026-03-20"
    assert job.max_speed == 180
    assert at.script(f"/jobs/{TAG}/facts", {"promised": "soon"}).status_code == 422


def test_a_tag_with_a_slash_has_its_own_sheet(at: Desk):
    open_job(at.shop, "EX/7 a")
    address = "/jobs/EX~17%20a"
    assert "EX/7 a" in at.get(address)
    assert at.post(f"{address}/notes", {"text": "hello"}).status_code == 303
    assert job_sheet(at.shop, "EX/7 a").notes[0].text == "hello"


def test_there_is_no_sheet_of_a_tag_nobody_knows(at: Desk):
    answer = at.client.get("/jobs/NOBODY")
    assert answer.status_code == 404
    assert "NOBODY" in answer.text


def test_nothing_on_the_sheet_is_an_inline_script_or_style(at: Desk):
    received(at.shop)
    page = at.get()
    assert " style=" not in page
    assert "<style" not in page
    assert "onclick" not in page
    assert page.count("<script") == page.count('<script type="application/json"') + page.count(
        '<script type="module" src='
    )
