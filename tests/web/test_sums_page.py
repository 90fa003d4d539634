"""A sum on the page in a browser: worked out while it is typed into, on a phone and a desk."""

import re
from collections.abc import Iterator
from itertools import pairwise

import pytest
from playwright.sync_api import Browser, Page, expect

from web.bench_page import page as shop_page
from web.test_axe import broken, served_unread
from web.walking import AXE, DESK, NO_AXE, PHONE, TABLET, browser, comes, needs_chromium, watched

pytestmark = needs_chromium
WIDER = "document.documentElement.scrollWidth - window.innerWidth"


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("sums") / "shop"
    with shop_page(folder):
        pass
    with served_unread(folder) as where:
        yield where


@pytest.fixture(scope="module")
def opened() -> Iterator[Browser]:
    with browser() as one:
        yield one


def answer_becomes(page: Page, words: str) -> None:
    page.wait_for_function(
        "words => document.querySelector('#answer-said').textContent.includes(words)", arg=words
    )


def test_a_sum_is_worked_out_as_it_is_typed_into(url: str, opened: Browser) -> None:
    context = opened.new_context(viewport=PHONE)
    page = context.new_page()
    troubles = watched(page)
    page.goto(f"{url}sums")
    page.keyboard.press("3")  # the place of the sums
    page.get_by_role("link", name="LEDs in the place of a lamp").click()
    page.locator("#sum[data-ready]").wait_for()
    answer_becomes(page, "1\u202f100 Ω")
    page.fill("#in-current", "20")
    answer_becomes(page, "560 Ω")
    expect(page).to_have_url(re.compile("current=20"))  # it says what was worked out
    expect(page.locator(".sum-drawing svg text", has_text="560 Ω")).to_have_count(1)
    # On a phone the answer stays in view while the last field is typed into.
    page.fill("#in-monitor", "60")
    answer_becomes(page, "takes the lamp for broken")
    top = "document.querySelector('#answer-said').getBoundingClientRect().top"
    comes(page, f"0 <= {top} && {top} < {PHONE['height'] / 2}")
    assert troubles == []
    page.locator("#why summary").click()
    page.fill("#in-current", "many")
    beside = page.locator('[data-wrong-of="current"]')
    beside.get_by_text("expected a number from 0.1 to 2\u202f000 mA, found 'many'").wait_for()
    answer_becomes(page, "Not worked out")
    expect(page.locator("#in-current")).to_have_attribute("aria-invalid", "true")
    assert page.input_value("#in-current") == "many", "what was typed stays"
    page.fill("#in-current", "0.02 A")
    answer_becomes(page, "560 Ω")
    expect(beside).to_have_text("")
    expect(page.locator("#in-current")).not_to_have_attribute("aria-invalid", re.compile(".*"))
    assert page.evaluate("document.activeElement.id") == "in-current"
    page.select_option("#in-dimming", "pulses")
    page.get_by_text("Light when dimmed, of the undimmed").wait_for()
    page.get_by_role("link", name="As it was at first").click()
    answer_becomes(page, "1\u202f100 Ω")
    expect(page.locator("#in-monitor")).to_have_value("")
    for size in (PHONE, TABLET, DESK):
        page.set_viewport_size(size)
        assert page.evaluate(WIDER) <= 0
    context.close()


def test_without_scripts_a_form_is_sent(url: str, opened: Browser) -> None:
    context = opened.new_context(viewport=TABLET, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{url}sums/lamp-life")
    page.fill("#in-voltage", "14")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".large strong")).to_have_text("1.00")
    expect(page.locator("#in-voltage")).to_have_value("14")
    context.close()


def test_a_recording_is_read_as_a_spreadsheet_saved_it(url: str, opened: Browser) -> None:
    knots = (
        (0, 25),
        (62, 149),
        (156, 198),
        (180, 217),
        (200, 240),
        (220, 240),
        (270, 217),
        (330, 60),
    )
    rows = "".join(
        f"{t0 + (t1 - t0) * i / 20:.1f};{c0 + (c1 - c0) * i / 20:.1f}\n".replace(".", ",")
        for (t0, c0), (t1, c1) in pairwise(knots)
        for i in range(20)
    )
    context = opened.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{url}sums/reflow")
    page.locator("#sum[data-ready]").wait_for()
    expect(page.locator(".large strong")).to_have_text("does not conform")  # the example
    for encoding in ("cp1252", "utf-16"):
        content = ("Zeit [s];Platine [°C]\n" + rows).encode(encoding)
        file = {"name": "a.csv", "mimeType": "text/csv", "buffer": content}
        page.set_input_files("#file-csv", file)
        expect(page.locator("#in-csv")).to_have_value(re.compile(r"Platine \[°C\]"))
        expect(page.locator(".large strong")).to_have_text("conforms")
        page.fill("#in-csv", "time_s,board\n0,25")
        beside = page.locator('[data-wrong-of="csv"]')
        expect(beside).to_contain_text("column 2, 'board', says no unit")
        expect(page.locator("#in-csv")).to_have_attribute("aria-invalid", "true")
    context.close()


def test_the_limits_of_a_paste_open_where_one_of_them_is_wrong(url: str, opened: Browser) -> None:
    context = opened.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{url}sums/reflow")
    page.locator("#sum[data-ready]").wait_for()
    group, summary = page.locator(".input-group"), page.locator(".input-group summary")
    expect(page.locator("#in-paste-climb")).not_to_be_visible()
    summary.click()
    page.fill("#in-paste-climb", "1,5")
    answer_becomes(page, "board, climb: does not conform; 1.86 K/s, at most 1.5 K/s, the paste's.")
    page.fill("#in-paste-peak-least", "245")
    answer_becomes(page, "at least 245 °C, the paste's")
    summary.click()
    expect(group).not_to_have_attribute("open", re.compile(".*"))
    page.fill("#in-peak-most", "240")  # no profile keeps both
    expect(group).to_have_attribute("open", re.compile(".*"))
    expect(page.locator('[data-wrong-of="paste-peak-least"]')).to_contain_text("cannot both be")
    assert page.evaluate(WIDER) <= 0
    context.close()


@pytest.mark.skipif(not AXE.is_file(), reason=NO_AXE)
def test_sums_have_no_serious_violation(url: str, opened: Browser) -> None:
    for light, size, name in (
        ("light", DESK, "sums"),
        ("dark", DESK, "sums/filament-drop"),
        ("light", PHONE, "sums/broken-trace?current=3"),
        ("dark", PHONE, "sums/lamp-life?voltage=x"),
    ):
        context = opened.new_context(viewport=size, color_scheme=light, bypass_csp=True)
        page = context.new_page()
        page.goto(f"{url}{name}")
        tall = page.evaluate("document.documentElement.scrollHeight")
        page.set_viewport_size({"width": size["width"], "height": max(tall, size["height"])})
        assert broken(page) == [], name
        context.close()
