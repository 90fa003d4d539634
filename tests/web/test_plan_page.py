"""The plan in a browser: made by a key, held against axe-core's rules, printed, its text copied."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page, Route, expect

from needlewright.composing.job_answers import Decision, overrule
from web.sheet_desk import TAG
from web.test_axe import AXE, NO_AXE, broken, served_unread, unfold
from web.test_plan import SOUND, planned
from web.test_plan import opened as opened_shop
from web.walking import DESK, PHONE, browser, needs_chromium, watched

pytestmark = needs_chromium


@pytest.fixture(scope="module")
def opened() -> Iterator[Browser]:
    with browser() as one:
        yield one


@pytest.fixture(scope="module")
def at(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the page of a shop with a plan, and one to be made, is served."""
    folder = tmp_path_factory.mktemp("plan-page") / "shop"
    shutil.copytree(planned(), folder)
    with opened_shop(folder) as one:
        overrule(one.shop, SOUND, Decision("speed", ("lost_steps",), "seen slipping", "movement"))
    with served_unread(folder) as url:
        yield url


def too_wide(page: Page) -> int:
    return int(page.evaluate("document.documentElement.scrollWidth - window.innerWidth"))


@pytest.mark.skipif(not AXE.is_file(), reason=NO_AXE)
@pytest.mark.parametrize(
    ("place", "size", "light"),
    [
        ("plan", DESK, "light"),
        ("plan", PHONE, "dark"),
        ("plan/quote", PHONE, "light"),
    ],
)
def test_no_serious_violation(
    at: str, opened: Browser, place: str, size: dict[str, int], light: str
) -> None:
    context = opened.new_context(viewport=size, color_scheme=light, bypass_csp=True)
    page = context.new_page()
    troubles = watched(page)
    page.goto(f"{at}jobs/{TAG}/{place}")
    page.locator("#sheet[data-ready]").wait_for()
    unfold(page)
    tall = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": size["width"], "height": max(tall, size["height"])})
    found, wide = broken(page), too_wide(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, .button, summary, select, .tick, a.look')]
        .filter(one => one.checkVisibility() && !one.closest('noscript'))
        .map(one => [one.textContent.trim().slice(0, 40), one.getBoundingClientRect().height])
        .filter(([, height]) => height < 43.5)"""
    )
    context.close()
    assert found == []
    assert wide <= 0, "the page is wider than the screen"
    assert small == []
    assert troubles == []


def test_a_plan_is_made_by_a_key_and_its_message_copied(at: str, opened: Browser) -> None:
    context = opened.new_context(viewport=PHONE, permissions=["clipboard-read", "clipboard-write"])
    page = context.new_page()
    troubles = watched(page)
    page.goto(f"{at}jobs/{SOUND}/plan")
    page.locator("#sheet[data-ready]").wait_for()
    expect(page.locator(".stands-words")).to_have_text("No plan yet")
    sent: list[str] = []

    def never_answered(route: Route) -> None:
        sent.append(route.request.method)
        route.fulfill(status=204)

    page.route(f"**/jobs/{SOUND}/plan", never_answered)
    page.keyboard.press("x")
    page.locator("[data-made]", has_text="Working it out").wait_for()
    page.keyboard.press("x")  # it is being worked out: a second press does nothing
    assert sent == ["POST"]
    page.unroute(f"**/jobs/{SOUND}/plan")
    page.reload()
    page.locator("#sheet[data-ready]").wait_for()
    page.keyboard.press("x")
    page.locator(".stands-words", has_text="Not accepted yet").wait_for()
    assert too_wide(page) <= 0
    tops = page.evaluate(
        "[...document.querySelectorAll('.option')].map(o => o.getBoundingClientRect().x)"
    )
    assert len(set(tops)) == 1  # one below the other
    page.locator("#quote a").click()
    page.locator("[data-copy]").click()
    page.locator("[data-copied]", has_text="Copied").wait_for()
    said = page.evaluate("navigator.clipboard.readText()")
    assert said == page.locator("#message").inner_text()
    assert said.count("acceptance of plan ") == 3
    context.close()
    assert troubles == []


def test_it_is_said_when_what_is_known_has_changed_since(at: str, opened: Browser) -> None:
    context = opened.new_context(viewport=DESK)
    page = context.new_page()
    page.route("**/plan/fresh", lambda route: route.fulfill(json={"same": False}))
    page.goto(f"{at}jobs/{TAG}/plan")
    page.locator("#fresh .stale", has_text="made now, this plan would be another").wait_for()
    expect(page.locator("#terms-fold")).to_have_js_property("open", True)
    # the one next thing is another then
    assert page.locator(".button.main").all_inner_texts() == ["Make it anew"]
    assert page.locator("[data-key=x]").all_inner_texts() == ["Make it anew"]
    context.close()


def test_it_prints_with_what_is_left_and_nothing_to_press(
    at: str, opened: Browser, tmp_path: Path
) -> None:
    context = opened.new_context(viewport=DESK)
    page = context.new_page()
    page.goto(f"{at}jobs/{TAG}/plan")
    page.locator("#sheet[data-ready]").wait_for()
    page.pdf(path=tmp_path / "plan.pdf", format="A4")
    context.close()
    pdf = pypdfium2.PdfDocument(tmp_path / "plan.pdf")
    words = " ".join(" ".join(leaf.get_textpage().get_text_range() for leaf in pdf).split())
    count = len(pdf)
    pdf.close()
    assert count <= 7
    for said in ("Not accepted yet", "Three options", "Thing by thing", "Caution: ", " min"):
        assert said in words
    for pressed in ("Undo", "Enter the yes", "Look it over", "Make it anew", "Back to the sheet"):
        assert pressed not in words
