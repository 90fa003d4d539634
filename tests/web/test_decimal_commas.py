"""Decimal commas in the fields of the page: the one house rule, and what can be read two ways."""

import json
from collections.abc import Callable
from math import isclose
from pathlib import Path

import pytest
from playwright.sync_api import Route

import needlewright.web
from needlewright.errors import NeedlewrightError
from needlewright.web import bench_forms, burn_in_forms, press, sheet_run_forms
from needlewright.web.drafts_typed import number
from needlewright.web.texts import texts_in
from web.walking import browser, needs_chromium

STATIC = Path(needlewright.web.__file__).parent / "static"
READ_ALL = """async (typed) => {
  const { numberOf, notNumber } = await import("/drafts_fields.js");
  return typed.map((one) => [numberOf(one), notNumber(one)]);
}"""

FIELDS: list[Callable[[str], float | None]] = [
    bench_forms.degc_in,
    lambda text: sheet_run_forms._number(text, "temperature"),
    lambda text: press._number(text, "dial 'speed'"),
    lambda text: burn_in_forms.number(text, "hours"),
    number,
]


@pytest.mark.parametrize("read", FIELDS)
@pytest.mark.parametrize(
    ("typed", "is_"), [("21,5", 21.5), ("\u22123,25", -3.25), ("0,125", 0.125)]
)
def test_a_comma_is_a_point(read: Callable[[str], float | None], typed: str, is_: float) -> None:
    value = read(typed)
    assert value is not None
    assert isclose(value, is_)


@pytest.mark.parametrize("read", FIELDS[:-1])
def test_what_can_be_read_in_two_ways_is_refused(read: Callable[[str], float | None]) -> None:
    with pytest.raises(NeedlewrightError, match="1,250 can be read in two ways; write 1250 or"):
        read("1,250")


@needs_chromium
def test_the_script_of_the_drafts_reads_numbers_as_the_workbench_does() -> None:
    typed = [
        "12,5", "12.5", "\u22123,25", "0,125", "1,250", "-1,250", "1250,125", "1,234.5", "1,2,3",
        "184\u202f213", "184 213", "1 250,500", "-1 250", "0 500", "1234 567", "1 250 5", ",5",
        "5,", "1e3", "", " 7 ", "seven", "0x10", "--1", "+4",
    ]  # fmt: skip
    with browser() as opened:
        page = opened.new_page()
        page.route("**/*", _static)
        page.goto("http://127.0.0.1/")
        read = page.evaluate(READ_ALL, typed)
    assert [number for number, _ in read] == [number(one) for one in typed]
    said = {one: why for one, (_, why) in zip(typed, read, strict=True)}
    assert said["-1,250"] == "-1,250 can be read in two ways; write -1250 or -1.25"
    assert said["seven"] == said["1,2,3"] == "this is not a number; type one such as 12.5"


def _static(route: Route) -> None:
    """A page with the drafts' texts, and the program's own scripts."""
    name = route.request.url.removeprefix("http://127.0.0.1/")
    if name:
        route.fulfill(path=STATIC / name, content_type="text/javascript")
        return
    texts = json.dumps(texts_in("en").for_scripts("drafts"))
    route.fulfill(
        content_type="text/html",
        body=f'<script type="application/json" id="texts">{texts}</script>',
    )


def test_a_field_of_the_draft_is_then_asked_for_again() -> None:
    assert number("1,250") is None
