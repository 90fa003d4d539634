"""The stock on the page: list, part, batches, ledger, and the parts of a job."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from sqlalchemy import insert

from needlewright.records.jobs import new_job
from needlewright.records.stock import count_stock, parts_of_job, receive, stock_part, use_part
from needlewright.records.stock_history import ledger
from needlewright.records.stock_parts import add_part
from needlewright.records.tables import StockMove
from web.bench_page import ANNA, BERT, Browser, page


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    with page(tmp_path / "shop") as one:
        one.post("/person", {"person": ANNA, "next": "/"})
        new_job(one.shop, {"tag": "EX-1", "family": "fam-job", "complaint": "sticks"}, ANNA)
        typed = {"code": "movement", "words": "movement", "reorder_point": 2, "place": "A3"}
        add_part(one.shop, typed, ANNA)
        receive(one.shop, "movement", 3, "B7", ANNA)
        receive(one.shop, "movement", 2, "B8", ANNA)
        yield one


def text_of(browser: Browser, path: str) -> str:
    answer = browser.get(path)
    assert answer.status_code == 200
    return unescape(answer.text)


def hidden(text: str, form: str, name: str) -> str:
    """What a form of the page carries unseen."""
    inside = text[text.index(f'action="{form}"') :]
    found = re.search(rf'name="{name}" value="([^"]*)"', inside)
    assert found is not None
    return found.group(1)


def test_the_list_is_led_to_from_the_shop_and_searched(browser: Browser) -> None:
    assert 'href="/shop/stock"' in text_of(browser, "/shop")
    text = text_of(browser, "/shop/stock")
    assert "1 part" in text
    assert '<td class="number on-hand" data-label="On hand">5</td>' in text
    assert "to reorder</span></td>" not in text
    assert "Nothing is to be ordered." in text
    assert "movement" in text_of(browser, "/shop/stock?q=b8+MOVE")
    assert "No part has all of these words." in text_of(browser, "/shop/stock?q=b9")


def test_what_is_to_be_ordered_is_marked_by_a_word_and_a_shape(browser: Browser) -> None:
    use_part(browser.shop, "EX-1", "movement", 3, ANNA)
    text = text_of(browser, "/shop/stock")
    assert '<span class="verdict" data-result="bad">to reorder</span>' in text
    assert "2 on hand, reorder point 2; no accepted plan needs it" in text
    assert "1 or more bring it above the point" in text


def test_a_part_is_added_and_what_cannot_be_stays_where_it_was_typed(browser: Browser) -> None:
    sent = {"code": "lamp", "words": "my <lamp>", "reorder_point": "few"}
    answer = browser.post("/shop/stock", sent)
    assert answer.status_code == 422
    assert 'value="my &lt;lamp&gt;"' in answer.text
    assert "Expected a whole number of 0 or more, or nothing, found &#39;few&#39;." in answer.text
    assert '<details class="adding no-print" id="add" open>' in answer.text
    saved = browser.post("/shop/stock", sent | {"reorder_point": "4", "price": "1.20",
                                                "currency": "EUR"})  # fmt: skip
    assert (saved.status_code, saved.headers["location"]) == (303, "/shop/stock/lamp#part")
    assert stock_part(browser.shop, "lamp").reorder_point == 4
    text = text_of(browser, "/shop/stock/lamp")
    assert "0 pieces on hand" in text
    assert "1.20 EUR" in text


def test_every_field_that_cannot_be_used_says_so_beside_itself(browser: Browser) -> None:
    sent = {"count": "-3", "mark": "B9", "price": "abc", "received_on": "soon"}
    answer = browser.post("/shop/stock/movement/receive", sent)
    text = unescape(answer.text)
    assert answer.status_code == 422
    said = "Expected a whole number of pieces from 1 to 100000, found '-3'."
    beside = text[text.index('id="receive-count-wrong"') :]
    assert said in beside[: beside.index("</div>")]
    assert "Expected an amount of 0 or more, such as 16.50 or 16,50, without marks of" in text
    assert "Expected a day such as 2026-03-02, found 'soon'." in text
    assert text.count('role="alert"') == 3
    assert "part movement: count" not in text
    answer = browser.post("/shop/stock/movement/count", {"count": "3", "why": " "})
    assert 'id="count-why-wrong"' in answer.text
    assert "Expected the reason, in words" in answer.text


def test_receive_count_scrap_and_take_back_without_a_script(browser: Browser) -> None:
    here = "/shop/stock/movement"
    browser.post(f"{here}/receive", {"count": "4", "mark": "B9", "received_on": "2026-01-02"})
    text = text_of(browser, here)
    assert "4 came Fri 2 Jan 2026, 4 left" in text
    seen = hidden(text, f"{here}/count", "seen")
    assert browser.post(f"{here}/scrap", {"count": "1", "why": "bent", "batch": "1"}).is_redirect
    answer = browser.post(f"{here}/count", {"count": "7", "why": "counted", "seen": seen})
    assert answer.status_code == 409
    assert f"{ANNA} saved 'scrapped 1'" in unescape(answer.text)
    assert 'value="7"' in answer.text
    assert '<details class="fold" id="count" open>' in answer.text
    seen = hidden(unescape(answer.text), f"{here}/count", "seen")
    assert browser.post(f"{here}/count", {"count": "7", "why": "counted", "seen": seen}).is_redirect
    lines = ledger(browser.shop, "movement")
    assert [(line.kind, line.count, line.batch) for line in lines[3:]] == [
        ("scrapped", -1, "B7"),
        ("counted", -1, "B9"),
    ]
    back = browser.post(f"{here}/lines/{lines[-1].id}/back")
    assert back.headers["location"] == f"{here}#ledger"
    text = text_of(browser, here)
    assert "8 pieces on hand" in text
    assert "(taken back)" in text
    again = browser.post(f"{here}/lines/{lines[-1].id}/back")
    assert again.status_code == 422
    assert "was taken back before" in again.text


def test_another_parts_lines_are_out_of_reach(browser: Browser) -> None:
    add_part(browser.shop, {"code": "lamp", "words": "lamp"}, ANNA)
    for act, sent in (("lines/1/back", {}), ("batches/1", {"mark": "B-07"})):
        said = browser.post(f"/shop/stock/lamp/{act}", sent)
        assert said.status_code == 422
        assert "is of part movement, not of part lamp" in unescape(said.text)
    assert [line.count for line in ledger(browser.shop, "movement")] == [3, 2]
    assert [one.mark for one in stock_part(browser.shop, "movement").batches] == ["B7", "B8"]


def test_a_part_is_used_in_a_job_and_the_last_one_only_once(browser: Browser) -> None:
    here = "/shop/stock/movement"
    text = text_of(browser, here)
    assert '<option value="EX-1">sticks</option>' in text
    sent = {"tag": "ex-1", "count": "5", "seen": hidden(text, f"{here}/use", "seen")}
    assert browser.post(f"{here}/use", sent).headers["location"] == f"{here}#part"
    assert [(one.batch, one.count) for one in parts_of_job(browser.shop, "EX-1")] == [
        ("B7", 3),
        ("B8", 2),
    ]
    late = browser.post(f"{here}/use", sent | {"count": "1"})
    assert late.status_code == 409
    assert "on job EX-1" in late.text
    assert "look at what is there now" in late.text.lower()
    text = text_of(browser, here)
    assert '<a href="/jobs/EX-1">EX-1</a> <span>has 3</span>' in text


@pytest.mark.parametrize(
    ("act", "fields"),
    [
        ("receive", {"count": "4", "mark": "B9"}),
        ("scrap", {"count": "1", "why": "bent"}),
        ("use", {"tag": "EX-1", "count": "1"}),
    ],
)
def test_what_is_sent_twice_counts_once(browser: Browser, act: str, fields: dict[str, str]) -> None:
    """Common practice, no source: a second tap, or a form sent again after the way back."""
    here = "/shop/stock/movement"
    sent = fields | {"seen": hidden(text_of(browser, here), f"{here}/{act}", "seen")}
    assert browser.post(f"{here}/{act}", sent).is_redirect
    once = stock_part(browser.shop, "movement").on_hand
    again = browser.post(f"{here}/{act}", sent)
    assert again.status_code == 409
    assert "after you opened it" in unescape(again.text)
    assert stock_part(browser.shop, "movement").on_hand == once
    one_more = fields | {"seen": hidden(unescape(again.text), f"{here}/{act}", "seen")}
    assert browser.post(f"{here}/{act}", one_more).is_redirect, "meant after all"


def test_a_job_takes_and_gives_back_once_what_is_sent_twice(browser: Browser) -> None:
    here = "/jobs/EX-1/stock"
    for act, left in (("use", 1), ("use", 2), ("give-back", 1)):
        seen = hidden(text_of(browser, here), f"{here}/{act}", "seen")
        sent = {"part": "movement", "count": "1", "seen": seen}
        assert browser.post(f"{here}/{act}", sent).is_redirect
        receive(browser.shop, "movement", 1, "B9", ANNA)
        assert browser.post(f"{here}/{act}", sent).status_code == 409
        assert sum(one.count for one in parts_of_job(browser.shop, "EX-1")) == left


def test_what_another_job_took_stops_nobody(browser: Browser) -> None:
    new_job(browser.shop, {"tag": "EX-2", "family": "fam-job", "complaint": "dead"}, ANNA)
    seen = hidden(text_of(browser, "/jobs/EX-1/stock"), "/jobs/EX-1/stock/use", "seen")
    use_part(browser.shop, "EX-2", "movement", 1, ANNA)
    sent = {"part": "movement", "count": "1", "seen": seen}
    assert browser.post("/jobs/EX-1/stock/use", sent).is_redirect


def test_fields_of_a_part_and_a_batch_are_changed(browser: Browser) -> None:
    here = "/shop/stock/movement"
    text = text_of(browser, here)
    sent = {"seen": hidden(text, f"{here}/change", "seen"), "code": "mov/1", "place": "C1"}
    assert "Expected a short code" in browser.post(f"{here}/change", sent).text
    sent |= {"code": "mov 1", "has_retired": "yes", "retired": "yes"}
    assert "5 are on hand; use them up" in unescape(browser.post(f"{here}/change", sent).text)
    count_stock(browser.shop, "movement", 0, "given away", ANNA)
    there = browser.post(f"{here}/change", sent).headers["location"]
    assert there == "/shop/stock/mov%201#part"
    assert "kept no more" in text_of(browser, "/shop/stock/mov%201")
    assert "mov 1" not in text_of(browser, "/shop/stock")
    assert "mov 1" in text_of(browser, "/shop/stock?retired=yes")
    saved = browser.post("/shop/stock/mov%201/batches/1", {"mark": "B/07", "note": "by post"})
    assert saved.headers["location"] == "/shop/stock/mov%201#batches"
    assert stock_part(browser.shop, "mov 1").batches[0].mark == "B/07"


def test_the_parts_of_a_job_have_a_place(browser: Browser) -> None:
    assert "Nothing out of stock is used in it." in text_of(browser, "/jobs/EX-1/stock")
    sent = {"part": "movement", "count": "2", "batch": "b8", "why": "two dials",
            "next": "/jobs/EX-1/rebuild"}  # fmt: skip
    saved = browser.post("/jobs/EX-1/stock/use", sent)
    assert saved.headers["location"] == "/jobs/EX-1/rebuild"
    sheet = text_of(browser, "/jobs/EX-1")
    assert "movement: 2 of batch B8; two dials" in sheet
    assert 'href="/jobs/EX-1/stock"' in sheet
    text = text_of(browser, "/jobs/EX-1/stock")
    assert "2 of batch B8" in text
    assert "two dials" in text
    assert "movement (movement), 3 on hand" in text
    wrong = browser.post("/jobs/EX-1/stock/use", sent)
    assert wrong.status_code == 422
    assert "2 wanted and 0 on hand of batch b8" in unescape(wrong.text)
    assert 'value="two dials"' in wrong.text
    assert '<input type="hidden" name="next" value="/jobs/EX-1/rebuild">' in wrong.text
    back = {"part": "movement", "batch_id": "2", "next": "//elsewhere.example"}
    assert browser.post("/jobs/EX-1/stock/give-back", back).headers["location"] == "/"
    assert [one.count for one in parts_of_job(browser.shop, "EX-1")] == [1]


def test_the_list_travels_as_a_table(browser: Browser) -> None:
    answer = browser.get("/shop/stock-list.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    assert answer.text.splitlines()[1].startswith("movement,movement,pieces,2,A3,,,B7,")
    bad = {"file": ("list.csv", b"part,count\nmovement,many\n")}
    wrong = browser.post("/shop/stock-list", files=bad)
    assert wrong.status_code == 422
    assert "line 2: part movement: count: expected a whole number" in unescape(wrong.text)
    none = browser.post("/shop/stock-list", files={"file": ("", b"")})
    assert "no file was chosen" in none.text
    good = {"file": ("list.csv", answer.content.replace(b"B8", b"B9") + b"lamp,lamp\r\n")}
    saved = browser.post("/shop/stock-list", files=good)
    assert saved.headers["location"] == "/shop/stock?done=1-0-1-0#list"
    assert "Parts that are new: 1; changed: 0; batches received: 1" in text_of(
        browser, saved.headers["location"]
    )


def test_the_label_of_a_drawer_and_what_is_not_there(browser: Browser) -> None:
    answer = browser.get("/shop/stock/movement/label")
    picture = pypdfium2.PdfDocument(answer.content)[0].render(scale=4).to_pil()
    assert [one.text for one in zxingcpp.read_barcodes(picture)] == ["movement"]
    assert browser.get("/shop/stock/nothing").status_code == 404
    assert browser.post("/shop/stock/nothing/receive", {"count": "1"}).status_code == 404
    assert browser.get("/jobs/EX-9/stock").status_code == 404


def test_the_parts_plans_may_need_are_added_at_once(browser: Browser) -> None:
    text = text_of(browser, "/shop/stock")
    assert "Add the 6 parts plans may need" in text
    assert browser.post("/shop/stock-catalogue").headers["location"] == "/shop/stock"
    assert stock_part(browser.shop, "feed_resistors").words == "set of feed resistors"
    assert stock_part(browser.shop, "movement").on_hand == 5
    assert "plans may need" not in text_of(browser, "/shop/stock")


def test_a_script_is_told_in_json(browser: Browser) -> None:
    browser.post("/person", {"person": BERT, "next": "/"})
    headers = {"Accept": "application/json", "X-Form-Token": browser.token}
    sent = {"count": "1", "tag": "EX-1"}
    answer = browser.client.post("/shop/stock/movement/use", data=sent, headers=headers)
    assert answer.json()["on_hand"] == 4
    wrong = browser.client.post(
        "/shop/stock/movement/use", data=sent | {"count": "9"}, headers=headers
    )
    assert wrong.status_code == 422
    assert "9 wanted and 4 on hand" in wrong.json()["error"]["what"]


def test_a_long_ledger_is_folded_to_its_newest_lines(browser: Browser) -> None:
    receive(browser.shop, "movement", 101, "C", ANNA)
    with browser.shop.writing("test") as session:
        row = {"part_id": 1, "batch_id": 3, "kind": "scrapped", "count": -1, "why": "bent"}
        rows = [row | {"at": browser.shop.now(), "person_id": 1} for _ in range(101)]
        session.execute(insert(StockMove), rows)
    text = text_of(browser, "/shop/stock/movement")
    assert "Show 4 older lines" in text
    assert text.count('class="number">−1</td>') == 100
    whole = text_of(browser, "/shop/stock/movement?ledger=all")
    assert "older lines" not in whole
    assert whole.count('class="number">−1</td>') == 101
