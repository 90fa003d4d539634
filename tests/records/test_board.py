"""Photos of a board and the pins on them: kept, changed, undone, refused in one sentence."""

import pytest

from needlewright.errors import ConflictError, JobError, PictureError, RecordError
from needlewright.records.board import (
    add_board_photo,
    board_of,
    take_job_photo,
    withdraw_board_photo,
)
from needlewright.records.board_pins import change_pin, remove_pin, set_pin
from needlewright.records.intake import add_job_photo
from needlewright.records.undo import history, undo_last
from records.benches import ANNA, BERT, bench, jpeg, new

TAG = "T-77"


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        new(one)
        yield one


@pytest.fixture
def front(opened):
    return add_board_photo(
        opened, TAG, jpeg(1), "front.png", ANNA, side="front", moment="before"
    ).id


def pins(opened):
    return [
        (p.pin.number, p.pin.what, p.pin.state, p.pin.x, p.by) for p in board_of(opened, TAG).pins
    ]


CRACKED = {"what": "joint", "state": "cracked", "x": 0.25, "y": 0.5, "part": "supply"}


def test_pins_are_set_moved_changed_taken_off_and_each_is_undone(opened, front):
    set_pin(opened, TAG, front, CRACKED, ANNA)
    change_pin(opened, TAG, 1, {"x": 0.3, "y": 0.5}, BERT)
    change_pin(opened, TAG, 1, {"state": "lifted", "note": "ring round the pin"}, BERT)
    remove_pin(opened, TAG, 1, ANNA)
    assert pins(opened) == []
    assert [edit.what for edit in history(opened, TAG)][:4] == [
        "board: pin 1 removed",
        "board: joint lifted (pin 1)",
        "board: pin 1 moved",
        "board: joint cracked (pin 1)",
    ]
    seen = []
    for _ in range(4):
        undo_last(opened, TAG, ANNA)
        seen.append(pins(opened))
    assert seen == [
        [(1, "joint", "lifted", 0.3, ANNA)],
        [(1, "joint", "cracked", 0.3, ANNA)],
        [(1, "joint", "cracked", 0.25, ANNA)],
        [],
    ]
    assert set_pin(opened, TAG, front, CRACKED, ANNA).pin.number == 2  # never given twice


def test_a_pin_after_the_work_answers_one_of_before(opened, front):
    after = add_board_photo(
        opened, TAG, jpeg(2), "after.png", ANNA, side="front", moment="after"
    ).id
    set_pin(opened, TAG, front, CRACKED, ANNA)
    mended = set_pin(opened, TAG, after, {**CRACKED, "state": "ok", "of": 1}, BERT)
    assert (mended.pin.of, mended.pin.moment) == (1, "after")
    with pytest.raises(RecordError, match="pin 2 says what became of pin 1; remove pin 2 first"):
        remove_pin(opened, TAG, 1, ANNA)
    withdraw_board_photo(opened, TAG, front, ANNA)
    assert [(p.pin.number, p.pin.of) for p in board_of(opened, TAG).pins] == [(2, None)]
    undo_last(opened, TAG, ANNA)
    assert [(p.pin.number, p.pin.of) for p in board_of(opened, TAG).pins] == [(1, None), (2, 1)]


def test_a_photo_the_job_has_already_is_taken_for_the_board(opened):
    photo = add_job_photo(opened, TAG, jpeg(3), "box.png", ANNA, stage="received", kind="other")
    taken = take_job_photo(opened, TAG, photo.id, BERT, side="back", moment="before")
    assert (taken.sha256, taken.name, taken.side, taken.by) == (
        photo.sha256,
        "box.png",
        "back",
        BERT,
    )
    with pytest.raises(RecordError, match="the same photo as the one of the back before the work"):
        take_job_photo(opened, TAG, photo.id, BERT, side="front", moment="after")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"x": 1.02}, r"pin 1: lies outside the photo \(x = 1.02; 0 to 1 is inside\)"),
        ({"x": None}, "has one of x and y"),
        ({"x": float("nan")}, "x: expected"),
        ({"state": "restored"}, "a joint is not 'restored', only coating is"),
        ({"x": None, "y": None}, "'cracked' is said of one place; set the pin on the photo"),
        ({"part": "movement"}, "name the dial"),
        ({"dial": "speed"}, "choose another part"),
        ({"what": "chip"}, "what: expected"),
        ({"of": 1}, "cannot say what became of pin 1|has no pin 1"),
        ({"colour": "green"}, "the field 'colour' is not known"),
    ],
)
def test_a_pin_that_cannot_be_meant_is_refused_and_nothing_is_kept(opened, front, changed, said):
    with pytest.raises((JobError, RecordError), match=said):
        set_pin(opened, TAG, front, {**CRACKED, **changed}, ANNA)
    assert pins(opened) == []


def test_what_cannot_be_a_photo_of_the_board_is_refused(opened, front):
    with pytest.raises(PictureError, match=r"words\.png: is not a picture"):
        add_board_photo(opened, TAG, b"words", "words.png", ANNA, side="back", moment="before")
    with pytest.raises(RecordError, match=r"twice\.png is the same photo as the one of the front"):
        add_board_photo(opened, TAG, jpeg(1), "twice.png", ANNA, side="front", moment="after")
    with pytest.raises(JobError, match="side: expected"):
        add_board_photo(opened, TAG, jpeg(4), "edge.png", ANNA, side="edge", moment="after")
    with pytest.raises(RecordError, match="its board has no photo 99"):
        set_pin(opened, TAG, 99, CRACKED, ANNA)
    with pytest.raises(RecordError, match="its board has no pin 7"):
        change_pin(opened, TAG, 7, {"state": "ok"}, ANNA)


def test_two_people_who_say_different_things_of_one_pin_are_told(opened, front):
    set_pin(opened, TAG, front, CRACKED, ANNA)
    seen = board_of(opened, TAG).version
    change_pin(opened, TAG, 1, {"state": "lifted"}, ANNA, seen=seen)
    with pytest.raises(ConflictError):
        change_pin(opened, TAG, 1, {"state": "ok"}, BERT, seen=seen)
    assert pins(opened)[0][2] == "lifted"
