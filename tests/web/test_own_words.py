"""What people wrote, on every page of a job: kept apart, broken where it is long, folded."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route

from needlewright.records.jobs import add_note, edit_job
from needlewright.records.shop import add_person
from needlewright.web.templating import make_templates
from needlewright.web.texts import texts_in
from web.sheet_desk import TAG, Desk, desk
from web.walking import PHONE, browser, needs_chromium

OWNER, SAID, NOTE, WHO = "דוד לוי 7", "עداد 40", "שעון 3", "רות כהן"
PLACES = ("", "/findings", "/plan", "/rebuild", "/board")
LONG_SERIAL = "INVENTED-" + "0" * 36
LONG_COMPLAINT = "it reads low at every speed and the lamp flickers " * 17
LINES = "e => e.clientHeight / parseFloat(getComputedStyle(e).lineHeight)"
ISOLATED = re.compile("\u2068[^\u2069]*\u2069")
TEXT_ALONE = ("title", "option", "textarea", "script", "style")

WHERE = """id => {
  const walk = document.createTreeWalker(document.getElementById(id), NodeFilter.SHOW_TEXT);
  const text = walk.nextNode();
  const left = word => {
    const range = document.createRange();
    const from = text.data.search(word);
    range.setStart(text, from);
    range.setEnd(text, from + 3);
    return range.getBoundingClientRect().left;
  };
  return { name: left(/[\u0590-\u05ff]/), english: left(/[a-z]/) };
}"""
"""Where on the page a text's name and its English begin."""


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
            bare = ISOLATED.sub("", data)
            apart = apart or not any(mine in bare for mine in (OWNER, SAID, NOTE, WHO))
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


@needs_chromium
def test_an_english_sentence_that_begins_with_such_a_name_begins_on_the_left() -> None:
    # Unicode Standard Annex 9, rules P2 and P3; where a word stands is asked of the browser.
    said = texts_in("en")(
        "plan.state.taken_back_of", who=WHO, option="A", price="1 EUR", day="2 March", why=OWNER
    )
    shown = {"sentence": said, "open": f"{said} {SAID}", "name": f"{WHO} 7 abc"}
    source = "".join(f'<p id="{one}">{{{{ {one} }}}}</p>' for one in shown)
    html = make_templates().from_string(source).render(**shown)
    with browser() as opened:
        page = opened.new_page()
        page.set_content(html)
        at = {one: page.evaluate(WHERE, one) for one in shown}
    assert at["sentence"]["name"] < at["sentence"]["english"]
    assert at["open"]["name"] < at["open"]["english"]
    assert at["name"]["name"] > at["name"]["english"]  # a text of its own goes its own way
