"""The board in Chromium at the width of a phone: taps, dragging, keys, undo, before and after."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from needlewright.records.board import add_board_photo, board_of
from needlewright.records.opening import Shop
from needlewright.web.app import create_app
from readings.drawn_boards import DAMAGES, after_shot, before_shot
from web.live_bench import served_app
from web.sheet_desk import BY, TAG, open_job
from web.test_axe import broken
from web.walking import AXE, DESK, PHONE, TABLET, browser, make_shop, needs_chromium, watched

pytestmark = needs_chromium


@pytest.fixture
def place(tmp_path: Path) -> Iterator[tuple[str, Shop]]:
    """A job whose board was photographed from the front, before the work and after it."""
    make_shop(tmp_path / "shop")
    app = create_app(tmp_path / "shop", read_photos=False)
    with served_app(app) as url:
        shop = app.state.house.shop
        open_job(shop)
        for shot, moment in ((before_shot(), "before"), (after_shot(), "after")):
            add_board_photo(shop, TAG, shot.png, f"{moment}.png", BY, side="front", moment=moment)
        yield f"{url}/jobs/{TAG}/board", shop


def tap(page: Page, x: float, y: float) -> None:
    """Tap the photo from before the work, at shares of it."""
    stage = page.locator("[data-moment=before] .board-stage")
    stage.evaluate("one => one.scrollIntoView({block: 'start'})")
    box = stage.bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + x * box["width"], box["y"] + y * box["height"])


def places(shop: Shop) -> list[tuple[int, str, str, float, float]]:
    pins = [one.pin for one in board_of(shop, TAG).pins]
    return [(p.number, p.what, p.state, round(p.x or 0, 3), round(p.y or 0, 3)) for p in pins]


def looked_over(page: Page) -> None:
    """In every size and light nothing is wider than the screen."""
    for size, light in ((TABLET, "dark"), (DESK, "light"), (PHONE, "light")):
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=light)
        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
        if AXE.is_file() and size is not TABLET:
            assert broken(page) == []


def test_a_fault_is_pinned_moved_and_said_to_be_mended(place: tuple[str, Shop]) -> None:
    url, shop = place
    x, y = before_shot().share(DAMAGES[1])
    with browser() as opened:
        phone = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True, bypass_csp=True)
        page = phone.new_page()
        troubles = watched(page)
        page.goto(url)
        page.locator("#board[data-compared=yes]").wait_for()
        expect(page.locator("[data-moment=before] .changed")).to_have_count(2)
        tap(page, 0.5, 0.5)  # nothing is kept before it is said what and how
        expect(page.locator(".pin.pending")).to_have_count(1)
        page.get_by_role("button", name="joint", exact=True).tap()
        page.get_by_role("button", name="cracked", exact=True).tap()
        pin = page.locator("[data-moment=before] .pin[data-number='1']")
        expect(pin).to_have_attribute("aria-pressed", "true")
        assert [one[:3] for one in places(shop)] == [(1, "joint", "cracked")]
        half_a_pixel = 0.5 / page.locator(".board-stage").first.evaluate("one => one.clientHeight")
        assert places(shop)[0][3:] == pytest.approx((0.5, 0.5), abs=half_a_pixel)
        moved_by_mouse_and_keys(page, shop, (x, y))
        page.select_option("#board-part", "supply")
        expect(page.locator("#board-says")).to_contain_text("joint of the supply: cracked")
        page.locator("[data-moment=after] .pin.ghost").tap()
        expect(page.locator("#board-says")).to_contain_text("after the work: pin 2")
        there = after_shot().share(DAMAGES[1])
        assert places(shop)[1][:3] == (2, "joint", "ok")
        assert places(shop)[1][3:] == pytest.approx(there, abs=0.01)
        expect(page.locator("[data-moment=after] .pin.ghost")).to_have_count(0)
        page.locator("[data-moment=after] .pin[data-number='2']").focus()
        page.keyboard.press("Delete")
        expect(page.locator("[data-moment=after] .pin.ghost")).to_have_count(1)
        page.locator("#board-undo").tap()
        expect(page.locator("[data-moment=after] .pin[data-number='2']")).to_have_count(1)
        page.locator("[data-all=via]").first.evaluate("one => { one.click(); one.click(); }")
        expect(page.locator("#board-says")).to_contain_text("every via: sound")
        assert [p[1] for p in places(shop)].count("via") == 1
        looked_over(page)
        page.locator("#board-nearer").tap()
        assert page.evaluate("document.querySelector('.board-stage').style.width") == "150%"
        expect(page.locator("#board-foot")).to_be_visible()
        page.locator("#board-wipe").tap()
        expect(page.locator("#board-foot")).to_be_hidden()
        page.locator("#board-share").focus()
        page.keyboard.press("Home")
        laid = page.locator(".board-laid")
        expect(laid).to_have_js_property("complete", True)
        assert laid.evaluate("one => [one.naturalWidth, one.style.clipPath]") == [
            900,
            "inset(0px 0px 0px 0%)",
        ]
        assert troubles == []


def test_a_pin_is_not_left_under_what_asks_about_it(place: tuple[str, Shop]) -> None:
    url, _ = place
    with browser() as opened:
        phone = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
        page = phone.new_page()
        waiting: list[Route] = []

        def hold(route: Route) -> None:
            waiting.append(route)

        page.route("**/compare/**", hold)
        page.goto(url)
        page.locator("#board[data-ready]").wait_for()
        foot = page.locator("#board-foot")
        idle = foot.bounding_box()
        assert idle is not None
        assert idle["height"] < 64  # one line
        stage = page.locator("[data-moment=before] .board-stage")
        stage.evaluate("(one, y) => scrollBy(0, one.getBoundingClientRect().bottom - y)", idle["y"])
        box = stage.bounding_box()
        assert box is not None
        page.touchscreen.tap(box["x"] + box["width"] / 2, idle["y"] - 40)
        expect(page.locator(".pin.pending")).to_have_count(1)
        lies_free(page, idle["height"])
        waiting[0].continue_()  # what changed is said above the photo, and moves it
        page.locator("#board[data-compared=yes]").wait_for()
        lies_free(page, idle["height"])


def lies_free(page: Page, idle: float) -> None:
    """The pin that is asked about stands above the foot, which has grown."""
    pin, over = (page.locator(one).bounding_box() for one in (".pin.pending", "#board-foot"))
    assert pin is not None
    assert over is not None
    assert over["height"] > 2 * idle
    assert pin["y"] + pin["height"] <= over["y"]


def test_a_photo_that_cannot_be_taken_is_told_beside_its_button(
    place: tuple[str, Shop], tmp_path: Path
) -> None:
    url, shop = place
    large = tmp_path / "large.jpg"
    with large.open("wb") as file:
        file.truncate(94 * 1024**2)
    with browser() as opened:
        page = opened.new_context(viewport=PHONE).new_page()
        page.goto(url)
        page.locator("#board[data-ready]").wait_for()
        beside = page.locator("[data-moment=after] .wrong-place")
        page.set_input_files("#board-after-files", large)
        expect(beside).to_contain_text(
            "large.jpg: it has 94 MB, and 60 MB at most are taken; take it in a smaller size"
        )
        text = {"name": "notes.txt", "mimeType": "text/plain", "buffer": b"no photo"}
        good = {"name": "2.png", "mimeType": "image/png", "buffer": after_shot("back").png}
        page.set_input_files("#board-after-files", [text])
        expect(beside).to_contain_text("notes.txt")
        assert page.url == url
        assert len(board_of(shop, TAG).photos) == 2
        page.set_input_files("#board-after-files", [good, text])  # the one is kept, the other told
        expect(page.locator("[data-moment=after] .board-thumbs a")).to_have_count(2)
        expect(beside).to_contain_text("notes.txt")


def moved_by_mouse_and_keys(page: Page, shop: Shop, to: tuple[float, float]) -> None:
    """To its place by dragging, one step aside by a key, and back by undo."""
    pin = page.locator("[data-moment=before] .pin[data-number='1']")
    stage = page.locator("[data-moment=before] .board-stage").bounding_box()
    box = pin.bounding_box()
    assert box is not None
    assert stage is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(
        stage["x"] + to[0] * stage["width"], stage["y"] + to[1] * stage["height"], steps=4
    )
    page.mouse.up()
    undo = page.locator("#board-undo")
    expect(page.locator("#board-saved p")).to_have_text("Saved: pin 1 moved, R. Example")
    expect(undo).to_have_attribute("aria-label", "Undo: pin 1 moved")
    assert places(shop)[0][3:] == pytest.approx(to, abs=0.005)
    dragged = places(shop)[0]
    pin.focus()
    with page.expect_response("**/pins/1"):
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Shift+ArrowRight")
    assert places(shop)[0][3] == pytest.approx(dragged[3] + 0.022, abs=0.0011)
    with page.expect_response("**/undo"):
        undo.tap()
    assert places(shop)[0] == dragged
    expect(page.locator("#board-saved p")).to_contain_text("Taken back: pin 1 moved. Saved: ")
