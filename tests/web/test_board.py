"""The board's place by plain requests: photos, pins, comparing, and what is refused."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from needlewright.readings.board.changes import ChangedPlace
from needlewright.records.board import add_board_photo, board_of
from needlewright.records.intake import add_job_photo
from needlewright.web.board_pictures import merged
from readings.drawn_boards import DAMAGES, after_shot, before_shot
from web.sheet_desk import BY, TAG, Desk, desk

HERE = f"/jobs/{TAG}/board"
CRACKED = {"what": "joint", "state": "cracked", "x": 0.3, "y": 0.4, "part": "supply"}


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path) as opened:
        yield opened


def photo(one: Desk, content: bytes, side: str, moment: str) -> int:
    return add_board_photo(
        one.shop, TAG, content, f"{side} {moment}.png", BY, side=side, moment=moment
    ).id


def act(one: Desk, path: str, json: dict | None = None):
    headers = {"accept": "application/json", "x-form-token": one.token()}
    return one.client.post(f"{HERE}/{path}", json=json or {}, headers=headers)


def test_the_sheet_leads_to_the_board_and_says_how_far_it_is(one):
    assert "Inspect the board" in one.get()
    png = before_shot().png
    answer = one.post(
        f"{HERE}/photos",
        {"side": "back", "moment": "before"},
        files={"photo": ("a/b.png", png, "image/png")},
    )
    assert (answer.status_code, answer.headers["location"]) == (303, f"{HERE}?side=back&before=1")
    page = one.get(f"{HERE}?side=back")
    assert page.count("not looked at yet</span>") == 6
    assert "Nobody has looked at" not in page, "once is enough"
    assert "Supply off and unplugged" in page
    picture = one.client.get(f"{HERE}/photos/1.jpg")
    assert (picture.status_code, picture.headers["content-type"]) == (200, "image/jpeg")
    assert act(one, "pins", {"photo": 1, "pin": CRACKED}).status_code == 200
    assert "1 photo, 1 pin, 1 bad; 7 open points" in one.get()


def test_pins_are_set_changed_taken_off_and_undone(one):
    first = photo(one, before_shot().png, "front", "before")
    state = act(one, "pins", {"photo": first, "pin": CRACKED}).json()
    assert (state["picked"], state["pins"][0]["words"]) == (1, "joint of the supply: cracked")
    moved = act(one, "pins/1", {"pin": {"x": 0.5, "y": 0.4}, "seen": state["version"]}).json()
    assert moved["pins"][0]["x"] == 0.5
    assert moved["undo"]["what"] == "pin 1 moved"
    assert act(one, "undo", {"seen": state["version"]}).status_code == 409
    undone = act(one, "undo", {"seen": moved["version"]}).json()
    assert undone["pins"][0]["x"] == 0.3
    assert act(one, "pins/1/off").json()["pins"] == []


def test_all_of_a_kind_is_said_once(one):
    first = photo(one, before_shot().png, "front", "before")
    sound = {"photo": first, "pin": {"what": "via", "state": "ok"}}
    once, again = act(one, "pins", sound).json(), act(one, "pins", sound).json()
    assert len(once["pins"]) == len(again["pins"]) == 1
    assert again["version"] == once["version"]
    joints = {"photo": first, "pin": {"what": "joint", "state": "ok"}}
    assert len(act(one, "pins", joints).json()["pins"]) == 2


def test_places_whose_frames_meet_are_one():
    def place(left: float, score: float) -> ChangedPlace:
        return ChangedPlace(left, 0.5, 0.1, 0.1, score, 0.0)

    apart, whole = merged([place(0.1, 3.0), place(0.7, 9.0), place(0.32, 2.0), place(0.2, 1.0)])
    assert (apart.left, apart.score) == (0.7, 9.0)
    assert (whole.left, whole.width, whole.score) == pytest.approx((0.1, 0.32, 3.0))


def test_a_photo_of_the_job_is_used_and_two_are_laid_over_each_other(one):
    before = photo(one, before_shot().png, "front", "before")
    job = add_job_photo(
        one.shop, TAG, after_shot().png, "left.png", BY, stage="returned", kind="other"
    )
    answer = one.post(f"{HERE}/photos", {"side": "front", "moment": "after", "job_photo": job.id})
    assert answer.status_code == 303
    after = board_of(one.shop, TAG).photos[-1].id
    found = one.client.get(f"{HERE}/compare/{before}/{after}").json()
    assert len(found["places"]) >= 2
    x, y = before_shot().share(DAMAGES[0])
    there = [row[0] * x + row[1] * y + row[2] for row in found["to_after"]]
    place = found["places"][0]["after"]
    assert place["left"] - 0.02 < there[0] / there[2] < place["left"] + place["width"] + 0.02
    laid = one.client.get(f"{HERE}/laid/{before}/{after}.jpg")
    assert (laid.status_code, laid.headers["content-type"]) == (200, "image/jpeg")


def test_sides_that_are_mixed_up_and_other_mistakes_are_one_sentence(one):
    front = photo(one, before_shot().png, "front", "before")
    photo(one, before_shot("back").png, "back", "before")
    wrong = photo(one, after_shot("back").png, "front", "after")
    answer = one.client.get(
        f"{HERE}/compare/{front}/{wrong}", headers={"accept": "application/json"}
    )
    assert answer.status_code == 422
    said = " ".join(answer.json()["error"].values())
    assert "shows the back, as back before.png does, not the front" in said
    for pin, words in (
        ({**CRACKED, "x": 1.5}, "lies outside the photo"),
        ({**CRACKED, "part": "movement", "dial": "oil"}, "no dial 'oil'"),
        ({**CRACKED, "state": "restored"}, "only coating is"),
    ):
        answer = act(one, "pins", {"photo": front, "pin": pin})
        assert answer.status_code == 422
        assert words in str(answer.json()["error"])
    again = one.post(
        f"{HERE}/photos",
        {"side": "front", "moment": "after"},
        files={"photo": ("again.png", before_shot().png, "image/png")},
    )
    assert again.status_code == 422
    assert "the same photo as the one of the front before the work" in again.text
    none = one.post(f"{HERE}/photos", {"side": "front", "moment": "after"})
    assert "no photo was chosen" in none.text
    assert one.client.get(f"{HERE}/photos/99.jpg").status_code == 404
