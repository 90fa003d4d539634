"""Drafting a family in Chromium at the width of a phone: taps, dragging, undo, keeping it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from needlewright.records.families import families
from needlewright.records.opening import Shop
from needlewright.web.app import create_app
from web.drafting_page import APART_MM, here, photo_of, typed_form
from web.live_bench import served_app
from web.test_axe import broken
from web.walking import (
    AXE,
    DESK,
    PHONE,
    TABLET,
    WAIT_MS,
    browser,
    make_shop,
    needs_chromium,
    typed,
    watched,
)

pytestmark = needs_chromium


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[str, Shop, Path]]:
    """A shop's page, and a photo to draft from."""
    make_shop(tmp_path / "shop")
    photo = tmp_path / "drawn face.png"
    photo.write_bytes(photo_of())
    app = create_app(tmp_path / "shop", read_photos=False)
    app.state.house.drafts.run = here
    with served_app(app) as url:
        yield url, app.state.house.shop, photo


def tap(page: Page, at: list[float]) -> None:
    """Tap a pixel of the photo."""
    page.locator("#draft-drawn.is-placing").wait_for()
    box = page.locator("#draft-drawn").bounding_box()
    assert box is not None
    page.touchscreen.tap(
        box["x"] + (at[0] + 0.5) / 640 * box["width"],
        box["y"] + (at[1] + 0.5) / 400 * box["height"],
    )


def answered(page: Page) -> None:
    expect(page.locator("#draft-note")).to_have_text("everything is kept")


def tapped_dials(page: Page) -> None:
    for dial in typed_form()["dials"]:
        page.locator("#add-dial").tap()
        expect(page.locator("#draft-ask")).to_contain_text("Tap the hub of Dial")
        tap(page, dial["hub"])
        for number, mark in enumerate(dial["marks"]):
            expect(page.locator("#draft-ask")).to_contain_text(["first", "last"][number])
            tap(page, mark["at"])
            field = page.locator(f"#typed-{dial['key']}-mark-{number}")
            expect(field).to_be_focused()
            field.fill(mark["value"])
            field.press("Enter")
        typed(page, f"#typed-{dial['key']}-id", dial["id"])
        page.select_option(f"#typed-{dial['key']}-unit", dial["unit"])
        answered(page)


def looked_over(page: Page, name: str = "") -> None:
    """In every size and light nothing is wider than the screen or too small for a thumb."""
    for size, light in ((TABLET, "dark"), (DESK, "light"), (PHONE, "dark"), (PHONE, "light")):
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=light)
        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
        small = page.evaluate(
            """[...document.querySelectorAll('.draft :is(button, summary, input[type=text])')]
            .filter((one) => one.checkVisibility())
            .map((one) => one.getBoundingClientRect().height).filter((h) => h < 43.5)"""
        )
        assert small == []
        if AXE.is_file() and size in (PHONE, DESK):
            assert broken(page) == []


def angle(page: Page) -> float:
    return float(page.input_value("[id^=picked][id$=angle]").replace("−", "-"))


def minus(angle_deg: float) -> str:
    return f"{angle_deg:.2f}".replace("-", "−")


def test_a_family_by_taps_dragging_undo_and_keeping(desk: tuple[str, Shop, Path]) -> None:
    url, shop, photo = desk
    with browser() as opened:
        phone = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True, bypass_csp=True)
        page = phone.new_page()
        troubles = watched(page)
        page.goto(f"{url}/families")
        page.get_by_role("link", name="Draft a family from photos").tap()
        page.fill("#draft-name", "By taps")
        if AXE.is_file():
            assert broken(page) == []
        page.set_input_files("#draft-photos", photo)
        page.get_by_role("button", name="Begin").tap()
        page.locator("#draft[data-ready]").wait_for()
        tapped_dials(page)
        page.get_by_label("From hub to hub").check()
        page.locator("#draft-do").tap()  # the length and its ends are not typed yet
        expect(page.locator("#typed-length-wrong")).to_contain_text("no number above 0")
        typed(page, "#typed-length", APART_MM)
        page.select_option("#size-from", "d1")
        page.select_option("#size-to", "d2")
        page.get_by_label("The needles are at rest in this photo").check()
        answered(page)
        page.get_by_label("Needles are pulled").check()
        answered(page)
        expect(page.get_by_label("The needles are at rest in this photo")).to_have_count(0)
        page.fill("#typed-d1-mark-1", "18o")
        page.reload()  # before it was left: it is there again
        expect(page.locator("#typed-d1-mark-1")).to_have_value("18o")
        answered(page)
        page.locator("#draft-do").tap()
        expect(page.locator("#draft-desk")).to_contain_text("this is not a number")
        page.locator("#draft-undo").tap()
        expect(page.locator("#typed-d1-mark-1")).to_have_value("180")
        page.locator("#draft-do").tap()
        expect(page.locator("#draft-keep")).to_be_visible(timeout=WAIT_MS)
        expect(page.locator("#draft-drawn .mark.major")).to_have_count(15)
        looked_over(page)
        dragged(page)
        lined(page)
        renamed(page, troubles)
        page.locator("#draft-keep").tap()
        expect(page.locator(".is-saved-note")).to_contain_text("Kept as version 1 of By taps.")
        assert troubles == []
    (kept,) = [one for one in families(shop) if one.name == "By taps"]
    assert kept.number == 1


def finger(page: Page, handle: Locator, by: tuple[int, int]) -> None:
    """Drag with a finger: the handle moves, and the photo under it does not scroll."""
    box = handle.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    line = page.context.new_cdp_session(page)
    for kind, share in (("Start", 0.0), ("Move", 0.5), ("Move", 1.0), ("End", None)):
        points = [] if share is None else [{"x": x + share * by[0], "y": y + share * by[1]}]
        line.send("Input.dispatchTouchEvent", {"type": f"touch{kind}", "touchPoints": points})
    assert page.evaluate("document.getElementById('draft-view').scrollTop") == 0
    expect(page.locator("#draft-redo")).to_be_disabled()


def dragged(page: Page) -> None:
    """A mark by the mouse and by the keys, typed, added, taken away; each is taken back."""
    marks = page.locator("#draft-drawn .mark")
    many = marks.count()
    mark = page.locator('[data-id="found:0:4"]')
    box = mark.locator(".grab").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.up()
    before = angle(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 2, y - 5, steps=3)
    page.mouse.up()
    expect(page.locator("[id^=picked][id$=angle]")).not_to_have_value(minus(before))
    moved = angle(page)
    assert 1.0 < moved - before < 8.0
    finger(page, mark.locator(".grab"), (2, -5))
    expect(page.locator("[id^=picked][id$=angle]")).not_to_have_value(minus(moved))
    assert 1.0 < angle(page) - moved < 8.0
    page.locator("#draft-undo").tap()
    expect(page.locator("[id^=picked][id$=angle]")).to_have_value(minus(moved))
    mark.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    expect(page.locator("[id^=picked][id$=angle]")).to_have_value(minus(moved + 0.55))
    page.locator("#draft-undo").tap()
    page.locator("#draft-undo").tap()
    expect(page.locator("[id^=picked][id$=angle]")).to_have_value(minus(before))
    page.locator("#picked-remove").tap()
    expect(marks).to_have_count(many - 1)
    page.locator("#draft-undo").tap()
    expect(marks).to_have_count(many)
    typed(page, "#found-0-x", "thirty")
    expect(page.locator("#found-0-x-wrong")).to_contain_text("not a number")
    page.locator("#draft-keep").tap()  # not with something that was not understood
    expect(page.locator("#draft-desk [role=alert]")).to_contain_text("was not understood")
    page.locator("#draft-undo").tap()
    answered(page)
    page.locator("#draft-redo").tap()
    expect(marks).to_have_count(many - 1)
    page.locator("#draft-undo").tap()
    expect(marks).to_have_count(many)
    answered(page)


def renamed(page: Page, troubles: list[str]) -> None:
    """An id that answers could not name is refused beside its field, and stays typed."""
    typed(page, "#found-0-id", "a:b")
    expect(page.locator("#found-0-id-wrong")).to_contain_text("an id has no blanks")
    expect(page.locator("#found-0-id")).to_have_value("a:b")
    page.locator("#draft-undo").tap()  # takes back the text that was refused
    answered(page)
    assert ["422" in one for one in troubles] == [True]
    troubles.clear()


def lined(page: Page) -> None:
    """A mark's line is drawn as long as it was seen, and as far past the centre."""
    ends = page.evaluate(
        "import('/static/drafts_face.js').then((face) => face.markLine([10, 20],"
        " {inner_mm: 5, outer_mm: 9, past_mm: 0.4}, 30))"
    )
    far = [((x - 10) ** 2 + (y - 20) ** 2) ** 0.5 for x, y in ends]
    assert far == pytest.approx([5.0, 9.0], abs=1e-9)
    (x0, y0), (x1, y1) = ends  # and it passes the centre 0.4 to the right, seen outwards
    assert ((x1 - x0) * (y0 - 20) - (y1 - y0) * (x0 - 10)) / 4 == pytest.approx(0.4, abs=0.01)
