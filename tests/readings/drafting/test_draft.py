"""Whole drafts of drawn faces with exact truth, and of one photo with truth."""

import errno
import json
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import get_args

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))
sys.path.insert(0, str(Path(__file__).parent))

from benchmarks.draft_cases import clicks_from_truth, offs
from drawn_face import CCW, FUEL, SPEED, clicks, drawn, marks_of, named

from needlewright.errors import FamilyError, PictureError, UnitError, UnusableInput
from needlewright.families.folder import check_family, load_family
from needlewright.readings.drafting.changed import (
    AddMark,
    DeleteMark,
    MoveCentre,
    MoveMark,
    Rename,
    TypeNeedle,
    TypeRest,
    TypeValue,
)
from needlewright.readings.drafting.changes import corrected, undone
from needlewright.readings.drafting.drafting import (
    Drafted,
    NamedPicture,
    draft_dial,
    draft_family,
)
from needlewright.readings.drafting.inputs import DraftInputs, KnownLength, TypedDial, TypedMark
from needlewright.readings.drafting.progress import Stage
from needlewright.readings.drafting.saving import save, wrongs_of
from needlewright.readings.picture import open_picture

DATA = Path(__file__).parents[2] / "data"
PX_PER_MM = 5.0
SCAN_DPI = 25.4 * PX_PER_MM


@pytest.fixture(scope="module")
def straight() -> Drafted:
    return draft_family(clicks(), named(drawn()), bare=True)


def errors_deg(drafted: Drafted, dial) -> np.ndarray:
    found = drafted.draft.dial(dial.id)
    assert [mark.value for mark in found.majors] == pytest.approx(list(dial.values))
    off = [m.angle_deg - a for m, a in zip(found.majors, dial.angles_deg, strict=True)]
    # the two dials of the drawn faces do not stand level: the photo's edges are taken
    return np.array(off)


def test_centres_marks_and_values_of_a_straight_picture(straight):
    speed, fuel = (straight.draft.dial(dial.id) for dial in (SPEED, FUEL))
    apart = np.subtract(speed.centre_mm, fuel.centre_mm)
    true = np.subtract(SPEED.centre, FUEL.centre) / PX_PER_MM
    assert np.hypot(*apart) == pytest.approx(np.hypot(*true), abs=1e-6)
    # level is taken from the line between the dials, which lies 5.1 degrees aslant here
    turned = float(np.degrees(np.arctan2(24.3, 270.9)))
    assert errors_deg(straight, SPEED) == pytest.approx(np.full(10, -turned), abs=0.06)
    assert errors_deg(straight, FUEL) == pytest.approx(np.full(5, -turned), abs=0.2)
    assert len(speed.marks) == len(marks_of(SPEED))
    assert (speed.direction, fuel.direction) == ("cw", "cw")
    assert straight.draft.tilt_deg < 1.0
    assert speed.u_centre_mm < 0.05
    assert speed.rest_angle_deg == speed.majors[0].angle_deg
    assert speed.rest_source == "assumed"
    assert "where the needle rests is not known of speed, fuel" in straight.draft.remarks[1]
    first = speed.majors[0]
    assert [first.inner_mm, first.outer_mm] == pytest.approx([0.86 * 26.0, 26.0], abs=0.1)
    past = np.array([mark.past_mm for mark in speed.marks])
    assert np.abs(past).max() < 0.5
    assert speed.line_rms_mm == pytest.approx(1.4826 * np.median(np.abs(past)))
    # with the centre 1 mm to the right, lines of marks at 12 o'clock pass it 1 mm to its left
    moved = corrected(straight.draft, MoveCentre("speed", np.add(speed.centre_mm, (1.0, 0.0))))
    top = int(np.argmin([abs(mark.angle_deg) for mark in speed.marks]))
    assert moved.dial("speed").marks[top].past_mm - past[top] == pytest.approx(-1.0, abs=0.1)


@pytest.mark.parametrize("tilt", [(0.2, -0.12)])
def test_a_picture_taken_aslant_is_laid_flat(tilt):
    drafted = draft_family(clicks(tilt=tilt), named(drawn(tilt=tilt)), bare=True)
    assert drafted.draft.tilt_deg == pytest.approx(np.degrees(np.hypot(*tilt)), abs=1.0)
    for dial, within in ((SPEED, 0.12), (FUEL, 0.3)):
        off = errors_deg(drafted, dial)
        assert off - off.mean() == pytest.approx(np.zeros(len(off)), abs=within)
    assert errors_deg(drafted, SPEED).mean() == pytest.approx(
        errors_deg(drafted, FUEL).mean(), abs=0.3
    )


def test_a_dark_scan_has_its_millimetres_from_its_resolution():
    inputs = clicks((SPEED, CCW), known=False)
    inputs = DraftInputs("scan", inputs.dials, dpi=SCAN_DPI)
    drafted = draft_family(inputs, named(drawn((SPEED, CCW), dark_on_light=True)), bare=True)
    speed, temp = (drafted.draft.dial(dial.id) for dial in (SPEED, CCW))
    apart = np.subtract(speed.centre_mm, temp.centre_mm)
    true = np.subtract(SPEED.centre, CCW.centre) / PX_PER_MM
    assert np.hypot(*apart) == pytest.approx(np.hypot(*true), abs=0.03)
    assert temp.direction == "ccw"
    assert [mark.value for mark in temp.majors] == [50.0, 90.0, 130.0]
    assert drafted.draft.tilt_deg is None
    assert drafted.draft.px_per_mm == PX_PER_MM
    # a scan's own pixels are kept: the flat face is the scan, turned level
    assert drafted.face.shape[1] == round(drafted.draft.face_size_mm[0] * PX_PER_MM)


def test_more_photos_show_the_face_under_the_needles_and_the_needles():
    first = {"speed": -68.0, "fuel": -4.0}  # both over a mark
    inputs = clicks()
    shown = [named(drawn(needles_deg=first), "1.png")]
    for i, angles in enumerate(({"speed": 40.0, "fuel": 30.0}, {"speed": -10.0, "fuel": -36.0})):
        shown.append(named(drawn(needles_deg=angles), f"{i + 2}.png"))
    told = []
    drafted = draft_family(inputs, shown[0], shown[1:], on_progress=lambda *said: told.append(said))
    assert list(dict.fromkeys(stage for stage, _, _ in told)) == list(get_args(Stage))
    for stage in get_args(Stage):
        steps = [(done, of) for name, done, of in told if name == stage]
        assert steps == [(i + 1, len(steps)) for i in range(len(steps))]
    assert [use.found for use in drafted.draft.pictures] == [True, True, True]
    turned = float(np.degrees(np.arctan2(24.3, 270.9)))  # level is the line between the dials
    assert [use.needles for use in drafted.draft.pictures] == [("speed", "fuel")] * 3
    assert [use.angles_deg for use in drafted.draft.pictures] == [
        pytest.approx((-68.0 - turned, -4.0 - turned), abs=0.3),
        pytest.approx((40.0 - turned, 30.0 - turned), abs=0.3),
        pytest.approx((-10.0 - turned, -36.0 - turned), abs=0.3),
    ]
    speed, fuel = (drafted.draft.dial(dial.id) for dial in (SPEED, FUEL))
    assert len(speed.majors) == 10
    assert [mark.value for mark in fuel.majors] == [0.0, 0.25, 0.5, 0.75, 1.0]
    assert speed.needle.length_mm == pytest.approx(0.93 * 130.0 / PX_PER_MM, abs=0.25)
    assert speed.needle.tail_mm == pytest.approx(0.25 * 130.0 / PX_PER_MM, abs=0.25)
    assert speed.needle.hub_radius_mm == pytest.approx(0.13 * 130.0 / PX_PER_MM, abs=0.5)
    assert speed.needle.base_width_mm == pytest.approx(0.035 * 130.0 / PX_PER_MM, abs=0.15)
    assert dict(speed.needle_sources)["length_mm"] == "measured"
    assert dict(speed.needle_sources)["thickness_mm"] == "assumed"
    assert fuel.needle.colour[0] > 2 * fuel.needle.colour[2], "a red needle"
    # no needle is left on the face: the red channel stands out nowhere
    red = drafted.face[..., 2].astype(int) - drafted.face[..., 0]
    assert np.mean(red > 60) < 0.001


def test_two_photos_show_the_face_under_the_needles_and_where_they_rest(straight):
    """What one photo hides the other shows: the mark, and the print all along the needle."""
    resting, other = {"speed": -126.0, "fuel": -4.0}, {"speed": -68.0, "fuel": 30.0}
    shown = [
        named(drawn(needles_deg=angles), f"{i}.png") for i, angles in enumerate((other, resting))
    ]
    drafted = draft_family(replace(clicks(), at_rest=("1.png",)), shown[0], shown[1:])
    speed, fuel = (drafted.draft.dial(dial.id) for dial in (SPEED, FUEL))
    assert [mark.source for mark in (*speed.marks, *fuel.marks)] == ["found"] * 28
    red = drafted.face[..., 2].astype(int) - drafted.face[..., 0]
    assert np.mean(red > 60) < 0.001
    same = cv2.resize(straight.face, drafted.face.shape[1::-1]).astype(int)
    hubs = np.zeros(same.shape[:2], np.uint8)
    for dial, share in ((speed, 0.17), (fuel, 0.17)):
        at = np.rint(np.multiply(dial.centre_mm, drafted.draft.px_per_mm)).astype(int)
        reach = round(share * dial.marks[0].outer_mm * drafted.draft.px_per_mm)
        cv2.circle(hubs, tuple(at.tolist()), reach, 1, -1)
    off = np.abs(drafted.face.astype(int) - same).max(axis=2)[hubs == 0]
    assert np.mean(off > 40) < 0.004, "edges of print a fraction of a pixel beside, no more"
    turned = float(np.degrees(np.arctan2(24.3, 270.9)))
    assert speed.rest_angle_deg == pytest.approx(-126.0 - turned, abs=0.3)
    assert fuel.rest_angle_deg == pytest.approx(-4.0 - turned, abs=0.3)
    assert (speed.rest_source, speed.rest_pin) == ("measured", False)
    assert "the needle rests 6.0 degrees below the mark 0, so a stop holds it" in speed.remarks[-1]
    assert len(drafted.draft.remarks) == 1, "no rest is unknown"


def test_one_photo_with_needles_says_which_mark_is_hidden():
    pixels = drawn(needles_deg={"speed": -68.0, "fuel": 30.0})
    draft = draft_family(clicks(), named(pixels)).draft
    speed = draft.dial("speed")
    hidden = [mark for mark in speed.marks if mark.source == "between"]
    assert [mark.value for mark in hidden] == [40.0]
    assert hidden[0].angle_deg - speed.majors[1].angle_deg == pytest.approx(26.0, abs=0.6)
    assert "mark 40 is hidden" in speed.remarks[0]


def test_one_dial_alone_is_found_as_a_page_needs_it():
    found, plane = draft_dial(named(drawn()).picture, clicks((SPEED,)).dials[0])
    at = plane.view.projection.to_photo(found.centre)
    assert at == pytest.approx(np.add(SPEED.centre, (319.5, 199.5)), abs=0.4)
    assert int(found.chain.major.sum()) == 10


def test_every_change_makes_another_draft_and_can_be_taken_back(straight):
    draft = straight.draft
    fuel = draft.dial("fuel")
    x, y = fuel.centre_mm
    changes = [
        MoveMark("fuel", 0, fuel.marks[0].angle_deg - 1.0),
        AddMark("fuel", fuel.marks[-1].angle_deg + 22.0, 1.25),
        TypeNeedle("fuel", "length_mm", 17.0),
        TypeRest("fuel", -60.0, True),
        Rename("fuel", "tank", "fuel level", "%"),
    ]
    after = draft
    for change in changes:
        after = corrected(after, change)
    tank = after.dial("tank")
    assert [mark.value for mark in tank.majors] == [0.0, 0.25, 0.5, 0.75, 1.0, 1.25]
    assert tank.majors[0].angle_deg == fuel.majors[0].angle_deg - 1.0
    assert (tank.majors[0].source, tank.majors[0].u_angle_deg) == ("hand", None)
    assert (tank.needle.length_mm, dict(tank.needle_sources)["length_mm"]) == (17.0, "typed")
    assert (tank.rest_angle_deg, tank.rest_pin, tank.unit) == (-60.0, True, "%")
    for left in range(len(changes) - 1, -1, -1):
        after = undone(after)
        assert len(after.changes) == left
    assert after == draft
    assert undone(draft) == draft
    moved = corrected(draft, MoveCentre("fuel", (x + 0.1, y))).dial("fuel")
    assert moved.u_centre_mm is None
    for mark, old in zip(moved.marks, fuel.marks, strict=True):
        radius = (old.inner_mm + old.outer_mm) / 2
        seen = np.radians(old.angle_deg)
        ahead = np.degrees(np.arctan2(radius * np.sin(seen) - 0.1, radius * np.cos(seen)))
        assert mark.angle_deg == pytest.approx(ahead, abs=1e-9)
    fewer = corrected(corrected(draft, DeleteMark("fuel", 4)), TypeValue("fuel", 4, 0.8))
    assert [m.value for m in fewer.dial("fuel").majors][-2:] != [0.75, 1.0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (MoveMark("fuel", 99, 0.0), "dial 'fuel' has 9 marks, counted from 0; there is no 99"),
        (MoveMark("turbo", 0, 0.0), "there is no dial 'turbo' in the draft: speed, fuel"),
        (Rename("fuel", "speed", "x", "V"), "there is a dial 'speed' already"),
        (Rename("fuel", "tank", "x", "litres"), "unit 'litres' is not known"),
        (TypeNeedle("fuel", "wings_mm", 2.0), "a needle has no measure 'wings_mm'"),
        (TypeNeedle("fuel", "length_mm", -2.0), "length_mm must be above 0, given -2"),
        (TypeValue("fuel", 0, None), "two marks must keep a typed value"),
    ],
)
def test_a_change_that_cannot_be_is_one_sentence(straight, change, words):
    with pytest.raises(UnusableInput) as refused:
        corrected(straight.draft, change)
    assert words in str(refused.value)


def test_a_saved_draft_passes_the_familys_check_and_a_bad_one_changes_nothing(straight, tmp_path):
    save(straight.draft, straight.face, tmp_path / "made")
    assert [n.sentence for n in check_family(tmp_path / "made") if n.kind == "error"] == []
    family = load_family(tmp_path / "made")
    assert family.dial("speed").graduation == 10.0
    before = (tmp_path / "made" / "family.json").read_bytes()
    bad = corrected(straight.draft, TypeRest("speed", 170.0, False))
    with pytest.raises(
        FamilyError, match=r"made/family.json: .*rest_angle_deg.*found 170; not written; correct"
    ):
        save(bad, straight.face, tmp_path / "made")
    assert (tmp_path / "made" / "family.json").read_bytes() == before
    assert sorted(p.name for p in (tmp_path / "made").iterdir()) == ["face.png", "family.json"]


def test_everything_that_is_wrong_with_a_draft_is_said_at_once(straight, tmp_path):
    bad = corrected(straight.draft, TypeRest("speed", 170.0, False))
    bad = corrected(bad, TypeNeedle("fuel", "hub_radius_mm", 90.0))
    wrongs = wrongs_of(bad, straight.face)
    assert [wrong.field for wrong in wrongs] == [
        "dials[0].rest_angle_deg",
        "dials[1].needle.hub_radius_mm",
    ]
    assert wrongs_of(straight.draft, straight.face) == ()
    with pytest.raises(FamilyError) as refused:
        save(bad, straight.face, tmp_path / "made")
    said = str(refused.value)
    assert all(wrong.words in said for wrong in wrongs)
    assert said.count(str(tmp_path)) == 1
    assert said.endswith("; not written; correct it in the draft")
    assert list((tmp_path / "made").iterdir()) == []


def test_a_family_that_cannot_be_put_in_its_place_leaves_the_old_face(
    straight, tmp_path, monkeypatch
):
    """The disk fills between the two files: neither the old pair nor an empty folder changes."""
    old, fresh = tmp_path / "made", tmp_path / "fresh"
    save(straight.draft, straight.face, old)
    before = {path.name: path.read_bytes() for path in old.iterdir()}
    really = os.replace

    def full(source, target):
        if Path(target) in (old / "family.json", fresh / "family.json"):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        really(source, target)

    monkeypatch.setattr(os, "replace", full)
    for folder in (old, fresh):
        with pytest.raises(FamilyError, match=r": cannot be written: No space left on device"):
            save(straight.draft, 255 - straight.face, folder)
    assert {path.name: path.read_bytes() for path in old.iterdir()} == before
    assert set(before) == {"face.png", "family.json"}
    assert list(fresh.iterdir()) == []


def at(dial: TypedDial, **changed) -> DraftInputs:
    fields = {"hub_px": dial.hub_px, "marks": dial.marks, "unit": dial.unit} | changed
    return DraftInputs("x", (TypedDial(dial.id, **fields),), dpi=SCAN_DPI)


@pytest.mark.parametrize(
    ("inputs", "error", "words"),
    [
        (
            lambda d: at(d, marks=(d.marks[0], TypedMark((320.0, 20.0), 180.0))),
            PictureError,
            "nothing stands out from the face at the click on mark 180 (320, 20)",
        ),
        (
            lambda d: at(d, marks=(d.marks[0], TypedMark(d.marks[1].at_px, 0.0))),
            FamilyError,
            "two marks have the value 0; type the value that is printed at each",
        ),
        (
            lambda d: at(d, marks=(d.marks[0], TypedMark(d.marks[0].at_px, 180.0))),
            FamilyError,
            "the marks 0 and 180 are clicked at one place",
        ),
        (
            lambda d: at(d, hub_px=(900.0, 20.0)),
            PictureError,
            "the click on its hub at 900, 20 lies outside the picture of 640 x 400 px",
        ),
        (lambda d: at(d, unit="knots"), UnitError, "unit 'knots' is not known"),
        (
            lambda d: replace(at(d), at_rest=("3.jpg",)),
            FamilyError,
            "needles are said to rest in the photo '3.jpg', which is not among drawn.png",
        ),
        (
            lambda d: DraftInputs("x", (d,)),
            FamilyError,
            "nothing says how large the face is; give a scan's resolution (--dpi), or a length",
        ),
        (
            lambda d: DraftInputs("x", (d,), known=KnownLength(50.0, ("speed", "turbo"))),
            FamilyError,
            "the known length ends at dial 'turbo', which is not among speed",
        ),
    ],
)
def test_what_cannot_be_drafted_is_one_sentence(inputs, error, words):
    dial = clicks((SPEED,), off_px=1.0).dials[0]
    with pytest.raises(error) as refused:
        draft_family(inputs(dial), named(drawn((SPEED,))), bare=True)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_face_without_marks_is_told_so():
    pixels = np.full((400, 640, 3), 40, np.uint8)
    cv2.putText(pixels, "0", (150, 300), cv2.FONT_HERSHEY_SIMPLEX, 1.0, (230, 230, 230), 3)
    cv2.putText(pixels, "180", (280, 300), cv2.FONT_HERSHEY_SIMPLEX, 1.0, (230, 230, 230), 3)
    marks = (TypedMark((160.0, 292.0), 0.0), TypedMark((300.0, 292.0), 180.0))
    inputs = DraftInputs("x", (TypedDial("speed", (220.0, 200.0), marks, "km/h"),), dpi=200.0)
    with pytest.raises(PictureError) as refused:
        draft_family(inputs, named(pixels), bare=True)
    assert "dial 'speed'" in str(refused.value)
    assert "a face whose marks are no lines is measured by hand" in str(refused.value)


def test_a_photo_that_is_too_oblique_is_told_so():
    tilt = (0.75, 0.1)
    with pytest.raises(PictureError) as refused:
        draft_family(clicks(tilt=tilt), named(drawn(tilt=tilt)), bare=True)
    assert any(word in str(refused.value) for word in ("straight above", "click"))
    assert "\n" not in str(refused.value)


def test_the_bare_photo_of_a_family_with_truth():
    """Centres within 0.15 mm and marks within 0.15 degrees, from rough clicks and two values."""
    folder = DATA / "photos" / "fam-d"
    family = load_family(DATA / "families" / "fam-d")
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))["bare"]
    inputs = clicks_from_truth(family, truth, np.random.default_rng(3))
    picture = NamedPicture("bare.jpg", open_picture(folder / "bare.jpg"))
    draft = draft_family(inputs, picture, bare=True).draft
    for off in offs(draft, family):
        assert off.values_right
        assert off.centre_mm < 0.15
        assert np.abs(off.marks_deg).max() < 0.15
        assert np.abs(off.turned_deg).max() < 0.3
