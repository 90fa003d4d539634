"""The rebuild on the page: boxes, notes, parts, undo; what is wrong is said where it is."""

import re
from collections.abc import Iterator
from html import unescape

import pytest

from composing.planned_work import SLIPS, WORN, option_of, planned
from needlewright.composing.rebuild import job_rebuild
from needlewright.records.plan_acceptances import accept_plan
from needlewright.records.plans import keep_plan
from needlewright.records.stock import parts_of_job, receive, stock_part
from needlewright.records.stock_parts import add_part
from needlewright.records.ticks import ticks_of
from web.sheet_desk import BY, TAG, Desk, desk, received, words_of

AT = f"/jobs/{TAG}/rebuild"
SAFETY = "Displays and backlights can carry tens to hundreds of volts."


@pytest.fixture
def one(tmp_path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as opened:
        received(opened.shop)
        yield opened


@pytest.fixture
def document(one: Desk) -> dict:
    made = planned(one.family, TAG, SLIPS | WORN)
    keep_plan(one.shop, TAG, made)
    return made


def step(page: str, number: int) -> str:
    return page.split(f'id="step-{number}"', 1)[1].split('<li class="work-step"', 1)[0]


def keys(one: Desk) -> list[str]:
    return [s.key for s in job_rebuild(one.shop, TAG).steps]


def test_without_a_plan_the_page_leads_to_it_and_the_sheet_has_no_part_for_it(one: Desk) -> None:
    page = one.get(AT)
    assert "There is no plan yet, so there are no steps to tick." in page
    assert f'href="/jobs/{TAG}/plan"' in page
    assert 'id="part-rebuild"' not in one.get()
    said = one.post(f"{AT}/tick", {"tick": "1"})
    assert said.status_code == 422
    assert "has no plan, so there are no steps to tick" in unescape(said.text)


def test_cautions_stand_before_the_step_they_are_of(one: Desk, document: dict) -> None:
    page = one.get(AT)
    steps = option_of(document)["steps"]
    assert SAFETY in page
    assert page.count('<li class="work-step"') == len(steps)
    for number, said in enumerate(steps, start=1):
        here = unescape(step(page, number))
        box = here.index('role="checkbox"')
        for caution in said["cautions"]:
            assert here.index(caution) < box
    assert "The owner has not agreed to this plan. What is shown is the work of its option" in page
    accept_plan(
        one.shop,
        TAG,
        document["number"],
        option="everything",
        who="A. Sample",
        when=one.shop.now().date(),
        how="on paper",
    )
    page = one.get(AT)
    assert "A. Sample agreed to this work" in page
    assert page.count('<li class="work-step"') == len(option_of(document, "everything")["steps"])


def test_a_box_is_ticked_and_taken_off_without_scripts(one: Desk, document: dict) -> None:
    key = keys(one)[0]
    assert f'name="tick" value="{key}" id="step-1-box"' in one.get(AT)
    said = one.post(f"{AT}/tick", {"tick": key, "place": "steps"})
    assert (said.status_code, said.headers["location"]) == (303, f"{AT}#steps")
    page = one.get(AT)
    assert f'name="untick" value="{key}" id="step-1-box"' in page
    assert re.search(r'aria-checked="true"[^>]*id="step-1-box"', page)
    assert BY in step(page, 1)
    assert "1 of 23 steps" in page
    # the sheet folds it to the same line
    sheet = one.get()
    assert "1 of 23 steps" in words_of(sheet.split('id="result-rebuild"', 1)[1].split("</", 1)[0])
    rail = f'<a href="{AT}">Rebuild<span class="state">begun</span></a>'
    assert f'<li data-state="in_hand">{rail}</li>' in sheet
    assert one.post(f"{AT}/tick", {"untick": key}).status_code == 303
    assert ticks_of(one.shop, TAG) == ()
    assert one.post(f"{AT}/undo").status_code == 303
    assert [t.key for t in ticks_of(one.shop, TAG)] == [key]


def test_notes_are_kept_at_their_step_and_taken_off(one: Desk, document: dict) -> None:
    key = keys(one)[3]
    fields = {"key": key, "note": "found one more <cracked> joint", "form": "note-4"}
    assert one.post(f"{AT}/note", fields).status_code == 303
    page = one.get(AT)
    assert "found one more &lt;cracked&gt; joint" in step(page, 4)
    (note,) = ticks_of(one.shop, TAG)
    said = one.post(f"{AT}/note", {**fields, "note": "  "})
    assert said.status_code == 422
    place = said.text.split('data-wrong-of="note-4"', 1)[1].split("</form>", 1)[0]
    assert "the note is empty" in place
    said = one.post(f"{AT}/note", {**fields, "note": "x" * 2001})
    assert said.status_code == 422
    assert "x" * 2001 in said.text.split('id="note-4-words"', 1)[1], "what was typed stays"
    assert one.post(f"{AT}/notes/{note.id}/off").status_code == 303
    assert ticks_of(one.shop, TAG) == ()
    assert one.post(f"{AT}/notes/{note.id}/off").status_code == 404
    assert one.post(f"{AT}/notes/{10**30}/off").status_code in (404, 422)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "no box was named; load the page again"),
        ({"tick": "99"}, "has no step '99'; its steps are 1 to 22"),
        ({"untick": "work:polish"}, "has no step 'work:polish'"),
    ],
)
def test_a_box_there_is_not_is_said(one: Desk, document: dict, fields: dict, words: str) -> None:
    said = one.post(f"{AT}/tick", fields)
    assert said.status_code == 422
    place = said.text.split('data-wrong-of="steps"', 1)[1].split("</section>", 1)[0]
    assert words.partition(";")[0] in unescape(place)
    assert one.script(f"{AT}/tick", fields).json()["error"]["what"]
    assert ticks_of(one.shop, TAG) == ()


def test_undo_is_of_the_rebuild_only(one: Desk, document: dict) -> None:
    said = one.post(f"{AT}/undo")
    assert said.status_code == 409
    assert "the last thing saved is not of the rebuild" in said.text
    assert job_rebuild(one.shop, TAG) is not None


def test_a_part_is_taken_from_stock_for_the_job(one: Desk, document: dict) -> None:
    assert "not kept in stock" in one.get(AT)
    add_part(one.shop, {"code": "movement", "words": "movement", "place": "A3"})
    receive(one.shop, "movement", 1, "B7")
    page = words_of(one.get(AT))
    assert "1 in stock, A3 short by 1 Take 1 from stock" in page
    assert one.post(f"{AT}/use", {"part": "movement", "count": "1"}).status_code == 303
    assert [(u.part, u.count, u.batch) for u in parts_of_job(one.shop, TAG)] == [
        ("movement", 1, "B7")
    ]
    assert stock_part(one.shop, "movement").on_hand == 0
    said = one.post(f"{AT}/use", {"part": "movement", "count": "1"})
    assert said.status_code in (409, 422)
    assert 'role="alert"' in said.text.split('data-wrong-of="parts"', 1)[1][:400]
    assert "1 taken from stock for this job" in one.get(AT)


def test_a_part_is_taken_once_where_the_form_is_sent_twice(one: Desk, document: dict) -> None:
    add_part(one.shop, {"code": "movement", "words": "movement"})
    receive(one.shop, "movement", 5, "B7")
    inside = one.get(AT).split(f'action="{AT}/use"', 1)[1].split("</form>", 1)[0]
    sent = dict(re.findall(r'name="(part|count|stock_seen)" value="([^"]*)"', inside))
    assert one.post(f"{AT}/use", sent).status_code == 303
    said = one.post(f"{AT}/use", sent)
    assert said.status_code == 409
    assert "after you opened it" in said.text.split('data-wrong-of="parts"', 1)[1][:600]
    assert one.script(f"{AT}/use", sent).status_code == 409
    assert [u.count for u in parts_of_job(one.shop, TAG)] == [int(sent["count"])]


def test_work_of_an_older_plan_is_listed(one: Desk, document: dict) -> None:
    one.post(f"{AT}/tick", {"tick": "work:replace_movement:engine"})
    one.post(f"{AT}/tick", {"tick": "1"})
    keep_plan(one.shop, TAG, planned(one.family, TAG, SLIPS))
    page = one.get(AT)
    older = words_of(unescape(page).split('id="older"', 1)[1].split("</section>", 1)[0])
    assert "replace engine's movement" in older
    assert f"plan {document['number']}: {BY}" in older
    assert f"under plan {document['number']}" in step(page, 1)
    assert f"ticked under plan {document['number']}: the step is the same" in page
