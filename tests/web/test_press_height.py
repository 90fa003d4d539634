"""Needle height on the page: the stack, limits of the family, and heights from two photos."""

import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from needlewright.composing.job_findings import job_findings
from needlewright.composing.kept_heights import (
    KeptHeight,
    SeenHeight,
    SeenIn,
    SentPhoto,
    keep_height,
    kept_height,
)
from needlewright.composing.kept_pieces import take_analysis
from needlewright.composing.needle_lengths import length_of, stack_of
from needlewright.errors import KnowledgeError
from needlewright.families.model import Family
from needlewright.plans.height.stack import Stack, Toleranced
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import undo_last
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.fixed_view import FixedView
from web.live_bench import stands_at
from web.sheet_desk import TAG, Desk, desk, received, words_of

PLACE = f"/jobs/{TAG}/needle-height"
LENGTHS = {
    "shaft": "6.0+-0.1", "face": "1.0+-0.05", "hub": "6.5+-0.05", "bore": "5.0+-0.05",
    "thickness": "0.8+-0.05", "blade": "0.4 ± 0.05", "droop": "0,2+-0,1", "lens": "9.0+-0.3",
}  # fmt: skip


@pytest.fixture
def height(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as one:
        received(one.shop)
        yield one


def test_the_gauge_follows_from_the_lengths(height: Desk):
    asked = height.get(PLACE)
    assert "Type the lengths, or choose photos." in asked
    answer = height.post(PLACE, {"dial": "speed", **LENGTHS})
    assert answer.status_code == 200
    words = words_of(answer.text)
    order = re.search(r"Press down to a gauge of (\d\.\d\d) mm under the hub", words)
    assert order
    # The worst case by hand: tip above the face = gap + blade - droop, shaft in the bore =
    # shaft - face - gap, gap at most the halo's 1.2; the middle of the gauges that keep all.
    least = max(0.3 + 0.05, 0.3 - (0.4 - 0.05) + (0.2 + 0.1) + 0.05)
    most = min(1.2 - 0.05, 6.0 - 0.1 - 1.05 - 1.5 - 0.05, 9.0 - 0.3 - 0.5 - 6.55 - 0.05)
    assert float(order.group(1)) == pytest.approx((least + most) / 2, abs=0.026)
    worst = re.search(r"hub above the face \d\.\d\d (\d\.\d\d)", words)  # a gauge is ± 0.05
    assert worst
    assert float(worst.group(1)) == pytest.approx(float(order.group(1)) - 0.05)
    assert "<svg" in answer.text
    assert "below the lens" in words
    assert "JCGM 101:2008, 7.7.2" in words
    for name, typed in LENGTHS.items():
        assert f'name="{name}"' in answer.text
        assert f'value="{typed}"' in answer.text
    kept = height.post(PLACE, {"dial": "speed", **LENGTHS, "keep": "yes"})
    assert (kept.status_code, kept.headers["location"]) == (303, f"/jobs/{TAG}#notes")
    [note] = job_sheet(height.shop, TAG).notes
    assert note.text.startswith(f"speed: press down to a gauge of {order.group(1)} mm")


def said(page: str) -> str:
    """What is wrong and what to do, as a person reads it."""
    return unescape(words_of(page.split('class="wrong"', 1)[1].split("</div>", 1)[0])).casefold()


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"shaft": "six"}, "given 'six'; a length in mm is expected: 6.0 or 6.0+-0.1"),
        ({"bore": ""}, "bore: is not typed; measure it, in mm"),
        ({"bore": "9"}, "is deeper than the hub"),
        ({"contact": "0.3+-0.1"}, "a limit has no tolerance, type it as 0.3"),
        ({"dial": "oil"}, "dial 'oil': family 'invented-estate' has "),
        ({"gauge": "low"}, "gauge: given 'low'"),
    ],
)
def test_what_cannot_be_used_is_one_sentence_and_stays_typed(height: Desk, fields, says):
    answer = height.post(PLACE, {"dial": "speed", **LENGTHS, **fields})
    assert answer.status_code == 422
    assert all(part in said(answer.text) for part in says.split("; "))
    assert 'value="6.5+-0.05"' in answer.text


def test_where_no_gauge_fits_only_the_two_bounds_are_shown(height: Desk):
    """A shaft of 10 mm in a bore of 4: by hand, 10 + 0.05 - 4 = 6.05 or more for the bore, and
    1.2 - 0.05 = 1.15 or less for the halo."""
    stack = {"shaft": "10", "hub": "6", "bore": "4", "thickness": "1"}
    page = height.post(PLACE, {"dial": "speed", **stack}).text
    words = words_of(page)
    assert "No gauge keeps every limit in the worst case: 6.05 mm or more is needed" in words
    assert "6.05 mm or more for: bore left above the shaft, at least 0.00 mm" in words
    assert "1.15 mm or less for: gap that light shows through, at most 1.20 mm" in words
    assert 'class="press-drawing"' not in page
    assert "data-good" not in page


def test_photos_that_tell_no_height_are_named(height: Desk):
    blank = photo(np.full((120, 160, 3), 90, np.uint8))
    one = height.post(PLACE, {"dial": "speed"}, files=[("photo", ("a.jpg", blank))])
    assert "photos: 1 came" in said(one.text)
    assert "one tells no height" in said(one.text)
    two = height.post(
        PLACE, {"dial": "speed", **LENGTHS},
        files=[("photo", ("left.jpg", blank)), ("photo", ("right.jpg", blank))],
    )  # fmt: skip
    assert two.status_code == 422
    assert "left.jpg" in said(two.text)
    assert 'value="6.5+-0.05"' in two.text
    none = height.post(PLACE, {"dial": "speed", "keep": "yes"})
    assert "there is nothing to write down yet" in said(none.text)


def photo(pixels: np.ndarray) -> bytes:
    stream = BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=95)
    return stream.getvalue()


def seen_from(family: Family, yaw_deg: float) -> bytes:
    camera = Camera(1280, 720, 1440.0, 639.5, 359.5)
    across, down = family.face_size_mm
    pose = place_camera(
        distance_mm=across * camera.focal_px / camera.width_px * 1.15,
        target_mm=(across / 2, down / 2),
        yaw_deg=yaw_deg,
    )
    return photo(FixedView(family, camera, pose).frame(stands_at(family)))


def heights_kept(at: Desk, dial: str) -> KeptHeight | None:
    return kept_height(job_sheet(at.shop, TAG), dial)


def test_two_photos_from_different_sides_tell_the_height_and_are_kept(height: Desk):
    dial = height.family.dials[1]
    place = f"{PLACE}?dial={dial.id}"
    sent = {f"{n}.jpg": seen_from(height.family, yaw) for n, yaw in enumerate((-24.0, 24.0))}
    files = [("photo", one) for one in sent.items()]
    answer = height.post(PLACE, {"dial": dial.id, **LENGTHS}, files=files)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{place}#height-answer")
    page = height.get(place)
    words = words_of(page)
    seen = re.search(r"top stands (\d+\.\d+) ± (\d+\.\d+) mm above the face", words)
    assert seen
    top, expanded = float(seen.group(1)), float(seen.group(2))
    assert top == pytest.approx(dial.needle.height_mm, abs=max(1.5 * expanded, 0.1))
    assert 0.01 < expanded < 1.0
    assert "easured from photos" in words  # beside the stack
    for typed in LENGTHS.values():
        assert f'value="{typed}"' in page

    photos = job_sheet(height.shop, TAG).photos
    assert [(one.name, one.note) for one in photos] == [
        (name, f"needle height of {dial.id}: measured in it") for name in sent
    ]
    for one in photos:
        assert height.client.get(f"/originals/{one.sha256}").content == sent[one.name]
        assert f"/originals/{one.sha256}/small" in page
    kept = heights_kept(height, dial.id)
    assert kept is not None
    # A millimetre of height is seen tan(obliquity) mm sideways, less where the needle points
    # along the view: no lever is longer than that of the steepest ray to the face.
    levers = [one.lever_mm for one, _ in kept.shots]
    assert all(lever is not None and 0.05 < abs(lever) < 0.9 for lever in levers)
    assert levers[0] * levers[1] < 0  # from its left and from its right
    for lever in levers:
        assert f"moves it {lever:+.2f} mm sideways".replace("-", "−") in words
    assert "nothing is left over to tell" in words  # two photos, two unknowns beside each other

    # Other lengths are worked out beside the photos; kept, they stand with the same photos.
    other = {**LENGTHS, "gauge": "0.9"}
    noted = height.post(PLACE, {"dial": dial.id, **other, "keep": "yes"})
    assert noted.status_code == 303
    [note] = job_sheet(height.shop, TAG).notes
    assert f"needle's top {seen.group(1)} ± {seen.group(2)} mm above the face" in note.text
    again = heights_kept(height, dial.id)
    assert again is not None
    assert (again.typed["gauge"], again.seen, again.shots) == ("0.9", kept.seen, kept.shots)
    assert "top stands" not in height.get(f"{PLACE}?dial={height.family.dials[0].id}")
    assert f'href="{place}"' in height.get(f"{PLACE}?dial={height.family.dials[0].id}")

    undo_last(height.shop, TAG)  # the note and the gauge, in one step
    assert job_sheet(height.shop, TAG).notes == ()
    assert heights_kept(height, dial.id) == kept
    off = height.post(f"{PLACE}/off", {"dial": dial.id})
    assert off.status_code == 303
    assert heights_kept(height, dial.id) is None
    assert job_sheet(height.shop, TAG).photos == ()
    gone = height.post(f"{PLACE}/off", {"dial": dial.id})
    assert f"no needle height of {dial.id} is kept" in unescape(words_of(gone.text))
    undo_last(height.shop, TAG)
    assert heights_kept(height, dial.id) == kept
    undo_last(height.shop, TAG)
    assert heights_kept(height, dial.id) is None
    assert job_sheet(height.shop, TAG).photos == ()


def test_a_height_is_no_evidence_of_a_cause(height: Desk):
    dial = height.family.dials[0].id
    before = job_findings(height.shop, TAG, looks_ahead=0).cards
    seen = SeenHeight(3.0, 0.1, (SeenIn("a.jpg", 0.4), SeenIn("b.jpg", None, "moved")), 1.0, 2)
    blank = photo(np.full((96, 128, 3), 90, np.uint8))
    sent = [SentPhoto("a.jpg", blank), SentPhoto("b.jpg", blank)]
    keep_height(height.shop, TAG, dial, {"shaft": "6", "lens": " "}, seen, photos=sent)
    after = job_findings(height.shop, TAG, looks_ahead=0)
    assert (after.cards, after.not_used) == (before, ())
    kept = heights_kept(height, dial)
    assert kept is not None
    assert (kept.typed, kept.seen) == ({"shaft": "6"}, seen)
    page = height.get(f"{PLACE}?dial={dial}")
    assert "b.jpg: moved" in words_of(page)
    findings = height.get(f"/jobs/{TAG}/findings").split('id="analyses-list"', 1)[1]
    assert f"needle height of {dial}" not in findings.split("</div>", 1)[0]
    newer = SeenHeight(3.2, 0.1, seen.photos, 1.0, 2)
    keep_height(height.shop, TAG, dial, {}, newer, photos=sent)
    assert len(job_sheet(height.shop, TAG).photos) == 2  # those of the height before are gone
    with pytest.raises(KnowledgeError, match="is called as a needle's height is"):
        take_analysis(height.shop, TAG, f"needle height of {dial}", b"[]")


def test_lengths_are_read_as_people_type_them():

    assert length_of("shaft", " 6,0 ± 0,1 mm") == Toleranced(6.0, 0.1)
    assert length_of("shaft", "6+/-0.1") == Toleranced(6.0, 0.1)
    found = stack_of(LENGTHS, None)
    assert found == replace(found, blade=Toleranced(0.4, 0.05))
    assert isinstance(found, Stack)
