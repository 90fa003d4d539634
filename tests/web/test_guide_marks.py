"""Guides and the refit sheet in a job: what is ticked and counted is kept there."""

import re
from collections.abc import Iterator
from html import unescape

import pytest

from composing.planned_work import SLIPS, planned
from needlewright.composing.guides import guide_document
from needlewright.records.plans import keep_plan
from needlewright.records.ticks import ticks_of
from needlewright.records.undo import history
from web.sheet_desk import BY, TAG, Desk, desk, received, words_of

NAME = "replace-movement"
AT = f"/guides/{NAME}?job={TAG}&dial=engine"
TO = f"/jobs/{TAG}/guides/{NAME}"
OF = "?dial=engine"


@pytest.fixture
def one(tmp_path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as opened:
        received(opened.shop)
        yield opened


def boxes(page: str) -> list[str]:
    return [unescape(key) for key in re.findall(r'name="(?:un)?tick" value="([^"]+)"', page)]


def fields(page: str) -> list[str]:
    return [unescape(name) for name in re.findall(r'name="((?:out|in|read)\|[^"]+)"', page)]


def test_every_box_of_a_guide_is_kept_in_the_job(one: Desk) -> None:
    page, said = one.get(AT), guide_document(NAME, one.family)
    keys = boxes(page)
    parts = ("steps", "tools", "photos", "checks")
    assert len(set(keys)) == len(keys) == sum(len(said[part]) for part in parts)
    assert 'type="checkbox"' not in page
    chosen = [keys[0], keys[9], keys[-1]]  # a step, a tool, a check
    for key in chosen:
        assert one.post(f"{TO}/tick{OF}", {"tick": key}).status_code == 303
    page = one.get(AT)
    assert page.count('aria-checked="true"') == len(chosen)
    assert "2 of 11 steps and checks ticked" in page
    assert {t.sheet for t in ticks_of(one.shop, TAG)} == {f"guide:{NAME}@engine"}
    # the same guide for another dial is another sheet, and outside the job its boxes are its own
    assert 'aria-checked="true"' not in one.get(f"/guides/{NAME}?job={TAG}&dial=speed")
    assert 'type="checkbox"' in one.get(f"/guides/{NAME}")
    assert one.post(f"{TO}/tick{OF}", {"untick": keys[0]}).status_code == 303
    assert [t.key for t in ticks_of(one.shop, TAG)] == chosen[1:]
    assert one.post(f"{TO}/undo{OF}").status_code == 303
    assert [t.key for t in ticks_of(one.shop, TAG)] == chosen


def test_counts_are_kept_and_what_is_missing_stands_before_closing(one: Desk) -> None:
    keep_plan(one.shop, TAG, planned(one.family, TAG, SLIPS))
    case_out, case_in, needles_out, needles_in, *_ = fields(one.get(AT))
    typed = {case_out: "7", case_in: "6", needles_out: "4", needles_in: ""}
    assert one.post(f"{TO}/counts{OF}", typed).status_code == 303
    page = one.get(AT)
    words = words_of(page)
    assert "Fasteners of the case: 7 out, 6 in, 1 missing; find before closing." in words
    assert "Needles: 4 out, not counted in yet." in words
    assert page.index('id="not-even"') < page.index("Then close")
    rebuild = one.get(f"/jobs/{TAG}/rebuild")
    first_close = rebuild.split('data-kind="close"', 1)[1].split('role="checkbox"', 1)[0]
    assert "Fasteners of the case: 7 out, 6 in, 1 missing" in first_close
    assert "Needles: 4 out, none counted in, 4 missing; count them in first." in first_close
    assert first_close.count('class="sign"') == 2
    assert one.post(f"{TO}/counts{OF}", {case_in: "7", needles_in: "4"}).status_code == 303
    words = words_of(one.get(AT))
    assert "missing" not in words
    assert words.count("all back") == 3, "the heading, and two lines"
    assert [(t.mark, t.value, t.by) for t in ticks_of(one.shop, TAG)] == [
        ("out", 7.0, BY),
        ("out", 4.0, BY),
        ("in", 7.0, BY),
        ("in", 4.0, BY),
    ]


def test_of_two_people_who_count_the_second_is_told(one: Desk) -> None:
    first, *_ = fields(one.get(AT))
    assert f'name="was|{first}" value=""' in one.get(AT)
    assert one.post(f"{TO}/counts{OF}", {first: "7", f"was|{first}": ""}).status_code == 303
    said = one.post(f"{TO}/counts{OF}", {first: "6", f"was|{first}": ""})
    assert said.status_code == 409
    place = unescape(said.text.split('data-wrong-of="marks"', 1)[1].split("</div>", 1)[0])
    assert "somebody else wrote 7 after this sheet was opened, and you typed 6" in place
    assert 'value="6"' in said.text, "what was typed stays"
    assert [t.value for t in ticks_of(one.shop, TAG)] == [7.0]
    # the same count, and one by somebody who saw theirs, are kept
    assert one.post(f"{TO}/counts{OF}", {first: "7", f"was|{first}": ""}).status_code == 303
    assert one.post(f"{TO}/counts{OF}", {first: "6", f"was|{first}": "7"}).status_code == 303
    assert [t.value for t in ticks_of(one.shop, TAG)] == [6.0]


def test_the_numbers_of_a_form_are_kept_as_one_and_undone_as_one(one: Desk) -> None:
    first, second, *_ = fields(one.get(AT))
    typed = {first: "7", f"was|{first}": "", second: "6", f"was|{second}": ""}
    assert one.post(f"{TO}/counts{OF}", typed).status_code == 303
    assert [t.value for t in ticks_of(one.shop, TAG)] == [7.0, 6.0]
    said = history(one.shop, TAG)[0].what
    assert said.startswith(f"guide {NAME}, engine: counted out 7: "), said
    assert said.endswith("and 1 more")
    assert one.post(f"{TO}/undo{OF}").status_code == 303
    assert ticks_of(one.shop, TAG) == ()


def test_what_somebody_else_counted_takes_nothing_of_the_form_with_it(one: Desk) -> None:
    first, second, *_ = fields(one.get(AT))
    assert one.post(f"{TO}/counts{OF}", {second: "5"}).status_code == 303
    both = {first: "7", f"was|{first}": "", second: "6", f"was|{second}": ""}
    assert one.post(f"{TO}/counts{OF}", both).status_code == 409
    assert [t.value for t in ticks_of(one.shop, TAG)] == [5.0]
    # a field nobody touched stands in nobody's way
    left = {first: "7", f"was|{first}": "", second: "", f"was|{second}": ""}
    assert one.post(f"{TO}/counts{OF}", left).status_code == 303
    assert [t.value for t in ticks_of(one.shop, TAG)] == [5.0, 7.0]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("seven", "fasteners of the case: expected a whole number, found 'seven'"),
        ("-1", "fasteners of the case: expected a whole number from 0 to 999, found -1"),
        ("1.5", "expected a whole number, found '1.5'"),
        ("٣", ""),
        ("9" * 400, "expected a whole number, found"),
    ],
)
def test_a_count_that_cannot_be_is_said_and_nothing_of_the_form_is_kept(
    one: Desk, typed: str, words: str
) -> None:
    first, second, *_ = fields(one.get(AT))
    said = one.post(f"{TO}/counts{OF}", {second: "2", first: typed})
    if not words:  # digits of another script are digits
        assert said.status_code == 303
        assert [t.value for t in ticks_of(one.shop, TAG)] == [3.0, 2.0][::-1]
        return
    assert said.status_code == 422
    place = said.text.split('data-wrong-of="marks"', 1)[1].split("</div>", 1)[0]
    assert words in words_of(unescape(place))
    assert f'value="{typed}"' in said.text, "what was typed stays"
    assert ticks_of(one.shop, TAG) == ()


def test_every_wrong_number_of_a_form_is_said_at_once_beside_its_field(one: Desk) -> None:
    first, second, third, *_ = fields(one.get(AT))
    said = one.post(f"{TO}/counts{OF}", {first: "seven", second: "2", third: "-1"})
    assert said.status_code == 422
    place = words_of(unescape(said.text.split('data-wrong-of="marks"', 1)[1].split("</div>", 1)[0]))
    assert (
        "fasteners of the case: expected a whole number, found 'seven', and "
        "needles: expected a whole number from 0 to 999, found -1. Correct them and save again."
    ) in place
    beside = dict(re.findall(r'id="(count-[^"]+)-wrong" role="alert">(.*?)</div>', said.text))
    assert {name: words_of(unescape(words)) for name, words in beside.items()} == {
        "count-1-out": "! Expected a whole number, found 'seven'.",
        "count-2-out": "! Expected a whole number from 0 to 999, found -1.",
    }
    assert said.text.count('aria-invalid="true"') == 2
    assert 'aria-describedby="count-2-out-wrong"' in said.text
    assert ticks_of(one.shop, TAG) == ()


@pytest.mark.parametrize(
    ("address", "form", "code"),
    [
        (f"{TO}/tick{OF}", {}, 422),
        (f"{TO}/tick{OF}", {"tick": "step:polish-000000"}, 422),
        (f"{TO}/tick?dial=none", {"tick": "1"}, 404),
        (f"/jobs/{TAG}/guides/polish/tick", {"tick": "1"}, 404),
        ("/jobs/NOBODY/guides/refit/tick", {"tick": "1"}, 404),
        (f"{TO}/counts{OF}", {"out|1": "3"}, 422),
        (f"{TO}/counts{OF}", {"read|reading:shown-1": "3"}, 422),
        (f"{TO}/undo{OF}", {}, 409),
    ],
)
def test_what_is_not_there_is_said(one: Desk, address: str, form: dict, code: int) -> None:
    said = one.post(address, form)
    assert said.status_code == code
    assert "Traceback" not in said.text
    assert one.script(address, form).json()["error"]["what"]
    assert ticks_of(one.shop, TAG) == ()


def test_the_refit_sheet_keeps_what_goes_in_and_what_is_read(one: Desk) -> None:
    to, at = f"/jobs/{TAG}/guides/refit", f"/guides/refit?job={TAG}"
    names = fields(one.get(at))
    assert [name.partition("|")[0] for name in names] == ["in"] * 3 + ["read"] * 6
    typed = {names[0]: "2", "read|reading:reference-1": "50,2", "read|reading:shown-1": "52"}
    assert one.post(f"{to}/counts", typed).status_code == 303
    page = one.get(at)
    assert 'value="50.2"' in page
    two_ways = one.post(f"{to}/counts", {"read|reading:reference-1": "51,250"})
    assert two_ways.status_code == 422
    assert "51,250 can be read in two ways." in two_ways.text
    assert "write 51250 or 51.25" in two_ways.text.lower()
    assert 'value="50.2"' in one.get(at)
    assert 'value="52"' in page
    assert boxes(page)[0].startswith("step:key-off-and-out")
    # the wait and the mileage are put into its words; its lines are the same all the same
    first = boxes(page)[0]
    one.post(f"{to}/tick", {"tick": first})
    assert ("refit", first, "done", BY) in {
        (t.sheet, t.key, t.mark, t.by) for t in ticks_of(one.shop, TAG)
    }
    one.post("/shop", {"battery_wait": "90 s, its manual"})
    assert re.search(r'aria-checked="true" name="untick" value="' + first, one.get(at))
