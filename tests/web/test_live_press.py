"""Needles pressed under the live picture: the plan's targets, needle after needle, written down."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import expect

from needlewright.composing import job_press as job_press_module
from needlewright.composing.job_press import job_press
from needlewright.composing.pressed_needles import pressed_onto
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.plans.pressing.hand import tip_deg
from needlewright.records.opening import open_shop
from needlewright.records.sheet import job_sheet
from web.live_bench import Drawn, Live, WatchedDesk, clip, drawn_of, jpeg_of, served_live, stands_at
from web.live_lines import line, stood
from web.sheet_desk import TAG, desk, received, taken_run
from web.test_axe import broken
from web.test_live_page import At, before, family, opened, write_down
from web.walking import PHONE, WAIT_MS, comes, needs_chromium, watched

SHARE = 0.5
"""Of their scales: where the engine's needle is pressed."""


@dataclass(frozen=True)
class HalfWay:
    """The drawn cluster with its needles half way up."""

    drawn: Drawn

    @property
    def family(self) -> Family:
        return self.drawn.family

    def frame(self, share: float = SHARE):
        return self.drawn.frame(share * SHARE / 0.55)

    def jpeg(self, share: float = SHARE) -> bytes:
        return jpeg_of(self.drawn.frame(SHARE))


@pytest.fixture
def pressing(tmp_path: Path) -> Iterator[Live]:
    pictures = WatchedDesk()
    with desk(tmp_path / "shop", live_desk=pictures) as one:
        received(one.shop)
        run = taken_run(one, "other", {"engine": 5.0, "temp": 8.0})
        yield Live(one, run.id, HalfWay(drawn_of(one.family)), pictures)  # type: ignore[arg-type]


def facts(page: str) -> dict:
    found = re.search(r'id="live-facts">(.*?)</script>', page)
    assert found
    return json.loads(found.group(1))


def test_the_plans_targets_stand_in_the_live_place_and_what_was_pressed_is_written_down(pressing):
    plan = job_press(pressing.desk.shop, TAG)
    place = f"{pressing.place}/press"
    page = pressing.desk.get(place)
    told = facts(page)
    assert (told["take"], told["set"]) == (None, place)
    presses = [one.planned.press for one in plan.dials]
    assert [one["target_deg"] for one in told["sets"]] == [
        pytest.approx(one.reference.press_deg, abs=1e-4) for one in presses if one
    ]
    assert [one["photo"] for one in told["steps"]] == [None] * 4
    assert "Needles in turn" in page
    with line(pressing) as opened_line:
        live_id = opened_line.receive_json()["live"]
        stood(opened_line, pressing)
        answer = pressing.desk.script(place, {"live": live_id, "dial": "engine"})
        assert answer.status_code == 200, answer.text
        low = pressing.desk.script(place, {"live": live_id, "dial": "oil"})
        assert "has no place to press its needle at" in low.json()["error"]["what"]
    said = answer.json()
    assert (said["dial"], said["next"], said["open"]) == ("engine", 2, [2, 3, 4])
    assert said["says"].startswith("stays; expected pass ")
    [engine] = pressed_onto(job_sheet(pressing.desk.shop, TAG).work_done, "check").values()
    truth = stands_at(pressing.desk.family, SHARE)["engine"]
    assert engine.achieved_deg == pytest.approx(truth, abs=0.25)
    assert 0.01 < engine.u_deg < 0.3
    assert engine.intended_deg == pytest.approx(told["sets"][0]["target_deg"], abs=0.006)
    after = facts(pressing.desk.get(place))
    assert [one["photo"] for one in after["steps"]] == [1, None, None, None]
    assert "Stays; expected pass" in pressing.desk.get(f"/jobs/{TAG}/needle-set")


def test_a_needle_is_written_down_though_nothing_can_be_said_of_it(pressing, monkeypatch):
    """A run that can be planned no more at the value pressed at, corrected in another window."""

    def cannot(*_):
        raise RunError("no row of this dial tells a value near it")

    place = f"{pressing.place}/press"
    with line(pressing) as opened_line:
        live_id = opened_line.receive_json()["live"]
        stood(opened_line, pressing)
        monkeypatch.setattr(job_press_module, "_landed", cannot)
        answer = pressing.desk.script(place, {"live": live_id, "dial": "engine"})
    assert answer.status_code == 200, answer.text
    said = answer.json()
    assert said["says"].startswith("written down; what the check will give cannot be worked out")
    assert (said["left"], said["inside"], said["low"]) == ("?", False, False)
    assert list(pressed_onto(job_sheet(pressing.desk.shop, TAG).work_done, "check")) == ["engine"]
    assert said["open"] == [1, 2, 3, 4], "it is asked for again"


def test_what_cannot_be_pressed_is_one_sentence(pressing):
    place = f"{pressing.place}/press"
    none = pressing.desk.script(place, {"live": "none", "dial": "temp"})
    assert "it has ended, or belongs to another window" in none.json()["error"]["what"]
    strange = pressing.desk.client.get(f"/jobs/{TAG}/run/999/live/press")
    assert strange.status_code == 404
    assert job_sheet(pressing.desk.shop, TAG).work_done == ()


@needs_chromium
def test_needles_are_pressed_in_turn_in_a_browser(tmp_path: Path):
    with desk(tmp_path / "shop") as one:
        received(one.shop)
        run = taken_run(one, "other", {"engine": 5.0, "temp": 8.0})
    video = clip(tmp_path / "half.mjpeg", HalfWay(drawn_of(family())))  # type: ignore[arg-type]
    with served_live(tmp_path / "shop") as url, before(video) as browser:
        at = At(url, f"/jobs/{TAG}/run/{run.id}/live/press", tmp_path / "shop", run.id)
        page = opened(browser.new_context(viewport=PHONE, bypass_csp=True), at)
        troubles = watched(page)
        expect(page.locator("#set-panel")).to_be_visible()
        expect(page.locator("#set-by")).to_contain_text("by the new movement's own run")
        expect(page.locator("#set-dial")).to_contain_text("engine")
        page.click("#live-start")
        expect(page.locator("#set-word")).to_have_text("INSIDE: there", timeout=WAIT_MS)
        expect(page.locator("#live-take")).to_be_hidden()
        write_down(page)
        wrote = page.locator("#set-said")
        expect(wrote).to_contain_text("Written down: engine reached", timeout=WAIT_MS)
        expect(wrote).to_contain_text("Stays; expected pass")
        expect(page.locator("#set-dial")).to_contain_text("speed")  # offered by itself
        expect(page.locator('[data-step="1"] .live-step-state')).to_have_text("pressed")
        expect(page.locator("#set-panel")).to_have_attribute("data-inside", "no", timeout=WAIT_MS)
        expect(page.locator("#set-write")).to_have_attribute("data-key", "x")
        page.keyboard.press("n")
        expect(page.locator("#set-dial")).to_contain_text("temp")
        assert broken(page) == []
        comes(page, "document.documentElement.scrollWidth <= innerWidth")
        picture = page.locator("#live-picture")
        expect(picture).not_to_have_attribute("data-stale", "yes")
        page.click("#live-stop")
        expect(picture).to_have_attribute("data-stale", "yes")  # it does not look as if it went on
        expect(page.locator("#live-start")).to_have_attribute("data-key", "x")
        assert page.locator("#set-write[data-key]").count() == 0
        for place in ("needle-set", "needle-height"):
            page.goto(f"{url}/jobs/{TAG}/{place}")
            for width in (390, 820, 1400):
                page.set_viewport_size({"width": width, "height": 800})
                comes(page, "document.documentElement.scrollWidth <= innerWidth")
        assert troubles == []
    with open_shop(tmp_path / "shop") as shop:
        found = job_press(shop, TAG)
    came = found.dials[0].landed
    assert came is not None
    assert abs(came.off_deg) < tip_deg(found.dials[0].dial) / 4
