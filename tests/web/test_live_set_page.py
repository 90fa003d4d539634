"""Setting needles in Chromium: the target drawn, what is left, by eye and by ear."""

import re
from collections.abc import Iterator
from math import radians
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from needlewright.composing.pressed_needles import pressed_in
from needlewright.records.opening import open_shop
from needlewright.records.runs import start_run
from needlewright.records.sheet import job_sheet
from web.live_bench import served_live, stands_at
from web.sheet_desk import TAG, desk, received
from web.test_axe import broken
from web.test_live_page import At, before, family, opened, video, write_down
from web.test_live_set import OFF_DEG, steps_to_set
from web.walking import DESK, WAIT_MS, needs_chromium, watched

__all__ = ["video"]  # a fixture, found by its name
pytestmark = needs_chromium


@pytest.fixture
def at(tmp_path: Path) -> Iterator[At]:
    with desk(tmp_path / "shop") as one:
        received(one.shop)
        run = start_run(one.shop, TAG, "found", steps_to_set(one.family, OFF_DEG))
    with served_live(tmp_path / "shop") as url:
        yield At(url, f"/jobs/{TAG}/run/{run.id}/live", tmp_path / "shop", run.id)


def choose(page: Page, dial: str) -> None:
    for _ in range(4):
        if page.locator("#set-dial").inner_text().startswith(dial):
            return
        page.click("#set-next")
    raise AssertionError(f"no needle '{dial}'")


def test_a_needle_is_led_to_its_target_and_written_down(at: At, video: Path):
    speed = family().dial("speed")
    assert speed is not None
    with before(video) as browser:
        page = opened(browser.new_context(viewport=DESK, bypass_csp=True), at, "?step=0")
        troubles = watched(page)
        page.click("#set-mode")
        expect(page.locator("#set-dial")).to_contain_text("tells no dial a value")
        page.click('[data-step="2"]')
        choose(page, "speed")
        page.click("#set-sound")
        page.click("#live-start")
        expect(page.locator("#set-panel")).to_have_attribute("data-inside", "no", timeout=WAIT_MS)
        seen = page.wait_for_function(  # in one moment in which the needle stands
            """() => document.getElementById("set-write").ariaDisabled === "false" &&
            ["set-left", "set-tips", "set-shape", "set-word"].map(
              (id) => document.getElementById(id).textContent)""",
            timeout=WAIT_MS,
        ).json_value()
        left = float(seen[0].removesuffix("°"))
        assert left == pytest.approx(OFF_DEG, abs=0.3)
        tips = radians(left) * speed.needle.length_mm / speed.needle.tip_width_mm
        assert seen[1] == f"{tips:.1f} tip widths" or abs(float(seen[1].split()[0]) - tips) < 0.1
        assert seen[2:] == ["↻", "Turn it clockwise"]
        expect(page.locator("#set-sound")).to_have_attribute("data-sounding", "pulses")
        assert broken(page) == []
        page.click('[data-step="1"]')
        expect(page.locator("#set-word")).to_have_text("INSIDE: there", timeout=WAIT_MS)
        expect(page.locator("#set-shape")).to_have_text("◎")
        expect(page.locator("#set-sound")).to_have_attribute("data-sounding", "held")
        write_down(page)
        said = page.locator("#set-said")
        expect(said).to_contain_text(re.compile("Written down: speed intended"), timeout=WAIT_MS)
        expect(said).to_have_attribute("data-good", "true")
        page.click("#live-stop")
        expect(page.locator("#set-panel")).to_have_attribute("data-inside", "unseen")
        expect(page.locator("#set-sound")).to_have_attribute("data-sounding", "silent")
        assert troubles == []
    with open_shop(at.folder) as shop:
        [needle] = pressed_in(job_sheet(shop, TAG).work_done)
    assert (needle.dial, abs(needle.achieved_deg) < 0.5) == ("speed", True)
    assert stands_at(family())["speed"] == pytest.approx(speed.programme_angle_deg(_told(at)))


def _told(at: At) -> float:
    row = next(one for one in at.run().told if (one.step, one.dial) == (1, "speed"))
    assert row.commanded is not None
    return row.commanded
