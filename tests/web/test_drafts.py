"""Drafts of families over the page: taps in, a family out, undo throughout, nothing typed lost."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from needlewright.errors import FamilyError
from needlewright.families.folder import check_family
from needlewright.records.families import families, load_version
from needlewright.web import drafts_store
from needlewright.web.drafts_desk import ENDED
from needlewright.web.drafts_progress import WEIGHTS, WRITING, Teller, told_in
from needlewright.web.drafts_store import MOST_DISCARDED
from needlewright.web.drafts_typed import TypedForm
from needlewright.web.drafts_written import read_change, read_draft
from web.bench_page import ANNA, page
from web.drafting_page import FUEL, SPEED, Drafting, drafting, photo_of, typed_form


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with one draft, drafted in a process of its own as every one is at the bench."""
    folder = tmp_path_factory.mktemp("drafts") / "shop"
    with page(folder) as browser:
        draft = Drafting(browser, photo_of())
        draft.send("typed", typed=typed_form())
        assert draft.send("draft").status_code == 200
        assert draft.look()["wrongs"] == []
    return folder


@pytest.fixture
def drafted(whole: Path, tmp_path: Path) -> Iterator[Drafting]:
    folder = tmp_path / "shop"
    shutil.copytree(whole, folder)
    with drafting(folder) as browser:
        draft = Drafting.__new__(Drafting)
        draft.browser = browser
        (one,) = browser.house.drafts.store.every()
        draft.at = f"/drafts/{one['id']}"
        draft.look()
        yield draft


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Drafting]:
    with drafting(tmp_path / "shop") as browser:
        yield Drafting(browser, photo_of())


def test_what_is_found_stands_where_the_photo_has_it(drafted: Drafting) -> None:
    found = drafted.state["found"]
    assert not found["is_old"]
    speed, fuel = found["dials"]
    assert [m["value"] for m in speed["marks"] if m["value"] is not None] == list(SPEED.values)
    assert [m["value"] for m in fuel["marks"] if m["value"] is not None] == list(FUEL.values)
    apart = [a - b for a, b in zip(speed["centre_mm"], fuel["centre_mm"], strict=True)]
    assert (apart[0] ** 2 + apart[1] ** 2) ** 0.5 == pytest.approx(54.4, abs=1e-6)
    assert speed["line_rms_mm"] < 0.1
    store = drafted.browser.house.drafts.store
    (kept,) = store.every()
    draft = read_draft(store.result(kept["id"], kept["history"][kept["at"]]["result"]))
    at = draft.projection.to_photo(np.array(draft.dials[0].centre_mm))
    # the picture's middle is the drawn plane's origin
    assert at == pytest.approx([319.5 + SPEED.centre[0], 199.5 + SPEED.centre[1]], abs=0.2)


def test_every_change_is_made_and_undone_to_the_first_tap(drafted: Drafting) -> None:
    first = drafted.state["found"]["dials"][0]
    mark = first["marks"][4]["angle_deg"]
    for change in (
        {"kind": "MoveMark", "dial": "speed", "mark": 4, "angle_deg": mark + 1.5},
        {"kind": "MoveCentre", "dial": "speed", "centre_mm": [30.0, 40.0]},
        {"kind": "TypeValue", "dial": "speed", "mark": 4, "value": 42.0},
        {"kind": "AddMark", "dial": "speed", "angle_deg": mark + 3.0, "value": None},
        {"kind": "DeleteMark", "dial": "speed", "mark": 5},
        {"kind": "TypeNeedle", "dial": "speed", "measure": "length_mm", "value": 21.5},
        {"kind": "TypeRest", "dial": "speed", "angle_deg": -118.0, "pin": True},
        {"kind": "Rename", "dial": "speed", "id": "kmh", "quantity": "speed", "unit": "km/h"},
    ):
        assert drafted.send("change", change=change).status_code == 200, change
    last = drafted.state["found"]["dials"][0]
    assert last["id"] == "kmh"
    assert last["centre_mm"] == [30.0, 40.0]
    assert last["needle"]["length_mm"] == 21.5
    assert (last["rest_angle_deg"], last["rest_pin"]) == (-118.0, True)
    assert len(last["marks"]) == len(first["marks"])
    for _ in range(8):
        drafted.send("undo")
    assert drafted.state["found"]["dials"][0] == first
    drafted.send("undo")  # the drafting itself
    assert drafted.state["found"] is None
    assert drafted.state["typed"]["dials"][0]["id"] == "speed"
    drafted.send("undo")  # what was tapped and typed
    assert drafted.state["typed"]["dials"] == []
    assert not drafted.state["can_undo"]
    for _ in range(10):
        drafted.send("redo")
    assert drafted.state["found"]["dials"][0] == last
    assert not drafted.state["can_redo"]


def test_old_states_are_let_go_and_their_changes_stay(
    drafted: Drafting, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drafts_store, "MOST_STATES", 4)
    angle = drafted.state["found"]["dials"][0]["marks"][4]["angle_deg"]
    for mark in (1, 2, 3, 4, 5, 6):
        change = {"kind": "DeleteMark", "dial": "speed", "mark": mark}
        drafted.send("change", change=change)
    last = drafted.state["found"]
    assert last["changes"] == 6
    assert len(last["dials"][0]["marks"]) == 19 - 6
    for _ in range(6):
        drafted.send("undo")
    assert drafted.state["found"]["changes"] == 3
    assert angle in [mark["angle_deg"] for mark in drafted.state["found"]["dials"][0]["marks"]]
    for _ in range(6):
        drafted.send("redo")
    assert drafted.state["found"] == last


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"kind": "DeleteMark", "dial": "speed", "mark": 99}, "there is no 99"),
        ({"kind": "MoveMark", "dial": "none", "mark": 0, "angle_deg": 1.0}, "no dial 'none'"),
        ({"kind": "MoveMark", "dial": "speed", "mark": 0}, "angle_deg"),
        ({"kind": "Explode", "dial": "speed"}, "is no change"),
        ({"kind": "TypeNeedle", "dial": "speed", "measure": "length_mm", "value": -1}, "above 0"),
        (
            {"kind": "Rename", "dial": "speed", "id": "fuel", "quantity": "q", "unit": "km/h"},
            "a dial 'fuel' already",
        ),
        *(
            ({"kind": "Rename", "dial": "speed", "id": dial, "quantity": "q", "unit": "V"}, said)
            for dial, said in (
                ("f l", "an id has no blanks"),
                ("a:b", "an id has no blanks"),
                ("#1", "no # in front"),
                ("", "1 to 64 characters"),
                ("whole", "so no dial is called that"),
            )
        ),
    ],
)
def test_a_change_that_cannot_be_made_changes_nothing(
    drafted: Drafting, change: dict[str, object], said: str
) -> None:
    before = drafted.state
    answer = drafted.send("change", change=change)
    assert answer.status_code == 422
    assert said in " ".join(answer.json()["error"].values())
    assert drafted.look() == before


def test_a_number_without_end_is_refused() -> None:
    with pytest.raises(FamilyError, match="without end"):
        read_change({"kind": "MoveMark", "dial": "a", "mark": 0, "angle_deg": float("inf")})


def test_it_is_kept_as_a_family_and_then_as_its_next_version(drafted: Drafting) -> None:
    shop = drafted.browser.shop
    assert drafted.send("keep").status_code == 200
    saved = drafted.state["saved"]
    assert (saved["name"], saved["number"]) == ("Drawn one", 1)
    family = load_version(shop, saved["version_id"])
    assert [note.kind for note in check_family(family.folder)].count("error") == 0
    assert list(family.dials[0].scale.values) == [float(v) for v in SPEED.values]
    drafted.send(
        "change", change={"kind": "TypeRest", "dial": "fuel", "angle_deg": -50.0, "pin": False}
    )
    drafted.send("keep")
    assert "keeps a family Drawn one already, at version 1" in drafted.wrongs()["name"]
    assert drafted.look()["wrongs"] != []  # a reload shows it still
    drafted.send("keep", new_version=True, note="rests lower")
    assert drafted.state["saved"]["number"] == 2
    (kept,) = [one for one in families(shop) if one.name == "Drawn one"]
    assert (kept.number, kept.note) == (2, "rests lower")


def test_what_the_check_refuses_stands_at_its_dial(drafted: Drafting) -> None:
    tail = {"kind": "TypeNeedle", "dial": "fuel", "measure": "tail_mm", "value": 90.0}
    assert drafted.send("change", change=tail).status_code == 200
    rest = {"kind": "TypeRest", "dial": "speed", "angle_deg": 170.0, "pin": False}
    drafted.send("change", change=rest)
    drafted.send("keep")
    assert set(drafted.wrongs()) == {"found:0:rest", "found:1:tail_mm"}  # each at its field
    assert "expected less than the needle's length_mm" in drafted.wrongs()["found:1:tail_mm"]
    assert drafted.state["saved"] is None


def test_everything_missing_is_said_beside_its_place_at_once(fresh: Drafting) -> None:
    form = typed_form()
    speed, fuel = form["dials"]
    speed |= {"id": " ", "unit": "furlong", "hub": None}
    speed["marks"][1]["value"] = "18o"
    fuel["marks"][1]["value"] = fuel["marks"][0]["value"]
    form |= {"name": "", "length": "none", "between": ["d1", "d1"]}
    fresh.send("typed", typed=form)
    fresh.send("draft")
    assert set(fresh.wrongs()) == {
        "name",
        "length",
        "between",
        "dial:d1:id",
        "dial:d1:unit",
        "dial:d1:hub",
        "dial:d1:mark:1",
        "dial:d2:mark:1",
    }
    assert "not a number" in fresh.wrongs()["dial:d1:mark:1"]
    assert "has the value 0 already" in fresh.wrongs()["dial:d2:mark:1"]
    assert fresh.look()["typed"]["dials"][0]["marks"][1]["value"] == "18o"


def test_a_tap_on_nothing_is_said_at_its_dial_and_stays(fresh: Drafting) -> None:
    form = typed_form()
    form["dials"][1]["marks"][0]["at"] = [320.0, 390.0]
    fresh.send("typed", typed=form)
    fresh.send("draft")
    fresh.look()
    assert "dial 'fuel'" in fresh.wrongs()["dial:d2"]
    assert fresh.state["typed"]["dials"][1]["marks"][0]["at"] == [320.0, 390.0]
    assert fresh.state["found"] is None


def test_a_process_that_dies_leaves_what_was_typed(fresh: Drafting) -> None:
    fresh.browser.house.drafts.run = lambda job, folder, stopped: None
    fresh.send("typed", typed=typed_form())
    fresh.send("draft")
    fresh.look()
    assert fresh.wrongs() == {"": ENDED}
    assert len(fresh.state["typed"]["dials"]) == 2


def test_a_drafting_is_stopped(fresh: Drafting) -> None:
    fresh.browser.house.drafts.run = lambda job, folder, stopped: stopped.wait() and None
    fresh.send("typed", typed=typed_form())
    fresh.send("draft")
    assert fresh.state["far"]["doing"] in ("waiting", "opening")
    assert fresh.send("draft").status_code == 409
    far = fresh.browser.send("GET", f"{fresh.at}/progress").json()["far"]
    assert (far["done"], far["share"], far["left_s"]) == (0, 0.0, None)
    assert fresh.send("stop").status_code == 200
    assert fresh.state["far"] is None
    assert (fresh.state["wrongs"], fresh.state["found"]) == ([], None)


def test_how_far_it_is_is_told_and_where_the_needles_stand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[tuple[str, float]] = []
    say = Teller.__call__

    def listening(self: Teller, doing: str, done: int, of: int) -> None:
        say(self, doing, done, of)
        told.append((doing, self.share(doing, done, of)))

    monkeypatch.setattr(Teller, "__call__", listening)
    angles = ({"speed": -68.0, "fuel": -4.0}, {"speed": 40.0, "fuel": 30.0})
    with drafting(tmp_path / "shop") as browser:
        draft = Drafting(browser, *(photo_of(needles_deg=one) for one in angles))
        resting = draft.state["photos"][0]["id"]
        draft.send("typed", typed=typed_form() | {"bare": False, "at_rest": [resting]})
        draft.send("draft")
        found = draft.look()["found"]
        draft.send("typed", typed=draft.state["typed"] | {"at_rest": []})
        assert draft.state["found"]["is_old"]  # what is measured depends on the tick
        draft.send("undo")
        assert not draft.state["found"]["is_old"]
    assert list(dict.fromkeys(doing for doing, _ in told)) == list(WEIGHTS)
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert shares[0] == 0.0
    assert 0.9 < shares[-1] < 1.0  # the writing is yet to be done
    turned = float(np.degrees(np.arctan2(24.3, 270.9)))  # level is the line between the dials
    for photo, true in zip(found["needles"], angles, strict=True):
        stand = {one["dial"]: one for one in photo["needles"]}
        for dial, angle in true.items():
            assert stand[dial]["angle_deg"] == pytest.approx(angle - turned, abs=0.3)
    assert found["at_rest"] == ["p0.png"]
    for dial, (name, angle) in zip(found["dials"], angles[0].items(), strict=True):
        assert (dial["id"], dial["rest_source"]) == (name, "measured")
        assert dial["rest_angle_deg"] == pytest.approx(angle - turned, abs=0.3)
    speed = found["needles"][1]["needles"][0]
    # the drawn scale is even: 20 km/h in 26 degrees from -120
    assert speed["value"] == pytest.approx((40.0 + 120.0) / 26.0 * 20.0, abs=0.4)


@pytest.mark.parametrize(
    ("photos", "bare", "scan", "left_out"),
    [
        (1, True, False, {"pictures", "again", "needles"}),
        (1, False, True, {"pictures", "again", "needles"}),
        (1, False, False, {"pictures", "again"}),
        (2, True, False, {"again"}),
    ],
)
def test_what_is_not_to_be_done_takes_no_share(
    tmp_path: Path, photos: int, bare: bool, scan: bool, left_out: set[str]
) -> None:
    tell = Teller(tmp_path, 2, photos, bare=bare, scan=scan)
    for stage in left_out:
        assert tell.share(stage, 0, 1) == tell.share(stage, 1, 1)
    assert tell.share(WRITING, 1, 1) == pytest.approx(1.0)
    assert told_in(tmp_path) is None
    tell("marks", 10, 10)
    now = told_in(tmp_path)
    assert now is not None
    assert (now.doing, now.done, now.of) == ("marks", 10, 10)
    assert now.left_s is not None


def test_another_window_is_not_written_over(fresh: Drafting) -> None:
    old = dict(fresh.state)
    fresh.send("typed", typed=typed_form())
    fresh.state = {**fresh.state, "serial": old["serial"]}
    answer = fresh.send("typed", typed=typed_form() | {"name": "other"})
    assert answer.status_code == 409
    assert "another window" in answer.json()["error"]["what"]
    assert fresh.look()["typed"]["name"] == "Drawn one"


def test_photos_are_guarded_named_and_left_out(fresh: Drafting) -> None:
    browser = fresh.browser
    bad = browser.post("/drafts", {"name": "Kept text"}, files={"photos": ("x.png", b"no", "i/p")})
    assert bad.status_code == 422
    assert "x.png" in bad.text
    assert "is not a picture" in bad.text
    assert 'value="Kept text"' in bad.text
    assert str(browser.shop.folder) not in bad.text
    assert len(browser.house.drafts.store.every()) == 1
    files = [("photos", ("p0.png", photo_of(), "i/p")), ("photos", ("y.png", b"no", "i/p"))]
    headers = {"Accept": "application/json"}
    answer = browser.post(f"{fresh.at}/photos", files=files, headers=headers)
    assert answer.status_code == 422
    assert "y.png" in answer.json()["error"]["where"]
    photos = fresh.look()["photos"]
    assert [one["name"] for one in photos] == ["p0.png", "p0.png (2)"]
    shown = browser.get(f"{fresh.at}/photos/{photos[1]['id']}")
    assert shown.headers["content-type"] == "image/jpeg"
    assert fresh.send(f"photos/{photos[0]['id']}/leave-out").status_code == 422
    fresh.send(f"photos/{photos[1]['id']}/leave-out")
    assert len(fresh.state["photos"]) == 1
    fresh.send("undo")
    assert len(fresh.state["photos"]) == 2


@pytest.mark.parametrize(
    ("typed", "resting"),
    [
        ({}, ["a" * 12, "c" * 12]),
        ({"bare": True}, ["c" * 12]),  # no needle is on it
        ({"size": "dpi"}, ["c" * 12]),  # none of a scan is measured
    ],
)
def test_needles_rest_in_photos_of_the_draft_that_show_some(
    typed: dict[str, Any], resting: list[str]
) -> None:
    photos = ["a" * 12, "b" * 12, "c" * 12]
    ticked = {"at_rest": ["a" * 12, "c" * 12, "d" * 12]}  # the last was left out since
    assert TypedForm.model_validate(ticked | typed).rests_in(photos) == resting


@pytest.mark.parametrize("draft_id", ["1", "0" * 12, "%2e%2e%2fshop"])
def test_no_other_draft_and_no_other_folder(fresh: Drafting, draft_id: str) -> None:
    assert fresh.browser.get(f"/drafts/{draft_id}/state").status_code == 404
    assert fresh.browser.get(f"{fresh.at}/photos/{draft_id}").status_code == 404


def test_a_draft_outlives_the_page_and_is_listed(whole: Path, tmp_path: Path) -> None:
    shutil.copytree(whole, tmp_path / "shop")
    with page(tmp_path / "shop") as browser:
        listed = browser.get("/drafts").text
        assert "Dials found: speed, fuel" in listed
        (one,) = browser.house.drafts.store.every()
        assert "draft-state" in browser.get(f"/drafts/{one['id']}").text
        assert 'href="/drafts"' in browser.get("/families").text
        assert browser.post(f"/drafts/{one['id']}/discard").headers["location"] == "/drafts"
        listed = browser.get("/drafts").text
        assert "Drafts in hand" not in listed
        assert "Discarded drafts" in listed
        back = browser.post(f"/drafts/{one['id']}/bring-back")
        assert back.headers["location"] == f"/drafts/{one['id']}"
        assert "Dials found: speed, fuel" in browser.get("/drafts").text


def test_of_many_discarded_drafts_the_oldest_goes(fresh: Drafting) -> None:
    store = fresh.browser.house.drafts.store
    made = [store.make(None, f"no {n}") for n in range(MOST_DISCARDED + 1)]
    for draft_id in made:
        store.discard(draft_id)
    assert not (fresh.browser.shop.folder / "drafts" / made[0]).exists()
    assert len(store.every()) == 1 + MOST_DISCARDED


def test_tapped_corners_bound_the_face(fresh: Drafting) -> None:
    form = typed_form() | {"corners": [[20.0, 50.0], None]}
    fresh.send("typed", typed=form)
    fresh.send("draft")
    assert list(fresh.wrongs()) == ["corners"]
    form |= {"corners": [[20.0, 50.0], [620.0, 350.0]], "level": [[30.0, 200.0], [600.0, 200.0]]}
    fresh.send("typed", typed=form)
    fresh.send("draft")
    found = fresh.look()["found"]
    # 600 x 300 px at 5 px a millimetre, within how well the drawn face's millimetres are found
    assert found["face_size_mm"] == pytest.approx([120.0, 60.0], abs=0.5)


def test_a_damaged_draft_is_said_and_hides_no_other(fresh: Drafting) -> None:
    store = fresh.browser.house.drafts.store
    draft_id = fresh.at.rpartition("/")[2]
    (store.folder(draft_id) / "state.json").write_text(json.dumps({"at": 5, "history": []}))
    answer = fresh.browser.get(fresh.at)
    assert answer.status_code == 422
    assert "is damaged" in answer.text
    assert fresh.browser.get("/drafts").status_code == 200
    assert ANNA in fresh.browser.get("/drafts").text
