"""The whole job by browser: on the desk, and by phone over TLS."""

from pathlib import Path

from playwright.sync_api import Page, expect
from pypdf import PdfReader

from web.test_axe import served_unread
from web.walking import (
    DESK,
    PHONE,
    WAIT_MS,
    browser,
    comes,
    make_shop,
    needs_chromium,
    next_is,
    photos_of,
    served,
    table_of,
    typed,
    watched,
)

pytestmark = needs_chromium


def new_tag(page: Page, url: str) -> None:
    page.goto(f"{url}jobs/new")
    page.fill("#new-tag", "EX-0412")
    page.fill("#new-serial", "INVENTED-771")
    page.select_option("#new-variant", "kmh-220")
    page.fill("#new-owner", "A. Sample")
    page.fill("#new-vehicle", "an invented estate car of no maker")
    page.fill("#new-max_speed", "200")
    page.fill("#new-complaint", "speedometer sticks, then jumps")
    page.click("main button.main")
    next_is(page, "Write down who sent it")


def receive(page: Page) -> None:
    typed(page, "#received-sender", "A. Sample")
    next_is(page, "Tick off what came in the box")
    page.locator("#received-contents input[type=checkbox]").first.check()
    next_is(page, "Write down its condition")
    typed(page, "#received-condition", "lens scratched at the lower left")
    next_is(page, "Record the odometer")
    typed(page, "#received-odometer_in", "771 627")
    next_is(page, "Family")
    for what, then in (
        ("family", "Variant"),
        ("variant", "km/h or mph face"),
        ("face", "Connector"),
        ("connector", "Finish Received"),
    ):
        page.locator(f"#check-{what} input[value=yes]").check()
        next_is(page, then)
    camera = "#photos-received-odometer-camera"
    page.set_input_files(camera, photos_of("as-found")[0])
    page.locator("#photos-received-odometer-list li").wait_for()
    page.click("#next-thing .main")
    next_is(page, "Start the run as found")


def photograph(page: Page, side: str, run: str, then: str) -> None:
    page.set_input_files(f"#{side}-files", [table_of(run), *photos_of(run)])
    page.locator(f"#{side}-run progress").wait_for(timeout=WAIT_MS)
    next_is(page, then)


def set_needles(page: Page) -> None:
    next_is(page, "Set the engine needle: 3.4 ± 0.2° clockwise")
    expect(page.locator("#needle-engine .measures")).to_contain_text("1.7")
    page.click("#needle-engine form[data-wrong] button")
    next_is(page, "See to speed")
    for dial in ("speed", "fuel"):
        page.fill(f"#needle-{dial}-what", "movement replaced")
        page.click(f"#needle-{dial} form[data-wrong] button")
        page.locator(f"#needle-{dial} .done").wait_for()
    next_is(page, "Finish Needles")
    page.click("#next-thing .main")
    next_is(page, "Start the run as left")


def issue(page: Page, folder: Path) -> str:
    typed(page, "#final-odometer_out", "771627")
    next_is(page, "Issue the certificate")
    page.click("#papers-certificate")
    page.get_by_role("button", name="Issue this certificate").click()
    next_is(page, "Finish the final check")
    with page.expect_download() as download:
        page.click("#papers-left a[download$='.pdf'] >> nth=0")
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return " ".join(sheet.extract_text() for sheet in PdfReader(path).pages)


def send_back(page: Page) -> None:
    page.click("#next-thing .main")
    next_is(page, "Tick off what goes into the box")
    page.locator("#returned-contents input[type=checkbox]").first.check()
    next_is(page, "Write down the packing")
    typed(page, "#returned-packing", "double box, foam")
    next_is(page, "Write down the carrier")
    typed(page, "#returned-carrier", "parcel, number 123")
    next_is(page, "Finish: it has left the house")
    page.click("#next-thing .main")
    next_is(page, "Nothing left to do: returned.")


def certified(text: str) -> None:
    """What the certificate of the demonstration's photos must say."""
    for words in (
        "EX-0412",
        "A. Sample",
        "771 627 km",
        "engine: needle turned 3.4° clockwise",
        "speed: movement replaced",
        "UN Regulation No. 39",
        "INVENTED DEMONSTRATION",
        "relate only to the item",
    ):
        assert words in " ".join(text.split()), words
    assert "does not conform" in text  # as found
    assert "Certificate" in text


def test_the_whole_job_on_the_desk(tmp_path: Path):
    make_shop(tmp_path / "shop")
    with served(tmp_path / "shop") as at, browser() as opened:
        page = opened.new_page(viewport=DESK)
        troubles = watched(page)
        new_tag(page, at.url)
        receive(page)
        photograph(page, "found", "as-found", "Finish the bench check")
        expect(page.locator("#found-dial-speed table")).to_contain_text("does not conform")
        page.click("#found-dial-speed tbody tr >> nth=3 >> a.why >> nth=1")
        why = page.locator("#aside .why-answer")
        why.wait_for()
        expect(page.locator("#aside h1")).to_have_text("speed at 80 up, as found")
        expect(why).to_contain_text("83.0 ± 0.4 km/h")
        page.locator("#aside .evidence img").evaluate("image => image.decode()")
        page.keyboard.press("Escape")
        page.click("#next-thing .main")
        set_needles(page)
        photograph(page, "left", "as-left", "Record the odometer as it goes out")
        certified(issue(page, tmp_path))
        send_back(page)
        page.goto(at.url)
        assert "EX-0412" not in page.inner_text("main")
        assert troubles == []


def test_the_whole_job_by_phone_over_tls(tmp_path: Path):
    make_shop(tmp_path / "shop")
    with served(tmp_path / "shop", "--lan") as at, browser() as opened:
        assert at.url.startswith("https://")
        assert at.code
        phone = opened.new_context(
            viewport=PHONE, has_touch=True, is_mobile=True, ignore_https_errors=True
        )
        page = phone.new_page()
        page.goto(at.url)
        assert "EX-" not in page.inner_text("body")
        page.fill("input[name=code]", at.code)
        page.keyboard.press("Enter")
        page.get_by_role("link", name="Shelf").wait_for()
        troubles = watched(page)
        new_tag(page, at.url)
        receive(page)
        photograph(page, "found", "as-found", "Finish the bench check")
        comes(page, f"document.documentElement.scrollWidth <= {PHONE['width']}")
        strip = page.locator("#found-dial-speed .strip img")
        strip.scroll_into_view_if_needed()
        wide = strip.evaluate("image => image.decode().then(() => image.naturalWidth)")
        assert 300 < wide <= PHONE["width"] - 32  # whole, with nothing to scroll
        page.click("#next-thing .main")
        set_needles(page)
        photograph(page, "left", "as-left", "Record the odometer as it goes out")
        certified(issue(page, tmp_path))
        send_back(page)
        assert troubles == []


def by_keys(page: Page, *words: str) -> None:
    """Words and keys, one after the other, where the page has put the hand."""
    for word in words:
        if word in ("Tab", "Space", "Enter", "Escape"):
            page.keyboard.press(word)
        else:
            page.keyboard.type(word)


def new_tag_by_keys(page: Page) -> None:
    """From the shelf: n, the fields in their order, Enter."""
    page.keyboard.press("n")
    page.locator("#new-tag").focus()
    by_keys(page, "EX-0412", "Tab", "Tab", "INVENTED-771", "Tab", "kmh", "Tab")
    by_keys(page, "speedometer sticks", "Tab", "A. Sample", "Enter")
    next_is(page, "Write down who sent it")


def receive_by_keys(page: Page) -> None:
    """The next thing's key leads to each field in turn; nothing else is known of the page."""
    for words, then in (
        (("A. Sample", "Tab"), "Tick off what came in the box"),
        (("Tab", "Space"), "Write down its condition"),
        (("lens scratched", "Tab"), "Record the odometer"),
        (("771627", "Tab"), "Family"),
        (("Tab", "Space"), "Variant"),
        (("Tab", "Space"), "km/h or mph face"),
        (("Tab", "Space"), "Connector"),
        (("Tab", "Space"), "Finish Received"),
    ):
        page.keyboard.press("x")
        by_keys(page, *words)
        next_is(page, then)
        page.keyboard.press("Escape")
    page.keyboard.press("x")
    next_is(page, "Start the run as found")


def test_step_by_step_with_the_phones_camera_and_the_keyboard_alone(tmp_path: Path):
    make_shop(tmp_path / "shop")
    with served(tmp_path / "shop") as at, browser() as opened:
        page = opened.new_page(viewport=PHONE)
        # The driver begins to look out for choosers only when somebody listens, and a key pressed
        # at that same moment can be ahead of it: so somebody listens from the start.
        page.on("filechooser", lambda _: None)
        troubles = watched(page)
        page.goto(at.url)
        new_tag_by_keys(page)
        receive_by_keys(page)
        by_keys(page, "x", "Tab", "Tab", "Enter")  # past the bench, to the way with photos
        page.get_by_role("button", name="Start the run with these steps").focus()
        page.keyboard.press("Enter")
        next_is(page, "Photograph step 0: at rest")
        with page.expect_file_chooser() as chooser:
            page.keyboard.press("x")
        chooser.value.set_files(photos_of("as-found")[0])
        next_is(page, "Photograph step 1")
        page.locator("#found-step-0[data-state=read]").wait_for(timeout=WAIT_MS)
        with page.expect_file_chooser():  # the hand is at a photo's field; the key still acts
            page.keyboard.press("x")
        page.keyboard.press("u")
        next_is(page, "Photograph step 0")
        assert troubles == []


def test_two_people_at_the_same_field(tmp_path: Path):
    make_shop(tmp_path / "shop")
    with served_unread(tmp_path / "shop") as url, browser() as opened:
        first, second = (opened.new_context(viewport=DESK).new_page() for _ in range(2))
        new_tag(first, url)
        second.goto(f"{url}jobs/EX-0412")
        second.fill("#received-sender", "a carrier")
        typed(first, "#received-sender", "the owner")
        next_is(first, "Tick off what came in the box")
        second.press("#received-sender", "Tab")
        said = second.locator(".field:has(#received-sender) .wrong")
        expect(said).to_contain_text("R. Example saved 'sender'")
        assert second.input_value("#received-sender") == "a carrier"
        second.fill("#received-sender", "the carrier of the owner")
        second.press("#received-sender", "Tab")
        said.wait_for(state="detached")
        first.reload()
        expect(first.locator("#received-sender")).to_have_value("the carrier of the owner")
