"""The sums of the workbench on the page."""

import re
from collections.abc import Iterator
from html import unescape
from itertools import pairwise

import pytest

from needlewright.plans.sums.catalogue import SUMS, names
from needlewright.plans.sums.model import Amount
from needlewright.plans.sums.typed import work_out
from needlewright.plans.sums.wording import figure_words
from needlewright.web.sums import powers
from web.bench_page import Browser, page


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with page(tmp_path_factory.mktemp("sums") / "shop") as one:
        yield one


def large(text: str) -> str:
    found = re.search(r'<p class="large">.*?<strong>(.*?)</strong>', text, re.S)
    assert found
    return found[1]


def test_the_list_leads_to_every_sum(browser: Browser) -> None:
    text = browser.get("/sums").text
    assert re.findall(r'<a href="/sums/([\w-]+)">', text) == list(names())
    assert '<a href="/sums" data-key="3" aria-current="page">Sums</a>' in text


@pytest.mark.parametrize("which", SUMS, ids=names())
def test_a_sum_shows_its_drawing_source_caution_and_working(browser: Browser, which) -> None:
    answer = browser.get(f"/sums/{which.name}")
    assert answer.status_code == 200
    text = answer.text
    assert text.count('role="img"') >= 1
    for words in ("Source", "Good for", "Why: formula and numbers", f"<h1>{which.title}</h1>"):
        assert words in unescape(text)
    assert text.count("<strong>Caution:</strong>") == len(which.cautions)
    assert "style=" not in text, "the page allows no style written into it"
    told = work_out(which, {}).told  # what the command prints
    assert unescape(large(text)) == figure_words(told.figures[0])
    shown = [unescape(one) for one in re.findall(r'<td class="number">(.*?)</td>', text)]
    assert shown == [figure_words(one) for one in told.figures[1:]]


def test_a_form_without_scripts_is_worked_out(browser: Browser) -> None:
    assert large(browser.get("/sums/lamp-life").text) == "0.882"
    text = browser.get("/sums/lamp-life?voltage=14000+mV&rated-voltage=14&rated-life=").text
    assert large(text) == "1.00"
    assert 'value="14000 mV"' in text


def test_what_is_wrong_stands_beside_its_input_and_what_was_typed_stays(browser: Browser) -> None:
    answer = browser.get("/sums/lamp-life?voltage=<b>&rated-life=-1")
    assert answer.status_code == 422
    beside = dict(
        re.findall(r'data-wrong-of="([\w-]+)">\s*<div class="wrong"(.*?)</div>', answer.text, re.S)
    )
    assert set(beside) == {"voltage", "rated-life"}
    assert "expected a number from 0.5 to 60 V, found &#39;&lt;b&gt;&#39;" in beside["voltage"]
    assert 'value="&lt;b&gt;"' in answer.text
    assert "Not worked out" in answer.text


def test_an_emptied_field_is_missing_and_one_never_seen_is_its_example(browser: Browser) -> None:
    assert browser.get("/sums/broken-trace").status_code == 200
    answer = browser.get("/sums/broken-trace?current=")
    assert answer.status_code == 422
    beside = re.search(r'data-wrong-of="current">(.*?)</div>', answer.text, re.S)
    assert beside
    assert "Current: give a number from 0.001 to 35 A" in beside[1]
    assert "Not worked out" in answer.text
    assert 'class="large"' not in answer.text


def test_a_decimal_comma_is_read_as_a_point(browser: Browser) -> None:
    assert large(browser.get("/sums/lamp-life?voltage=14,0&rated-voltage=14").text) == "1.00"
    answer = browser.get("/sums/lamp-life?voltage=14,000")
    assert answer.status_code == 422
    assert "write 14000 or 14.0" in answer.text.lower()


@pytest.mark.parametrize("which", SUMS, ids=names())
def test_every_field_of_a_page_takes_a_decimal_comma(browser: Browser, which) -> None:
    numbers = {
        one.name: f"{one.default:.4f}"
        for one in which.inputs
        if isinstance(one, Amount) and one.default is not None and not one.whole
    }
    pointed = browser.get(f"/sums/{which.name}", params=numbers)
    commas = {name: typed.replace(".", ",") for name, typed in numbers.items()}
    answer = browser.get(f"/sums/{which.name}", params=commas)
    assert (answer.status_code, pointed.status_code) == (200, 200)
    assert large(answer.text) == large(pointed.text)
    for typed in commas.values():
        assert f'value="{typed}"' in answer.text  # what was typed stays as it was


def beside(text: str, name: str) -> str:
    found = re.search(rf'data-wrong-of="{name}">(.*?)</div>', text, re.S)
    assert found
    return unescape(found[1])


@pytest.mark.parametrize(
    ("address", "name", "sentence"),
    [
        ("lamp-life?voltage=40", "voltage", "40 V on a lamp of 14 V is 286% of its rating"),
        ("lamp-to-led?lowest=14", "supply", "13.5 V is not between the lowest, 14 V"),
        ("filament-drop?supply=3", "supply", "3 V is not above the filament's 3 V"),
        ("coil-resistance?read=1&leads=2", "leads", "2 ohm is not less than the 1 ohm"),
        ("resistor-power?none-at=60", "none-at", "60 °C is not above the 70 °C"),
        ("solder?hottest=10&coldest=20", "hottest", "10 °C is not above the coldest"),
        ("solder-life?use-high=10", "use-high", "10 °C is not above the coldest, 10 °C"),
        ("solder-life?alloy=SAC", "test-alloy", "it is tin-lead and the joint in use SAC"),
        ("sender-on-gauge?sender-full=75", "sender-full", "75 ohm is what it has empty too"),
        ("pulse-constant?by=marking&marking=G78-15", "marking", "'G78-15' is no tyre size"),
        ("thermistor?table=0,100%0A10,200%0A20,300", "table", "the resistance does not fall"),
        ("sender-substitute?sender=table&points=50,830%0A40,500", "points", "40 comes after 50"),
        ("reflow?csv=time_s,board%0A0,25", "csv", "column 2, 'board', says no unit"),
    ],
)
def test_what_does_not_go_together_stands_beside_one_of_its_inputs(
    browser: Browser, address: str, name: str, sentence: str
) -> None:
    answer = browser.get(f"/sums/{address}")
    assert answer.status_code == 422
    assert sentence in beside(answer.text, name)
    assert beside(answer.text, "").strip() == ""
    field = re.search(rf'<(?:input|select|textarea)[^>]*id="in-{name}"[^>]*>', answer.text)
    assert field
    assert 'aria-invalid="true"' in field[0]
    assert answer.text.count('class="wrong"') == 1


def test_the_limits_of_a_paste_are_folded_away_until_one_is_stated(browser: Browser) -> None:
    closed = browser.get("/sums/reflow").text
    assert closed.count('<details class="input-group">') == 1
    assert "The paste&#39;s own limits, of its data sheet</summary>" in closed
    stated = browser.get("/sums/reflow?paste-climb=1,5").text
    assert stated.count('<details class="input-group" open>') == 1
    assert "board: climb 1.86 K/s, ≤ 1.5 K/s (paste)</text>" in stated
    assert "at most 1.5 K/s, the paste" in stated
    crossed = browser.get("/sums/reflow?peak-most=240&paste-peak-least=245")
    assert crossed.status_code == 422
    assert "cannot both be kept" in beside(crossed.text, "paste-peak-least")
    lacking = browser.get("/sums/reflow?paste-soak-to=180")
    assert "needs its own time" in beside(lacking.text, "paste-soak-most")
    assert lacking.text.count('<details class="input-group" open>') == 1


def test_what_is_of_two_inputs_alike_is_said_above_them(browser: Browser) -> None:
    answer = browser.get("/sums/resistor-power?voltage=5&current=0.1")
    assert answer.status_code == 422
    assert "exactly one of the two is needed" in beside(answer.text, "")


def test_a_sum_there_is_not(browser: Browser) -> None:
    answer = browser.get("/sums/dinner")
    assert answer.status_code == 404
    assert "there is no sum" in answer.text


def test_what_follows_a_power_sign_is_raised_and_escaped() -> None:
    assert powers("v^−12 < 1") == "v<sup>−12</sup> &lt; 1"
    assert powers("92^((36 − n) / 39)") == "92<sup>(36 − n) / 39</sup>"


def test_a_recording_longer_than_a_field_comes_as_a_file(browser: Browser) -> None:
    knots = ((0, 25), (62, 149), (156, 198), (180, 217), (200, 240), (240, 240), (320, 60))
    rows = [
        f"{t0 + (t1 - t0) * i / 2000:.3f},{c0 + (c1 - c0) * i / 2000:.2f}"
        for (t0, c0), (t1, c1) in pairwise(knots)
        for i in range(2000)
    ]
    text = "time_s,board_c\n" + "\n".join(rows)
    assert len(text) > 128 * 1024
    answer = browser.post("/sums/reflow", files={"csv": ("csv.csv", text.encode(), "text/csv")})
    assert answer.status_code == 200
    assert large(answer.text) == "conforms"
    assert "invented readings" not in answer.text
    empty = browser.post("/sums/reflow", files={"csv": ("csv.csv", b"", "text/csv")})
    assert empty.status_code == 422
    assert "there is nothing in it" in empty.text
