"""The stock in a browser: rules of accessibility, widths, and by keys without a script."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from needlewright.records.jobs import new_job
from needlewright.records.stock import receive, stock_part, use_part
from needlewright.records.stock_parts import add_part
from records.benches import ANNA, bench
from web.test_axe import served_unread, tab_to
from web.walking import (
    DESK,
    PHONE,
    TABLET,
    browser,
    needs_chromium,
)

pytestmark = needs_chromium
PAGES = ("shop/stock", "shop/stock/movement", "jobs/EX-1/stock")
LOW = """() => [...document.querySelectorAll(
    'main button, main .button, main summary, main select, .does a')]
    .filter(one => one.checkVisibility())
    .map(one => [one.textContent.trim().slice(0, 40), one.getBoundingClientRect().height])
    .filter(([, height]) => height < 43.5)"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("stock") / "shop"
    with bench(folder) as (shop, _):
        for tag in ("EX-1", "EX-2"):
            new_job(shop, {"tag": tag, "family": "fam-job", "complaint": "sticks at 60"}, ANNA)
        add_part(shop, {"code": "movement", "words": "movement", "reorder_point": 3}, ANNA)
        add_part(shop, {"code": "lamp", "words": "backlight lamp", "place": "B1"}, ANNA)
        receive(shop, "movement", 4, "EX-07", ANNA, note="an invented supplier")
        use_part(shop, "EX-1", "movement", 1, ANNA, why="fuel gauge")
    return folder


@pytest.fixture(scope="module")
def at(folder: Path) -> Iterator[str]:
    with served_unread(folder) as url:
        yield url


@pytest.fixture(scope="module")
def opened() -> Iterator[Browser]:
    with browser() as one:
        yield one


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=lambda one: str(one["width"]))
def test_it_is_no_wider_than_the_screen_and_fit_for_fingers(
    at: str, opened: Browser, size: dict[str, int]
):
    context = opened.new_context(viewport=size)
    page = context.new_page()
    for name in PAGES:
        page.goto(at + name)
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert (wide, page.evaluate(LOW)) == (0, []), name
    context.close()


def test_the_last_ones_are_used_by_keys_and_without_a_script(
    at: str, opened: Browser, folder: Path
):
    context = opened.new_context(viewport=DESK, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{at}shop/stock/movement")
    page.select_option("#person", ANNA)
    with page.expect_navigation():
        page.locator(".at-work button").press("Enter")
    late = context.new_page()
    late.goto(f"{at}shop/stock/movement?do=use")
    page.locator("#use > summary").press("Enter")
    page.locator("#use-tag").press_sequentially("ex-2")
    page.locator("#use-count").fill("3")
    page.locator("#use-why").press("Enter")
    page.wait_for_url("**/shop/stock/movement#part")
    expect(page.locator(".stands")).to_have_text(re.compile(r"^\s*0 pieces on hand\s*to reorder"))
    expect(page.locator(".ledger tbody tr").first).to_have_text(re.compile(r"^\s*−3"))
    late.locator("#use-tag").fill("EX-1")
    late.locator("#use-why").press("Enter")
    said = late.locator("#use .wrong")
    expect(said).to_contain_text(f"{ANNA} saved 'used 3' on job EX-2")
    expect(late.locator("#use-tag")).to_have_value("EX-1")
    context.close()
    with bench(folder) as (shop, _):
        assert stock_part(shop, "movement").on_hand == 0


def test_every_fold_is_reached_with_tab(at: str, opened: Browser):
    context = opened.new_context(viewport=DESK)
    page = context.new_page()
    page.goto(f"{at}shop/stock/lamp")
    for words in ("Receive", "Count", "Scrap", "Change", "Label of the drawer (PDF)"):
        tab_to(page, words)
        assert page.evaluate("document.activeElement.matches(':focus-visible')")
    context.close()
