"""Sweep videos on the page: sent, followed, refused, shown beside their charts."""

import json
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from needlewright.composing.sweeps import follow_sweep
from needlewright.families.folder import load_family
from needlewright.records.families import keep_family
from needlewright.records.jobs import new_job
from needlewright.records.opening import open_shop
from needlewright.records.sweeps import add_sweep, followed_sweep, store_sweep, sweeps_of
from needlewright.web import sweeps_queue
from needlewright.web.posted import LARGEST_FILE
from needlewright.web.sweeps_queue import SweepQueue
from needlewright.web.sweeps_worker import LeftOff, SweepRead, follow_one, how_far
from web.sheet_desk import TAG, Desk, desk, words_of
from web.test_axe import broken, served_unread
from web.walking import (
    AXE,
    DESK,
    NO_AXE,
    PHONE,
    WAIT_MS,
    browser,
    comes,
    make_shop,
    needs_chromium,
    served,
    watched,
)

DATA = Path(__file__).parents[1] / "data"
CLIP = DATA / "videos" / "dev-lost-steps.mp4"
FAM_A = DATA / "families" / "fam-a"
SWEPT = "EX-0500"
TRUTH = json.loads(CLIP.with_suffix(".json").read_text(encoding="utf-8"))["events"]


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as one:
        keep_family(one.shop, FAM_A)
        new_job(one.shop, {"tag": SWEPT, "family": "fam-a"})
        yield one


@pytest.fixture(scope="module")
def document() -> dict:
    return follow_sweep(load_family(FAM_A), CLIP).document()


def video(content: bytes, name: str = "sweep.mp4") -> dict:
    return {"video": (name, content, "video/mp4")}


def sent(at: Desk, tag: str = SWEPT) -> str:
    """Where a browser is sent on to, once the clip is sent."""
    answer = at.post(f"/jobs/{tag}/sweeps", files=video(CLIP.read_bytes()))
    assert answer.status_code == 303, answer.text[:400]
    return answer.headers["location"]


def test_a_video_is_sent_and_its_place_says_that_it_waits(at: Desk):
    place = sent(at)
    (sweep,) = sweeps_of(at.shop, SWEPT)
    assert place == f"/jobs/{SWEPT}/sweeps/{sweep.id}"
    assert "Waits to be followed; it begins by itself" in at.get(place)
    far = at.client.get(f"{place}/progress").json()
    assert far == {"done": False, "read": 0, "of": 0, "trouble": None}
    sheet = at.get(f"/jobs/{SWEPT}")
    assert f'href="{place}">sweep.mp4</a>' in sheet
    assert "waits to be followed" in sheet
    assert f'data-progress="/jobs/{SWEPT}/sweeps/progress" data-unread="1"' in sheet
    all_of_it = at.client.get(f"/jobs/{SWEPT}/sweeps/progress").json()
    assert (all_of_it["read"], all_of_it["of"]) == (0, 100)


def test_a_followed_video_is_shown_with_a_chart_per_needle_and_its_events(at: Desk, document: dict):
    place = sent(at)
    (sweep,) = sweeps_of(at.shop, SWEPT)
    store_sweep(at.shop, sweep.id, document)
    text = at.get(place)
    assert f'data-span="{document["frames"][-1]["t_s"]}"' in text
    assert re.findall(r'class="chart"[^>]*data-dial="(\w+)"', text) == [
        "engine",
        "speed",
        "fuel",
        "temp",
    ]
    shown = [float(t) for t in re.findall(r'data-at="([\d.]+)"', text)]
    assert shown == [event["t_s"] for event in document["events"]]
    for said, truth in zip(shown, TRUTH, strict=True):
        assert abs(said - truth["t"]) <= 0.04  # a frame of the clip, 25 in a second
    said = words_of(text)
    sides = (
        "2.0° too far anticlockwise",
        "6.0° too far anticlockwise",
        "4.0° too far clockwise",
        "8.0° too far clockwise",
    )
    for number, size in enumerate(sides, start=1):
        event = rf"{number} \d\.\d\d s speed lost steps, {re.escape(size)} since "
        assert re.search(event, said), size
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert "style=" not in text
    assert at.client.get(place).headers["content-security-policy"].endswith("; media-src 'self'")
    assert "media-src" not in at.client.get("/keys").headers["content-security-policy"]
    assert "4 events" in at.get(f"/jobs/{SWEPT}")
    far = at.client.get(f"/jobs/{SWEPT}/sweeps/progress").json()
    assert (far["read"], far["of"]) == (100, 100)


def test_a_browser_may_ask_for_a_part_of_the_video(at: Desk):
    """RFC 9110, 14.2 and 15.3.7: a player seeks by ranges of bytes."""
    sent(at)
    (sweep,) = sweeps_of(at.shop, SWEPT)
    address, content = f"/originals/{sweep.sha256}", CLIP.read_bytes()
    part = at.client.get(address, headers={"range": "bytes=1000-1999"})
    assert part.status_code == 206
    assert part.headers["content-range"] == f"bytes 1000-1999/{len(content)}"
    assert part.headers["content-type"] == "video/mp4"
    assert part.content == content[1000:2000]
    assert at.client.get(address).headers["accept-ranges"] == "bytes"
    beyond = at.client.get(address, headers={"range": f"bytes={len(content)}-"})
    assert beyond.status_code == 416


def test_what_is_no_video_is_refused_at_its_place(at: Desk):
    address = f"/jobs/{SWEPT}/sweeps"
    answer = at.post(address, files=video(b"no video at all" * 100, "holiday.mp4"))
    assert answer.status_code == 422
    place = answer.text.split('data-wrong-of="bench_check-sweep"', 1)[1].split("</form>")[0]
    assert "holiday.mp4: is not a video that can be opened" in words_of(place)
    assert re.search(r'id="part-bench_check"[^>]* open>', answer.text)
    assert "no video was chosen" in words_of(at.post(address).text)
    large = at.post(address, files=video(b"\0" * (LARGEST_FILE + 1), "big.mp4"))
    assert large.status_code == 413
    assert "big.mp4: is larger than 60 MB" in words_of(large.text)
    assert sweeps_of(at.shop, SWEPT) == ()


def test_a_place_that_is_not_there_is_said_so(at: Desk):
    sent(at)
    (sweep,) = sweeps_of(at.shop, SWEPT)
    for wrong in (f"/jobs/{TAG}/sweeps/{sweep.id}", f"/jobs/{SWEPT}/sweeps/999"):
        assert at.client.get(wrong).status_code == 404
        assert at.client.get(f"{wrong}/progress").status_code == 404


def followed(at: Desk, queue: SweepQueue, tag: str) -> None:
    """Start a queue and wait until it has nothing left to follow."""
    queue.start()
    queue.wake()
    try:
        while any(one.followed_at is None for one in sweeps_of(at.shop, tag)):
            queue._woken.wait(0.05)
    finally:
        queue.stop()


def test_the_queue_follows_what_waits(at: Desk, document: dict):
    sent(at)
    (sweep,) = sweeps_of(at.shop, SWEPT)
    followed(at, SweepQueue(at.shop, lambda: ThreadPoolExecutor(1)), SWEPT)
    assert followed_sweep(at.shop, SWEPT, sweep.id).document == document


def test_another_family_is_said_in_the_commands_own_sentence(at: Desk):
    place = sent(at, TAG)
    followed(at, SweepQueue(at.shop, lambda: ThreadPoolExecutor(1)), TAG)
    (sweep,) = sweeps_of(at.shop, TAG)
    assert sweep.problem is not None
    assert re.match(
        r"sweep\.mp4: the face of family invented-estate is in none of its \d+ frames",
        sweep.problem,
    )
    assert words_of(sweep.problem) in words_of(at.get(place))
    assert sweep.problem in words_of(at.get(f"/jobs/{TAG}"))


def test_a_video_whose_file_is_lost_holds_up_no_other(at: Desk):
    sent(at)
    (sweep,) = sweeps_of(at.shop, SWEPT)
    at.shop.originals.path(sweep.sha256).unlink()
    followed(at, SweepQueue(at.shop, lambda: ThreadPoolExecutor(1)), SWEPT)
    (after,) = sweeps_of(at.shop, SWEPT)
    assert after.problem is not None
    assert after.problem.startswith("sweep.mp4: was not followed because its file is missing")


def test_an_end_leaves_the_video_in_hand_for_another_time(at: Desk, monkeypatch):
    sent(at)
    began = []

    def never_done(family, path, name, told) -> SweepRead:
        told.write_text("5 180")
        while told.exists():
            began.append(name)
        raise LeftOff

    monkeypatch.setattr(sweeps_queue, "follow_one", never_done)
    monkeypatch.setattr(sweeps_queue, "ASK_S", 0.01)
    queue = SweepQueue(at.shop, lambda: ThreadPoolExecutor(1))
    (sweep,) = sweeps_of(at.shop, SWEPT)
    queue.start()
    while not queue.following(sweep.id).of:
        queue._woken.wait(0.01)
    far = queue.following(sweep.id)
    queue.stop()
    assert (far.read, far.of) == (5, 180)
    assert began
    assert sweeps_of(at.shop, SWEPT) == (sweep,)


def test_the_worker_says_how_far_it_is_and_leaves_off_when_told(tmp_path: Path):
    family, told = load_family(FAM_A), tmp_path / "told"
    assert how_far(told) is None
    with pytest.raises(LeftOff):
        follow_one(family, CLIP, "sweep.mp4", told)
    told.touch()
    assert how_far(told) is None
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(b"x" * 10_000)
    read = follow_one(family, cut, "sweep.mp4", told)
    assert read.document is None
    assert read.problem is not None
    assert read.problem.startswith("sweep.mp4: is not a video that can be opened")


@pytest.fixture
def swept_shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    make_shop(folder)
    with open_shop(folder) as shop:
        keep_family(shop, FAM_A)
        new_job(shop, {"tag": SWEPT, "family": "fam-a"})
    return folder


def stands_at(page: Page, t_s: float, within_s: float = 1e-3) -> None:
    """The video's time, which it may take a moment to come to."""
    now = "document.getElementById('sweep-video').currentTime"
    comes(page, f"Math.abs({now} - {t_s}) <= {within_s}")


def no_sideways(page: Page) -> None:
    comes(page, "document.documentElement.scrollWidth <= innerWidth")


@needs_chromium
def test_a_chart_moves_the_video_and_the_video_the_chart(swept_shop: Path):
    """From the job sheet to the charts; then by pointer, list, keys, and as it plays."""
    with served(swept_shop) as at, browser() as chromium:
        page = chromium.new_page(viewport=DESK)
        troubles = watched(page)
        page.goto(f"{at.url}jobs/{SWEPT}#sweeps")
        page.locator("#sheet[data-ready]").wait_for()
        page.locator("#part-bench_check").evaluate("one => { one.open = true; }")
        page.set_input_files("#sweep-file", CLIP)
        page.locator("#sweep[data-ready] .chart .wide svg").first.wait_for(timeout=WAIT_MS)
        page.wait_for_function("() => document.getElementById('sweep-video').readyState >= 1")
        expect(page.locator(".chart")).to_have_count(4)
        events = [float(b.get_attribute("data-at")) for b in page.locator("[data-at]").all()]
        assert len(events) == len(TRUTH) == 4

        chart = page.locator('.chart[data-dial="speed"]')
        chart.scroll_into_view_if_needed()
        spot = chart.evaluate(
            """(one, t) => {
              const path = one.querySelector(".wide path.background[stroke]");
              const box = path.getBoundingClientRect();
              const span = Number(document.getElementById("sweep").dataset.span);
              return [box.left + box.width * t / span, box.top + box.height / 2];
            }""",
            events[2],
        )
        page.mouse.click(*spot)
        stands_at(page, events[2])
        expect(chart).to_have_attribute("aria-valuenow", f"{events[2]:.2f}")
        line = chart.evaluate(
            """one => {
              const plot = one.querySelector(".wide path.background[stroke]");
              const box = plot.getBoundingClientRect();
              const now = one.querySelector(".wide .now").getBoundingClientRect();
              return (now.left + now.width / 2 - box.left) / box.width;
            }"""
        )
        span = float(page.locator("#sweep").get_attribute("data-span"))
        assert line == pytest.approx(events[2] / span, abs=0.005)

        page.locator("[data-at]").nth(0).click()
        stands_at(page, events[0])
        chart.focus()
        page.keyboard.press("ArrowRight")
        stands_at(page, events[0] + 0.1)
        page.keyboard.press("Home")
        stands_at(page, 0.0)

        page.evaluate("document.getElementById('sweep-video').play()")
        page.wait_for_function(
            "() => Number(document.querySelector('.chart').getAttribute('aria-valuenow')) > 0.2"
        )
        no_sideways(page)
        page.set_viewport_size(PHONE)
        no_sideways(page)
        expect(page.locator(".chart .narrow svg").first).to_be_visible()
        page.emulate_media(media="print")
        expect(page.locator("#sweep-video")).to_be_hidden()
        expect(page.locator(".chart .wide svg").first).to_be_visible()
        assert troubles == []


@needs_chromium
def test_a_finger_moves_the_video(swept_shop: Path, document: dict):
    with open_shop(swept_shop) as shop:
        sweep = add_sweep(shop, SWEPT, CLIP.read_bytes(), "sweep.mp4")
        store_sweep(shop, sweep.id, document)
    with served_unread(swept_shop) as url, browser() as chromium:
        page = chromium.new_context(viewport=PHONE, has_touch=True, is_mobile=True).new_page()
        page.goto(f"{url}jobs/{SWEPT}/sweeps/{sweep.id}")
        page.locator("#sweep[data-ready]").wait_for()
        page.wait_for_function("() => document.getElementById('sweep-video').readyState >= 1")
        chart = page.locator('.chart[data-dial="speed"]')
        chart.scroll_into_view_if_needed()
        box = chart.locator(".narrow path.background[stroke]").first.bounding_box()
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        span = document["frames"][-1]["t_s"]
        near = [e["t_s"] for e in document["events"] if abs(e["t_s"] - span / 2) < 0.2]
        assert near == []  # so that the time itself is meant, and no event
        stands_at(page, span / 2, within_s=span / box["width"])


@needs_chromium
@pytest.mark.skipif(not AXE.is_file(), reason=NO_AXE)
def test_everybody_can_use_its_place(swept_shop: Path, document: dict):
    """WCAG 2.2, A and AA, as axe checks them."""
    with open_shop(swept_shop) as shop:
        sweep = add_sweep(shop, SWEPT, CLIP.read_bytes(), "sweep.mp4")
        store_sweep(shop, sweep.id, document)
    with served_unread(swept_shop) as url, browser() as chromium:
        for light in ("light", "dark"):
            page = chromium.new_page(viewport=DESK, color_scheme=light)
            page.goto(f"{url}jobs/{SWEPT}/sweeps/{sweep.id}")
            page.locator("#sweep[data-ready]").wait_for()
            assert broken(page) == []
