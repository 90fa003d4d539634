"""A burn-in in Chromium: begun, watched, loaded anew, stopped, gone on with, reported, printed."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from needlewright.bench.outcome import SweepEvent, SweepFound
from needlewright.bench.sweep_take import SweepFilm
from needlewright.records.burn_ins import burn_ins_of
from needlewright.records.opening import open_shop
from web.quick_bench import Cable, few_frames, quick_shop, served_bench
from web.sheet_desk import TAG
from web.test_axe import broken
from web.walking import AXE, DESK, PHONE, TABLET, WAIT_MS, browser, needs_chromium, watched

__all__ = ["few_frames"]
pytestmark = needs_chromium


@pytest.fixture
def quick(tmp_path: Path, monkeypatch) -> Iterator[tuple[str, Cable, Path]]:
    """A small bench that stands still once its first sweep was found to have slipped."""
    folder, cable = tmp_path / "shop", Cable()
    quick_shop(folder)

    def look_through(film: SweepFilm) -> SweepFound:
        cable.held.clear()
        event = SweepEvent(film.seconds / 2, "speed", "lost_steps", -2.0, 0.1)
        return SweepFound((event,))

    monkeypatch.setattr(
        "needlewright.web.burn_in_session.looked_through", lambda family: look_through
    )
    with served_bench(folder, cable) as url:
        yield url, cable, folder


def fits(page: Page) -> None:
    """Nothing is wider than the screen, and everything pressed is large enough for a thumb."""
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    small = page.evaluate(
        """[...document.querySelectorAll('main button, main .button, main summary')]
        .filter((one) => one.checkVisibility())
        .map((one) => one.getBoundingClientRect().height).filter((h) => h < 43.5)"""
    )
    assert small == []


def looked_over(page: Page, *, rules: bool = True) -> None:
    """In every size and light; rules: whether held against axe-core's too."""
    for light, size in (("dark", TABLET), ("light", DESK), ("dark", PHONE)):
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=light)
        fits(page)
        if rules and AXE.is_file() and size is not TABLET:
            assert broken(page) == []


def test_a_burn_in_by_touch_from_the_plan_to_the_report(quick: tuple[str, Cable, Path]):
    url, cable, folder = quick
    with browser() as opened:
        phone = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True, bypass_csp=True)
        page = phone.new_page()
        troubles = watched(page)
        page.goto(f"{url}/jobs/{TAG}")
        page.locator("#part-burn_in > summary").tap()
        page.get_by_role("link", name="Plan a burn-in").tap()
        page.locator(".burn-worth h2").first.wait_for()
        looked_over(page, rules=False)  # with every other page's
        for name, value in (("hours", "0.004"), ("dwell", "1"), ("check_every", "1")):
            page.fill(f"#burn-{name}", value)
        page.get_by_role("button", name="Work it out").tap()
        expect(page.locator(".burn-worth")).to_contain_text("14 s with the power on")
        page.get_by_text("Check points, lamps, chamber").tap()
        page.fill("#points-speed", "40")
        page.locator("text=Rehearsal cluster").tap()
        page.get_by_role("button", name="Begin the burn-in").tap()
        page.locator("#burn[data-phase=running]").wait_for(timeout=WAIT_MS)
        strip = page.locator("#burn-events li[data-failure] .burn-strip img")
        expect(strip).to_have_count(10, timeout=WAIT_MS)
        expect(page.locator("#burn-chart")).to_be_visible()
        page.reload()
        page.locator("#burn[data-ready]").wait_for()
        expect(strip).to_have_count(10)
        expect(page.locator("#burn-picture")).to_have_js_property("naturalWidth", 640)
        looked_over(page)
        page.locator("#burn-stop").tap()
        expect(page.locator("#burn-state")).to_contain_text("the power goes off first")
        cable.held.set()
        page.locator(".burn-result[data-phase=stopped]").wait_for(timeout=WAIT_MS)
        page.get_by_role("button", name="Go on").tap()
        page.locator(".burn-result[data-phase=finished]").wait_for(timeout=WAIT_MS)
        expect(page.locator(".burn-result")).to_contain_text("1 event, 1 failure")
        looked_over(page)
        page.emulate_media(media="print")
        expect(page.locator(".burn-papers")).to_be_hidden()
        expect(page.locator(".burn-two")).to_be_visible()
        assert troubles == []
    with open_shop(folder) as shop:
        (kept,) = burn_ins_of(shop, TAG)
    assert (kept.state, kept.sweeps, kept.said["failures"]) == (
        "finished",
        1,
        {"hours": 0, "sweeps": 1},
    )
