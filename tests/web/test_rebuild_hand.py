"""A hand on the rebuild and on a guide: by touch and by keys, in the light and in the dark."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from composing.planned_work import SLIPS, WORN, planned
from needlewright.records.opening import open_shop
from needlewright.records.plans import keep_plan
from needlewright.records.ticks import ticks_of
from web.sheet_desk import TAG, desk, received
from web.test_axe import broken, served_unread
from web.walking import PHONE, browser, comes, needs_chromium, watched

pytestmark = needs_chromium
GUIDE = f"guides/replace-movement?job={TAG}&dial=engine"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made: Path = tmp_path_factory.mktemp("rebuild") / "shop"
    with desk(made) as opened:
        received(opened.shop)
        keep_plan(opened.shop, TAG, planned(opened.family, TAG, SLIPS | WORN))
    return made


@pytest.fixture(scope="module")
def url(folder: Path) -> Iterator[str]:
    with served_unread(folder) as address:
        yield address


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


def test_steps_are_ticked_by_touch_and_by_keys(url: str, chromium: Browser, folder: Path) -> None:
    context = chromium.new_context(viewport=PHONE, has_touch=True, is_mobile=True, bypass_csp=True)
    page = context.new_page()
    troubles = watched(page)
    with open_shop(folder) as kept:
        before = len(ticks_of(kept, TAG))
    page.goto(f"{url}jobs/{TAG}/rebuild")
    page.locator("#sheet[data-ready]").wait_for()
    sizes = page.evaluate(
        "() => [...document.querySelectorAll('button.box, .step-words, summary, .button')]"
        ".filter(one => one.checkVisibility())"
        ".map(one => one.getBoundingClientRect().height).filter(h => h < 43.5)"
    )
    assert sizes == []
    page.tap("#step-1-box")
    assert page.get_attribute("#step-1-box", "aria-checked") == "true", "at once"
    page.tap("label[for='step-2-box']")
    page.locator("#step-2[data-done] .who").wait_for()
    page.locator("#far", has_text="2 of 23 steps").wait_for()
    page.focus("#step-3-box")
    page.keyboard.press("Space")
    page.locator("#step-3[data-done] .who").wait_for()
    comes(page, "document.activeElement.id === 'step-3-box'")
    page.keyboard.press("u")
    page.locator("#far", has_text="2 of 23 steps").wait_for()
    page.keyboard.press("x")
    page.locator("#far", has_text="3 of 23 steps").wait_for()
    page.click("#step-4-note > summary")
    page.fill("#note-4-words", "found one more cracked joint")
    page.click("#note-4 button")
    page.locator("#step-4 .step-notes", has_text="one more cracked joint").wait_for()
    assert broken(page) == []
    # a box that cannot be kept goes back, and says why
    page.route("**/rebuild/tick", lambda route: route.abort())
    page.tap("#step-5-box")
    page.locator("[data-wrong-of='steps'] .wrong").wait_for()
    expect(page.locator("#step-5-box")).to_have_attribute("aria-checked", "false")
    assert [one for one in troubles if "ERR_FAILED" not in one] == []
    context.close()
    with open_shop(folder) as kept:
        assert [(t.key.partition(":")[0], t.mark) for t in ticks_of(kept, TAG)[before:]] == [
            ("open", "done"),
            ("open", "done"),
            ("open", "done"),
            ("open", "note"),
        ]


def test_parts_are_counted_on_a_phone(url: str, chromium: Browser) -> None:
    context = chromium.new_context(
        viewport=PHONE, has_touch=True, is_mobile=True, bypass_csp=True, color_scheme="dark"
    )
    page = context.new_page()
    troubles = watched(page)
    page.goto(f"{url}{GUIDE}")
    page.locator("#sheet[data-ready]").wait_for()
    page.tap("label[for='step-1']")
    page.locator("#far", has_text="1 of 11").wait_for()
    page.fill("#count-1-out", "7")
    page.fill("#count-1-in", "5")
    page.press("#count-1-in", "Tab")
    page.locator("#not-even .wrong", has_text="2 missing").wait_for()
    page.fill("#count-1-in", "many")
    page.press("#count-1-in", "Tab")
    beside = page.locator("td:has(#count-1-in) .wrong", has_text="found 'many'")
    beside.wait_for()
    comes(page, "document.documentElement.scrollWidth <= window.innerWidth")
    assert page.input_value("#count-1-in") == "many"
    page.fill("#count-1-in", "7")
    page.press("#count-1-in", "Tab")
    page.locator("#count-1-even", has_text="all back").wait_for()
    expect(beside).to_have_count(0)
    assert broken(page) == []
    comes(page, "document.documentElement.scrollWidth <= window.innerWidth")
    assert [one for one in troubles if "422" not in one] == []
    context.close()
