"""The bench screen in Chromium: by touch, from the demonstration's job to the finished table."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from needlewright.composing.demo_shop import make_demo_shop
from needlewright.records.opening import open_shop
from needlewright.records.runs import run_sheet, run_that_counts, set_aside_run
from web.quick_bench import Cable, few_frames, served_bench
from web.test_axe import broken
from web.walking import AXE, DESK, PHONE, TABLET, WAIT_MS, browser, needs_chromium, watched

__all__ = ["few_frames"]
pytestmark = needs_chromium
TAG = "EX-0412"
POINTS = {"engine": "1, 4", "speed": "20, 120", "temp": "60, 100", "fuel": "0.25, 0.75"}


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[tuple[str, Cable, Path]]:
    """The demonstration's shop, the run as found of one job set aside, with a small bench."""
    folder, cable = tmp_path / "shop", Cable()
    make_demo_shop(folder)
    with open_shop(folder) as shop:
        run_id = run_that_counts(shop, TAG, "found")
        set_aside_run(shop, run_id, "taken again at the bench", "R. Example")
    with served_bench(folder, cable) as url:
        yield url, cable, folder


def stands(page: Page, phase: str) -> None:
    page.locator(f"#bench[data-phase={phase}]").wait_for(timeout=WAIT_MS)


def counts(page: Page, words: str) -> None:
    expect(page.locator("#bench-count")).to_have_text(words, timeout=WAIT_MS)


def laid_out(page: Page, url: str) -> None:
    page.goto(url)
    with page.expect_navigation():
        page.select_option("#person", "R. Example")
    page.goto(f"{url}/jobs/{TAG}")
    page.locator("#sheet[data-ready]").wait_for()
    page.get_by_role("link", name="Run at the bench").first.tap()
    for dial, points in POINTS.items():
        page.fill(f"#points-{dial}", points)
    page.fill("#bench-key_ons", "")
    page.get_by_label("then sweep every dial").uncheck()
    page.get_by_role("button", name="Start the run").tap()
    page.locator("#bench[data-ready]").wait_for()


def fits(page: Page) -> None:
    """Nothing is wider than the screen, and everything pressed is large enough for a thumb."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0
    small = page.evaluate(
        """[...document.querySelectorAll('.bench button, .bench a, .bench summary')]
        .filter((one) => one.checkVisibility())
        .map((one) => one.getBoundingClientRect().height).filter((h) => h < 43.5)"""
    )
    assert small == []


def looked_over(opened: Browser, page: Page) -> None:
    """In every size and light, while a run is held."""
    del opened
    for light, size in (("dark", TABLET), ("light", DESK), ("light", PHONE)):
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=light)
        fits(page)
        if AXE.is_file():
            assert broken(page) == []


def test_a_run_by_touch_from_the_job_to_the_finished_table(demo: tuple[str, Cable, Path]):
    url, cable, folder = demo
    with browser() as opened:
        phone = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True, bypass_csp=True)
        page = phone.new_page()
        troubles = watched(page)
        laid_out(page, url)
        page.locator("#bench-pause").tap()
        stands(page, "paused")
        page.locator(".bench-dial[data-state=steady]").first.wait_for(timeout=WAIT_MS)
        expect(page.locator("#bench-wires dt")).to_have_count(4)
        expect(page.locator("#bench-wires")).to_contain_text("CAN frame ")
        said = "Rehearsed: nothing of this is seen on a real cluster."
        expect(page.locator("#bench")).to_contain_text(said)
        looked_over(opened, page)
        counts(page, "0 / 3")
        page.locator("[data-act=skip]").tap()
        counts(page, "1 / 3")
        expect(page.locator('#bench-rows tr[data-state="skipped"]')).to_have_count(1)
        page.locator("[data-act=redo]").tap()
        counts(page, "0 / 3")
        stands(page, "paused")
        sheet = phone.new_page()
        sheet.goto(f"{url}/jobs/{TAG}")
        sheet.locator("#sheet[data-ready]").wait_for()
        sheet.locator("#found-at-bench button:has-text('Stop')").tap()
        stands(page, "stopped")
        expect(page.locator("#bench-state")).to_contain_text("Stopped after 0 of 3 steps")
        sheet.close()
        page.locator("#bench-again button").tap()
        counts(page, "1 / 3")
        cable.camera_is_out = True
        stands(page, "failed")
        expect(page.locator("#bench-state")).to_contain_text("Camera 0: sends no pictures any more")
        cable.camera_is_out = False
        page.locator("#bench-again button").tap()
        stands(page, "finished")
        expect(page.locator("#bench-results li")).to_have_count(4, timeout=WAIT_MS)
        expect(page.locator('#bench-rows tr[data-state="seen"]')).to_have_count(3)
        page.locator("#bench-over a").tap()
        page.locator("#sheet[data-ready]").wait_for()
        speed = " ".join(page.inner_text("#found-dial-speed table").split())
        assert speed.count(" km/h") == 3
        expect(page.locator("#found-at-bench")).to_have_count(0)
        assert troubles == []
    with open_shop(folder) as shop:
        run = run_sheet(shop, run_that_counts(shop, TAG, "found"))
    assert [photo.step for photo in run.photos] == [0, 1, 2]
    assert all(reading.status == "read" for photo in run.photos for reading in photo.readings)
    assert (run.rehearsed or "").startswith("rehearsed, sound, 23 degC")
