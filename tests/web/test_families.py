"""Faces beside each other on the page: versions, a unit and its family, two units, bad photos."""

import json
import shutil
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect

from needlewright.families.folder import load_family
from needlewright.records.families import keep_family
from needlewright.web import families_beside, families_changes, families_pairs
from needlewright.web.app import create_app
from needlewright.web.families_pairs import PairStore
from records.benches import DATA, furnished
from web.bench_page import FAMILY_FOLDER, Browser, page
from web.live_bench import served_app
from web.test_axe import broken
from web.walking import AXE, DESK, PHONE, TABLET, browser, needs_chromium, watched

FAMILY = load_family(FAMILY_FOLDER)
WIDTH, HEIGHT = FAMILY.face_size_mm
DOT_MM = (0.5 * WIDTH, 0.9 * HEIGHT)
PHOTO_PX = 1000


def drawn(dot: bool, width_px: int | None = None) -> Image.Image:
    """The family's face, with a bright dot more or without, small enough to be found fast."""
    face = Image.open(FAMILY.face_path).convert("RGB")
    if dot:
        scale = FAMILY.px_per_mm
        x, y = (at * scale for at in DOT_MM)
        ImageDraw.Draw(face).ellipse(
            [x - 2 * scale, y - 2 * scale, x + 2 * scale, y + 2 * scale], fill=(230, 40, 30)
        )
    if width_px is not None:
        face.thumbnail((width_px, width_px))
    return face


def photo(dot: bool) -> bytes:
    """The face on a bench, as straight as a hand can."""
    face = drawn(dot, PHOTO_PX)
    bench = Image.new("RGB", (face.width + 80, face.height + 80), (90, 85, 80))
    bench.paste(face, (37, 44))
    out = BytesIO()
    bench.save(out, "JPEG", quality=92)
    return out.getvalue()


def sent(**photos: bytes) -> dict[str, tuple[str, bytes, str]]:
    return {slot: (f"{slot}.jpg", content, "image/jpeg") for slot, content in photos.items()}


@pytest.fixture(scope="module")
def two_versions(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, int, int]:
    """A shop that keeps two versions of a family; the second has a dot more."""
    folder = tmp_path_factory.mktemp("families")
    shutil.copytree(furnished(), folder / "shop")
    shutil.copytree(FAMILY_FOLDER, folder / "newer")
    drawn(dot=True).save(folder / "newer" / "face.png")
    path = folder / "newer" / "family.json"
    written = json.loads(path.read_text(encoding="utf-8"))
    written["lens"] = not written.get("lens", False)
    path.write_text(json.dumps(written), encoding="utf-8")
    with page(folder / "shop") as bench:
        newer = keep_family(bench.shop, folder / "newer")
    return folder / "shop", 1, newer.version_id


@pytest.fixture
def bench(two_versions: tuple[Path, int, int]) -> Iterator[Browser]:
    with page(two_versions[0]) as one:
        yield one


def test_two_versions_stand_beside_each_other(
    bench: Browser, two_versions: tuple[Path, int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, first, second = two_versions
    families_beside._versions.cache_clear()
    compared = []
    made = families_beside.version_pair
    monkeypatch.setattr(
        families_beside, "version_pair", lambda *both: compared.append(1) or made(*both)
    )
    shown = bench.get(f"/families/{second}/beside/{first}").text
    assert "1 place differs in print" in shown
    assert "lens is " in shown
    assert shown.index(f"{FAMILY.name}, version 1") < shown.index(f"{FAMILY.name}, version 2")
    faces = [
        Image.open(BytesIO(bench.get(f"/families/{second}/beside/{first}/{slot}").content))
        for slot in ("first", "second")
    ]
    assert faces[0].size == faces[1].size
    at = tuple(round(mm * faces[0].width / WIDTH) for mm in DOT_MM)
    before, after = (face.convert("RGB").getpixel(at) for face in faces)
    assert after[0] - before[0] > 80  # the dot, in the newer one only
    assert bench.get(f"/families/{first}/beside/{second}").status_code == 200
    assert len(compared) == 1
    assert f'href="/families/{second}/beside/{first}"' in bench.get(f"/families/{second}").text
    chosen = bench.get(f"/families/{second}/beside?other={first}")
    assert chosen.headers["location"] == f"/families/{second}/beside/{first}"
    assert bench.get(f"/families/{second}/beside/99").status_code == 404


def test_what_a_version_changed_is_worked_out_once(
    bench: Browser, two_versions: tuple[Path, int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    second = two_versions[2]
    families_changes._known.clear()
    loaded = []
    load = families_changes.load_version
    monkeypatch.setattr(families_changes, "load_version", lambda *of: loaded.append(1) or load(*of))
    for _ in range(3):
        assert "face.png is another one" in bench.get(f"/families/{second}").text
    assert len(loaded) == 2  # both versions of the one pair


def place_of(bench: Browser, where: str) -> tuple[float, float]:
    """The middle of the largest place that differs, millimetres."""
    _, _, version_id, _, pair_id = where.split("/")
    pair = PairStore(bench.shop).load(int(version_id), pair_id).pair
    assert pair is not None
    place = pair.places[0]
    return place.left_mm + place.width_mm / 2, place.top_mm + place.height_mm / 2


def test_a_unit_is_compared_with_the_face_and_with_another_unit(bench: Browser) -> None:
    where = bench.post("/families/1/units", files=sent(second=photo(dot=True))).headers["location"]
    assert place_of(bench, where) == pytest.approx(DOT_MM, abs=0.8)
    assert "The family&#39;s own face" in bench.get(where).text
    bench.post(where, files=sent(first=photo(dot=False)))  # the other photo stays
    assert place_of(bench, where) == pytest.approx(DOT_MM, abs=0.8)
    shown = bench.get(where).text
    assert "1 place differs in print" in shown
    assert "first.jpg" in shown
    assert "second.jpg" in shown
    bench.post(where, files=sent(first=photo(dot=True)))
    assert "In print nothing differs that stands out" in bench.get(where).text
    assert bench.get(f"{where}/first").headers["content-type"] == "image/jpeg"
    assert bench.get(where.replace("/1/", "/2/", 1)).status_code == 404


def test_what_is_wrong_stands_beside_its_photo_and_the_other_stays(bench: Browser) -> None:
    other = (DATA / "photos" / "fam-b" / "bare.jpg").read_bytes()
    bad = sent(second=other, first=b"no picture")
    where = bench.post("/families/1/units", files=bad).headers["location"]
    shown = bench.get(where).text
    assert "second.jpg: the face of family" in shown
    assert "first.jpg: is not a picture" in shown
    assert str(bench.shop.folder) not in shown
    assert bench.get(f"{where}/first").status_code == 404
    bench.post(where, files=sent(second=photo(dot=True)))
    shown = bench.get(where).text
    assert "second.jpg: the face" not in shown
    assert "first.jpg: is not a picture" in shown
    bench.post(where, {"face_only": "yes"})
    assert place_of(bench, where) == pytest.approx(DOT_MM, abs=0.8)


def test_without_the_unit_on_the_bench_the_other_photo_waits(bench: Browser) -> None:
    where = bench.post("/families/1/units", files=sent(first=photo(dot=False))).headers["location"]
    shown = bench.get(where).text
    assert "no photo of the unit on the bench was chosen; choose one" in shown
    assert "Chosen: first.jpg" in shown
    bench.post(where, files=sent(second=photo(dot=True)))
    assert place_of(bench, where) == pytest.approx(DOT_MM, abs=0.8)


def test_of_many_comparisons_the_oldest_goes(
    bench: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(families_pairs, "MOST", 2)
    made = [bench.post("/families/1/units").headers["location"] for _ in range(4)]
    assert len(list((bench.shop.folder / families_pairs.FOLDER).iterdir())) == 2
    assert bench.get(made[-1]).status_code == 200
    assert bench.get(made[0]).status_code == 404
    assert bench.get("/families/1/units/..%2f..").status_code in (404, 422)


VIEWS = "[...document.querySelectorAll('.beside svg')].map((one) => one.getAttribute('viewBox'))"


@needs_chromium
def test_both_faces_are_looked_at_closely_by_key_and_by_finger(
    two_versions: tuple[Path, int, int],
) -> None:
    folder, first, second = two_versions
    with served_app(create_app(folder, read_photos=False)) as url, browser() as opened:
        phone = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True, bypass_csp=True)
        at = phone.new_page()
        troubles = watched(at)
        at.goto(f"{url}/families/{second}/beside/{first}")
        at.locator("#beside[data-ready]").wait_for()
        whole = at.evaluate(VIEWS)
        at.focus("[data-look]")
        at.keyboard.press("Enter")
        close = at.evaluate(VIEWS)
        assert close[0] == close[1] != whole[0]
        left, top, wide, high = (float(one) for one in close[0].split())
        assert left < DOT_MM[0] < left + wide
        assert top < DOT_MM[1] < top + high
        expect(at.locator("[data-look]")).to_have_attribute("aria-pressed", "true")
        at.keyboard.press("Escape")
        assert at.evaluate(VIEWS) == whole
        at.locator(".beside-place .line").nth(1).tap()
        assert at.evaluate(VIEWS) == close
        at.locator("#beside-whole").tap()
        assert at.evaluate(VIEWS) == whole
        looked_over(at)
        at.goto(f"{url}/families/{second}")
        looked_over(at)
        at.set_input_files(
            "#unit-second", {"name": "x.jpg", "mimeType": "image/jpeg", "buffer": b"no"}
        )
        at.locator(".beside-form button").tap()
        expect(at.locator("#unit-second-wrong")).to_contain_text("x.jpg: is not a picture")
        looked_over(at)
        assert troubles == []


def looked_over(at: Page) -> None:
    """In every size and light nothing is wider than the screen, too small, or broken."""
    for size, light in ((TABLET, "dark"), (DESK, "light"), (PHONE, "dark")):
        at.set_viewport_size(size)
        at.emulate_media(color_scheme=light)
        assert at.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
        small = at.evaluate(
            """[...document.querySelectorAll('main :is(button, .button, summary, select)')]
            .filter((one) => one.checkVisibility())
            .map((one) => one.getBoundingClientRect().height).filter((high) => high < 43.5)"""
        )
        assert small == []
        if AXE.is_file():
            assert broken(at) == []
