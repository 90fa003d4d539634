from io import BytesIO

import pytest

from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.waiting_photos import photos_to_read
from web.sheet_desk import (
    DEMO,
    TAG,
    Desk,
    desk,
    next_words,
    part_of,
    picture,
    received,
    taken_run,
    typed_lines,
    unusable,
    words_of,
)


@pytest.fixture
def at(tmp_path):
    with desk(tmp_path) as one:
        received(one.shop)
        yield one


def run_of(at: Desk, side: str = "found"):
    lines = [r for r in job_sheet(at.shop, TAG).runs if r.side == side and not r.set_aside_at]
    return run_sheet(at.shop, lines[-1].id)


def test_no_run_before_the_cluster_is_received(tmp_path):
    with desk(tmp_path) as at:
        fields = typed_lines([{"approach": "up", "told-speed": "40"}])
        answer = at.post(f"/jobs/{TAG}/runs/found/steps", fields)
        assert answer.status_code == 422
        assert "no work before the cluster is received" in answer.text
        assert 'value="40"' in answer.text


def test_the_table_of_steps_is_filled_with_the_rules_check_points(at: Desk):
    page = at.get(f"/jobs/{TAG}/runs/found/steps")
    for step, value in ((1, "0"), (2, "40"), (3, "80"), (4, "120"), (9, "80")):
        assert (
            f'name="step-{step}-told-speed" inputmode="decimal" autocomplete="off" value="{value}"'
            in page
        )
    assert page.count('<option value="rest" selected>') == 1
    assert page.count('<option value="down" selected>') == 5


def test_a_run_started_with_steps_wants_one_photo_after_the_other(at: Desk):
    fields = typed_lines(
        [
            {"approach": "rest"},
            {"approach": "up", "told-speed": "40", "told-engine": "1.6"},
            {"approach": "", "told-speed": "80"},
        ]
    )
    answer = at.post(f"/jobs/{TAG}/runs/found/steps", {**fields, "temperature_c": "21,5"})
    assert answer.headers["location"] == f"/jobs/{TAG}#found-run"
    run = run_of(at)
    assert [(r.step, r.dial, r.commanded) for r in run.told if r.step == 1] == [
        (1, "engine", 1.6),
        (1, "speed", 40.0),
    ]
    assert {r.temperature_c for r in run.told} == {21.5}
    assert next_words(at.get()) == "Photograph step 0: at rest, key off"
    files = {"photo": ("a.jpg", BytesIO(picture(1)), "image/jpeg")}
    assert at.script(f"/jobs/{TAG}/run/{run.id}/photos", {"step": "0"}, files=files).is_success
    assert next_words(at.get()).startswith("Photograph step 1: engine 1.6")


def test_a_word_for_a_number_is_refused_and_the_table_kept(at: Desk):
    fields = typed_lines([{"approach": "up", "told-speed": "forty"}])
    answer = at.post(f"/jobs/{TAG}/runs/found/steps", fields)
    assert answer.status_code == 422
    assert "expected a number, found &#39;forty&#39;" in answer.text
    assert 'value="forty"' in answer.text
    assert job_sheet(at.shop, TAG).runs == ()


def test_a_run_is_started_with_a_table_and_its_photos(at: Desk):
    table = (DEMO / "as-found" / "commands.csv").read_bytes()
    files = [
        ("files", ("commands.csv", BytesIO(table), "text/csv")),
        ("files", ("00-rest.jpg", BytesIO(picture(1)), "image/jpeg")),
        ("files", ("07-DOWN.jpg", BytesIO(picture(2)), "image/jpeg")),
    ]
    answer = at.script(f"/jobs/{TAG}/runs/found/files", {}, files=files)
    assert answer.status_code == 200, answer.text
    assert answer.json()["steps"]["07-down.jpg"] == 7
    run = run_of(at)
    assert answer.json()["run"] == run.id
    assert [(photo.step, photo.name) for photo in run.photos] == [
        (0, "00-rest.jpg"),
        (7, "07-DOWN.jpg"),
    ]
    assert len(run.steps_without_photo) == 10


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (b"photo,dial\n", "column"),
        (b"photo,step,dial,commanded,unit,approach\na.jpg,1,speed,40,mph,up\n", "given 'mph'"),
        (b"\x00\x01", "commands.csv"),
    ],
)
def test_a_table_that_cannot_be_used_is_named_by_its_own_name(at: Desk, table, says):
    files = [("files", ("commands.csv", BytesIO(table), "text/csv"))]
    answer = at.script(f"/jobs/{TAG}/runs/found/files", {}, files=files)
    assert answer.status_code == 422
    error = answer.json()["error"]
    sentence = " ".join(str(error[part]) for part in ("where", "what", "do"))
    assert "commands.csv" in sentence
    assert says in sentence
    assert "/tmp" not in sentence
    assert job_sheet(at.shop, TAG).runs == ()


def test_a_photo_the_table_does_not_name_is_said_and_the_others_stay(at: Desk):
    table = (DEMO / "as-found" / "commands.csv").read_bytes()
    files = [
        ("files", ("commands.csv", BytesIO(table), "text/csv")),
        ("files", ("00-rest.jpg", BytesIO(picture(1)), "image/jpeg")),
        ("files", ("holiday.jpg", BytesIO(picture(2)), "image/jpeg")),
    ]
    answer = at.script(f"/jobs/{TAG}/runs/found/files", {}, files=files)
    assert answer.status_code == 422
    assert "holiday.jpg" in str(answer.json()["error"])
    assert [photo.name for photo in run_of(at).photos] == ["00-rest.jpg"]


def test_values_are_typed_without_a_camera(at: Desk):
    rows = [
        {"approach": "up", "told-speed": told, "shown-speed": shown}
        for told, shown in (("0", "0"), ("40", "41"), ("80", "83"), ("120", "124"))
    ]
    answer = at.post(f"/jobs/{TAG}/runs/found/steps", {**typed_lines(rows), "no_camera": "yes"})
    assert answer.status_code == 303
    page = at.get()
    assert "typed in without a camera" in page
    table = part_of(page, 'id="found-dial-speed"', "</table>")
    # 20 km/h between marks: half of it over the square root of three, twice: 11.5 km/h
    assert "83 ± 12 km/h" in words_of(table)
    assert "conforms, in doubt" in words_of(table)


def test_readings_appear_as_they_are_made_with_progress(at: Desk):
    run = taken_run(at, read=5)
    page = at.get()
    assert next_words(page) == "Reading: 5 of 12 photos read"
    assert '<progress id="found-bar" max="12" value="5">' in page
    table = words_of(part_of(page, 'id="found-dial-speed"', "</table>"))
    assert "80" in table
    assert "160" not in table
    far = at.client.get(f"/jobs/{TAG}/run/{run.id}/progress").json()
    assert (far["read"], far["of"]) == (5, 12)


def test_a_whole_run_shows_verdicts_in_words_and_shapes(at: Desk):
    taken_run(at, offsets_deg={"engine": -4.0})
    page = at.get()
    engine = part_of(page, 'id="found-dial-engine"', "</section>")
    assert 'data-result="bad"' in engine
    assert "does not conform" in words_of(engine)
    speed = words_of(part_of(page, 'id="found-dial-speed"', "</section>"))
    # the programme shows 2 % and 1.5 km/h more; U is 0.39 km/h there
    assert "80 up 80.0 to 92.0 83.1 ± 0.4 km/h +3.1 ± 0.4 conforms" in speed
    assert next_words(page) == "Finish the bench check"
    assert "engine: does not conform" in words_of(
        part_of(page, 'id="part-bench_check"', "</summary>")
    )


def test_the_strip_is_a_drawing_that_may_be_kept_while_its_data_stand(at: Desk):
    taken_run(at)
    page = at.get()
    address = part_of(page, f'src="/jobs/{TAG}/strips/found/speed.svg', '"')
    svg = at.client.get(f"/jobs/{TAG}/strips/found/speed.svg{address}")
    assert svg.headers["content-type"].startswith("image/svg+xml")
    assert svg.text.startswith("<svg")
    assert "immutable" in svg.headers["cache-control"]
    assert (
        "no-cache" in at.client.get(f"/jobs/{TAG}/strips/found/speed.svg").headers["cache-control"]
    )
    assert at.client.get(f"/jobs/{TAG}/strips/found/none.svg").status_code == 404


def test_a_rejected_reading_is_not_read_and_says_by_whom_and_why(at: Desk):
    run = taken_run(at)
    reading = next(r for r in run.photos[3].readings if r.dial == "speed")
    bare = at.script(f"/jobs/{TAG}/readings/{reading.id}/reject", {"why": " "})
    assert bare.status_code == 422
    at.post(f"/jobs/{TAG}/readings/{reading.id}/reject", {"why": "a finger on the lens"})
    page = at.get()
    step = words_of(part_of(page, 'id="found-step-3"', 'id="found-step-4"'))
    assert "speed rejected: a finger on the lens" in step
    table = words_of(part_of(page, 'id="found-dial-speed"', "</table>"))
    assert "not read: rejected" in table
    why = at.get(f"/jobs/{TAG}/why/found/speed/3")
    assert "Rejected by R. Example: a finger on the lens" in why
    at.post(f"/jobs/{TAG}/undo")
    assert "rejected" not in words_of(part_of(at.get(), 'id="found-dial-speed"', "</table>"))


def test_a_photo_is_taken_again_in_its_place(at: Desk):
    run = taken_run(at)
    unusable(at, run.photos[2])
    page = at.get()
    assert next_words(page) == "Photograph step 2 again"
    assert "is no picture" in part_of(page, 'id="found-step-2"', 'id="found-step-3"')
    files = {"photo": ("better.jpg", BytesIO(picture(777)), "image/jpeg")}
    answer = at.script(f"/jobs/{TAG}/run/{run.id}/photos/{run.photos[2].id}/again", {}, files=files)
    assert answer.is_success
    now = run_of(at)
    assert next(p for p in now.photos if p.step == 2).name == "better.jpg"
    assert [p.id for p in now.older_photos] == [run.photos[2].id]
    assert next_words(at.get()) == "Reading: 11 of 12 photos read"


def test_one_picture_for_two_steps_is_refused_where_it_was_added(at: Desk):
    fields = typed_lines([{"approach": "rest"}, {"approach": "up", "told-speed": "40"}])
    at.post(f"/jobs/{TAG}/runs/found/steps", fields)
    run = run_of(at)
    for step, status in (("0", 303), ("1", 422)):
        files = {"photo": ("same.jpg", BytesIO(picture(9)), "image/jpeg")}
        answer = at.post(f"/jobs/{TAG}/run/{run.id}/photos", {"step": step}, files=files)
        assert answer.status_code == status
    place = part_of(answer.text, 'data-wrong-of="found-photo-1"', "</li>")
    assert "the same picture as same.jpg at step 0" in place


def test_a_run_set_aside_says_why_and_makes_room_for_another(at: Desk):
    run = taken_run(at, read=3)
    bare = at.post(f"/jobs/{TAG}/run/{run.id}/aside", {"why": ""})
    assert bare.status_code == 422
    at.post(f"/jobs/{TAG}/run/{run.id}/aside", {"why": "wrong unit was commanded"})
    page = at.get()
    assert next_words(page) == "Start the run as found"
    assert "Run as-found was set aside: wrong unit was commanded" in words_of(page)


def test_the_steps_of_a_run_are_corrected_and_its_photos_stay(at: Desk):
    run = taken_run(at)
    page = at.get(f"/jobs/{TAG}/run/{run.id}/steps")
    assert 'name="step-4-told-speed"' in page
    rows = [
        {"approach": "rest"},
        *({"approach": "up", "told-speed": str(v)} for v in (0, 45, 80, 120, 160, 200)),
    ]
    answer = at.post(f"/jobs/{TAG}/run/{run.id}/steps", typed_lines(rows))
    assert answer.status_code == 303
    now = run_of(at)
    assert [r.commanded for r in now.told if r.step == 2] == [45]
    assert len(now.photos) == 12


def test_a_number_says_why_with_inputs_formula_source_and_picture(at: Desk):
    run = taken_run(at)
    page = at.get(f"/jobs/{TAG}/why/found/speed/3")
    said = words_of(page)
    assert "speed at 80 up, as found" in said
    # marks of 20 km/h; the fitted direction is that of 83.1 km/h, and U 0.39 km/h as in the table
    assert "83.1 ± 0.4 km/h" in said
    assert "Mark 80 km/h stands at" in said
    assert "Mark 100 km/h stands at" in said
    assert "= 83.100" in said
    assert "83.100 − 80 = +3.100" in said
    assert "UN Regulation No. 39" in said
    assert "JCGM 100:2008, 5.1.2" in said
    assert "ILAC-G8:09/2019" in said
    photo = next(p for p in run.photos if p.step == 3)
    assert f"/jobs/{TAG}/run/{run.id}/photos/{photo.id}/speed.jpg" in page
    crop = at.client.get(f"/jobs/{TAG}/run/{run.id}/photos/{photo.id}/speed.jpg")
    assert crop.headers["content-type"] == "image/jpeg"
    assert crop.content[:2] == b"\xff\xd8"


def test_a_dial_says_why_by_its_worst_row_and_its_rule(at: Desk):
    taken_run(at, offsets_deg={"engine": -4.0})
    said = words_of(at.get(f"/jobs/{TAG}/why-dial/found/speed"))
    assert "Check points 40, 80, 120" in said
    assert "speed: conforms" in said


@pytest.mark.parametrize("place", ["why/found/speed/99", "why/found/none/0", "why-dial/left/speed"])
def test_there_is_no_why_of_what_is_not_there(at: Desk, place):
    taken_run(at, read=2)
    assert at.client.get(f"/jobs/{TAG}/{place}").status_code == 404


def test_the_reading_of_a_run_is_stopped_and_goes_on_when_asked(at: Desk):
    run = taken_run(at, read=5)
    page = at.get()
    assert "Read the rest" not in page
    assert "Stop reading this run" in part_of(page, 'id="found-run"', "</section>")
    stopped = at.post(f"/jobs/{TAG}/run/{run.id}/stop-reading")
    assert (stopped.status_code, stopped.headers["location"]) == (303, f"/jobs/{TAG}#found-run")
    page = at.get()
    assert next_words(page) == "Read the rest of the photos"
    assert "Reading is stopped: 5 of 12 photos read" in page
    assert "Stop reading this run" not in page
    assert "not read yet" in words_of(part_of(page, 'id="found-step-7"', 'id="found-step-8"'))
    assert photos_to_read(at.shop) == ()
    twice = at.post(f"/jobs/{TAG}/run/{run.id}/stop-reading")
    assert twice.status_code == 422
    place = part_of(twice.text, 'data-wrong-of="found-reading"', "</form>")
    assert "the reading is stopped already" in place
    assert at.post(f"/jobs/{TAG}/run/{run.id}/read-on").status_code == 303
    assert next_words(at.get()) == "Reading: 5 of 12 photos read"
    assert len(photos_to_read(at.shop)) == 7
    unread = at.script(f"/jobs/{TAG}/run/{run.id}/read-on")
    assert unread.status_code == 422
    assert "the reading is not stopped" in str(unread.json()["error"])
