"""What people wrote, on every page of a job: kept apart, broken where it is long, folded."""

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route

from needlewright.records.jobs import add_note, edit_job
from needlewright.records.shop import add_person
from web.sheet_desk import TAG, Desk, desk
from web.walking import PHONE, browser, needs_chromium

OWNER, SAID, NOTE, WHO = "דוד לוי 7", "עداد 40", "שעון 3", "רות כהן"
PLACES = ("", "/findings", "/plan", "/rebuild", "/board")
LONG_SERIAL = "INVENTED-" + "0" * 36
LONG_COMPLAINT = "it reads low at every speed and the lamp flickers " * 17
LINES = "e => e.clientHeight / parseFloat(getComputedStyle(e).lineHeight)"
TEXT_ALONE = ("title", "option", "textarea", "script", "style")


class Seen(HTMLParser):
    """Texts from right to left, and whether each stands where its direction is its own."""

    def __init__(self) -> None:
        super().__init__()
        self.inside: list[tuple[str, bool]] = []
        self.found: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("input", "br", "img", "link", "meta", "hr"):
            self.inside.append((tag, tag == "bdi" or ("dir", "auto") in attrs))

    def handle_endtag(self, tag: str) -> None:
        while self.inside and self.inside.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if any(mine in data for mine in (OWNER, SAID, NOTE, WHO)):
            tag, apart = self.inside[-1]
            self.found.append((data, apart or tag in TEXT_ALONE))


@pytest.fixture(scope="module")
def at(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    with desk(tmp_path_factory.mktemp("own") / "shop") as one:
        add_person(one.shop, WHO)
        edit_job(one.shop, TAG, {"owner": OWNER, "complaint": SAID}, WHO)
        add_note(one.shop, TAG, NOTE, WHO)
        yield one


@pytest.mark.parametrize("place", ["/", "/shop", *(f"/jobs/{TAG}{one}" for one in PLACES)])
def test_words_from_right_to_left_stand_apart(at: Desk, place: str) -> None:
    seen = Seen()
    seen.feed(at.get(place))
    assert seen.found
    assert [text for text, apart in seen.found if not apart] == []


def test_a_name_in_a_sentence_is_isolated_in_it(at: Desk) -> None:
    assert f", \u2068{WHO}\u2069" in at.get()


def test_what_is_typed_takes_its_own_direction_and_comes_back_as_it_was(at: Desk) -> None:
    page = at.get()
    assert f'value="{OWNER}"' in page
    start = page.index('id="about-owner"') - 40
    assert '<input dir="auto" ' in page[start : start + 60]


def _answers(one: Desk, page: Page) -> None:
    """The page asks the shop without a server between."""

    def answer(route: Route) -> None:
        path = route.request.url.removeprefix("http://127.0.0.1")
        got = one.client.get(path)
        route.fulfill(status=got.status_code, body=got.content, headers=dict(got.headers))

    page.route("**/*", answer)


@needs_chromium
def test_long_words_break_and_a_long_complaint_is_folded_on_a_phone(tmp_path: Path) -> None:
    with desk(tmp_path / "shop") as one, browser() as opened:
        edit_job(one.shop, TAG, {"serial": LONG_SERIAL, "complaint": LONG_COMPLAINT})
        page = opened.new_page(viewport=PHONE, java_script_enabled=False)
        _answers(one, page)
        heights = {}
        for place in PLACES[:4]:
            page.goto(f"http://127.0.0.1/jobs/{TAG}{place}")
            wide = page.evaluate("document.documentElement.scrollWidth")
            assert (place, wide) == (place, PHONE["width"])
            if not place:
                continue
            folded = page.locator(".first-lines .complaint")
            heights[place] = folded.evaluate(
                "e => e.clientHeight / parseFloat(getComputedStyle(e).lineHeight)"
            )
            assert page.locator(".first-lines .whole").is_visible()
            page.locator(".first-lines summary").click()
            whole = folded.evaluate("e => [e.clientHeight, e.scrollHeight]")
            assert whole[0] == whole[1]
        assert {place: round(lines) for place, lines in heights.items()} == dict.fromkeys(
            PLACES[1:4], 3
        )
