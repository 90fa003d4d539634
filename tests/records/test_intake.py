"""How a cluster comes in: written down, photographed, and held against what it should be."""

from datetime import date

import pytest

from needlewright.errors import JobError, NotThereError, PictureError, RecordError
from needlewright.records import intake, jobs, stages
from needlewright.records.runs import start_run
from needlewright.records.sheet import job_sheet
from records.benches import ANNA, BERT, RECEIVED, bench, jpeg, new, told


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        new(one)
        yield one


def test_what_came_in_is_kept_as_it_was_said(opened):
    contents = [
        {"what": "cluster", "ticked": True},
        {"what": "lens screws", "ticked": False, "note": "two missing"},
    ]
    sheet = intake.receive(opened, "T-77", RECEIVED | {"contents": contents}, ANNA)
    got = sheet.received
    assert (got.day, got.sender, got.packing) == (date(2026, 3, 2), "C. Ustomer", "double box")
    assert [(i.what, i.ticked, i.note) for i in got.contents] == [
        ("cluster", True, ""),
        ("lens screws", False, "two missing"),
    ]
    assert [(c.what, c.ok) for c in got.checks] == [
        ("family", True),
        ("variant", True),
        ("face", True),
        ("connector", True),
    ]
    assert sheet.odometer_in == 184213
    received = sheet.stage_of("received")
    assert (received.state, received.started_by) == ("in_hand", ANNA)


def test_fields_come_one_by_one_and_what_is_missing_is_said(opened):
    assert stages.what_is_missing(opened, "T-77", "received") == (
        "the sender is not stated",
        "what was in the box is not ticked off",
        "the condition is not stated",
        "the odometer is not recorded: state the mileage, or that none is fitted, or why it cannot "
        "be read yet",
        "the wrong-unit check is not done for: family, variant, km/h or mph face, connector",
    )
    for field, value in RECEIVED.items():
        intake.receive(opened, "T-77", {field: value}, ANNA)
    assert stages.what_is_missing(opened, "T-77", "received") == ()
    sheet = stages.finish_stage(opened, "T-77", "received", BERT)
    assert (sheet.stage, sheet.waits_for) == ("bench_check", "bench")
    assert sheet.stage_of("received").finished_by == BERT


def test_an_unfinished_part_says_all_that_is_missing_in_one_sentence(opened):
    with pytest.raises(RecordError) as said:
        stages.finish_stage(opened, "T-77", "received", ANNA)
    assert str(said.value).startswith("job T-77: Received cannot be finished: the sender is not")
    assert "\n" not in str(said.value)
    assert job_sheet(opened, "T-77").stage_of("received").state == "to_do"


@pytest.mark.parametrize(
    "said",
    [{"odometer_in": 0}, {"odometer_none": "a clock only"}, {"odometer_unreadable": "dark"}],
)
def test_each_way_of_recording_the_odometer_will_do(opened, said):
    typed = {k: v for k, v in RECEIVED.items() if k != "odometer_in"} | said
    intake.receive(opened, "T-77", typed, ANNA)
    assert stages.what_is_missing(opened, "T-77", "received") == ()


@pytest.mark.parametrize(
    ("typed", "kept"), [("184213,5", 184213.5), ("184\u202f213", 184213.0), (" 77.25 ", 77.25)]
)
def test_a_mileage_is_typed_by_the_one_rule(opened, typed, kept):
    intake.receive(opened, "T-77", {"odometer_in": typed}, ANNA)
    assert job_sheet(opened, "T-77").odometer_in == kept


def test_a_mileage_and_no_odometer_contradict_each_other(opened):
    with pytest.raises(RecordError, match="also that no odometer is fitted"):
        intake.receive(opened, "T-77", {"odometer_in": 5, "odometer_none": "none"}, ANNA)


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("odometer_in", -1, "odometer_in: expected the mileage, a number of 0 or more, found -1"),
        ("odometer_in", "many", "odometer_in: expected the mileage"),
        ("odometer_in", "184,213", "number of 0 or more, found '184,213'"),  # 184213 or 184.213
        ("day", "yesterday", "day: expected a day such as 2026-03-02, found 'yesterday'"),
        ("contents", [{"ticked": True}], "the field 'what' is missing"),
        ("contents", "cluster", "contents: expected a list of things"),
        ("face_ok", "perhaps", "face_ok: expected yes or no"),
        ("colour", "red", "the field 'colour' is not known"),
    ],
)
def test_a_field_that_cannot_be_used_is_named(opened, field, value, says):
    with pytest.raises(JobError) as said:
        intake.receive(opened, "T-77", {field: value, "sender": "x"}, ANNA)
    assert says in str(said.value)
    assert "\n" not in str(said.value)
    assert job_sheet(opened, "T-77").received.sender == ""


def test_no_work_before_the_cluster_is_received(opened):
    for start in (
        lambda: start_run(opened, "T-77", "found", told(), ANNA),
        lambda: stages.start_stage(opened, "T-77", "needles", ANNA),
    ):
        with pytest.raises(RecordError, match="no work before the cluster is received: finish"):
            start()


def test_a_wrong_unit_stops_the_work_until_it_is_decided(opened):
    with pytest.raises(RecordError, match="face is not ok and face_note is empty"):
        intake.receive(opened, "T-77", {"face_ok": False}, ANNA)
    wrong = RECEIVED | {"face_ok": False, "face_note": "mph face, the vehicle has km/h"}
    intake.receive(opened, "T-77", wrong, ANNA)
    stages.finish_stage(opened, "T-77", "received", ANNA)
    with pytest.raises(RecordError) as said:
        start_run(opened, "T-77", "found", told(), ANNA)
    assert "km/h or mph face not ok (mph face, the vehicle has km/h)" in str(said.value)
    assert "or write a decision to go on and why" in str(said.value)
    jobs.decide(opened, "T-77", "lamps left", "sound", ANNA)  # any decision will not do
    with pytest.raises(RecordError, match="wrong-unit check"):
        start_run(opened, "T-77", "found", told(), ANNA)
    jobs.decide(opened, "T-77", "go on", "the owner wants mph", ANNA, kind="wrong_unit")
    assert start_run(opened, "T-77", "found", told(), ANNA).name == "as-found"


def test_photos_of_the_box(opened):
    kept = intake.add_job_photo(
        opened, "T-77", jpeg(1), "IMG 1.JPG", ANNA, stage="received", kind="damage", note="corner"
    )
    assert opened.originals.read(kept.sha256) == jpeg(1)
    (photo,) = job_sheet(opened, "T-77").photos
    assert (photo.kind, photo.note, photo.by) == ("damage", "corner", ANNA)
    assert photo.name == "IMG 1.JPG"
    assert intake.withdraw_job_photo(opened, kept.id, BERT).photos == ()
    assert opened.originals.read(kept.sha256) == jpeg(1)
    with pytest.raises(NotThereError):
        intake.withdraw_job_photo(opened, 99, BERT)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "x.jpg: is empty"),
        (b"this is a text", "x.jpg: is not a picture"),
        (b"\0\0\0\x18ftypheic" + b"\0" * 50, "x.jpg: is a HEIC picture"),
        (jpeg(1)[:20], "x.jpg: "),
        (jpeg(2, 32), "at least 64 px"),
    ],
)
def test_what_is_no_picture_is_refused_by_its_own_name(opened, content, says):
    with pytest.raises(PictureError) as said:
        intake.add_job_photo(opened, "T-77", content, "x.jpg", ANNA, stage="received", kind="other")
    assert str(said.value).startswith("x.jpg: ")
    assert says in str(said.value)
    assert job_sheet(opened, "T-77").photos == ()
    assert list(opened.originals.folder.glob("*.part")) == []


@pytest.mark.parametrize("word", [{"kind": "selfie"}, {"stage": "lunch"}])
def test_words_for_photos_are_a_closed_set(opened, word):
    said = {"stage": "received", "kind": "other"} | word
    with pytest.raises(JobError):
        intake.add_job_photo(opened, "T-77", jpeg(1), "x.jpg", ANNA, **said)


def test_parts_are_started_finished_and_taken_up_again(opened):
    intake.receive(opened, "T-77", RECEIVED, ANNA)
    stages.finish_stage(opened, "T-77", "received", ANNA)
    with pytest.raises(RecordError, match="Received is finished already"):
        stages.finish_stage(opened, "T-77", "received", ANNA)
    with pytest.raises(RecordError, match="take it up again first"):
        stages.start_stage(opened, "T-77", "received", ANNA)
    with pytest.raises(RecordError, match="Needles is not finished"):
        stages.reopen_stage(opened, "T-77", "needles", ANNA)
    sheet = stages.reopen_stage(opened, "T-77", "received", BERT)
    assert (sheet.stage, sheet.stage_of("received").state) == ("received", "in_hand")
    with pytest.raises(RecordError, match="'lunch' is no part of the work"):
        stages.start_stage(opened, "T-77", "lunch", ANNA)
