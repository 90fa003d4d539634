"""A plan's page: cautions whole where they begin, then short; what is left; what may not pass."""

from datetime import date
from typing import Any

from needlewright.composing.job_plan import keep_job_plan
from needlewright.papers.blocks import Notice
from needlewright.papers.plan_sheet import plan_sheet
from needlewright.papers.quote import quote_html
from needlewright.papers.quote_text import quote_text
from needlewright.papers.unfinished import unfinished_words
from needlewright.plans.rebuild.plan_json import number_of
from needlewright.web.plan_steps import CautionAgain, is_long, steps_shown
from web.sheet_desk import TAG, Desk, part_of
from web.test_plan import AT, kept, made_document, one, words_of

__all__ = ["kept", "one"]
SAID = "Not a finished rebuild: the road speed gauge may not pass the final check"


def a_step(*cautions: str) -> dict[str, Any]:
    return {"kind": "open", "words": "invented", "cautions": list(cautions)}


def test_a_caution_is_whole_once_and_short_at_every_step_after() -> None:
    strap, lens = "Electrostatic: wrist strap on.", "Lens: soft cloth."
    shown = steps_shown({"steps": [a_step(strap), a_step(), a_step(lens, strap), a_step(lens)]})
    assert [one.number for one in shown] == [1, 2, 3, 4]
    assert [one.begins for one in shown] == [(strap,), (), (lens,), ()]
    assert [one.again for one in shown] == [
        (),
        (),
        (CautionAgain("Electrostatic", strap, 1),),
        (CautionAgain("Lens", lens, 3),),
    ]


def test_a_caution_of_one_clause_is_its_own_short_name() -> None:
    shown = steps_shown({"steps": [a_step("Hot"), a_step("Hot")]})
    assert shown[1].again == (CautionAgain("Hot", "Hot", 1),)


def test_no_step_of_a_plan_loses_a_caution() -> None:
    for option in made_document()["options"]:
        for said in steps_shown(option):
            assert {*said.begins, *(again.whole for again in said.again)} == {
                *said.step["cautions"]
            }


def test_a_list_is_folded_from_seven_lines() -> None:
    assert [is_long(["line"] * count) for count in (0, 6, 7)] == [False, False, True]


def test_on_the_page_a_caution_has_its_short_name_at_every_step(kept: Desk) -> None:
    page = kept.get(AT)
    steps = part_of(page, '<ol class="work-steps">', "</ol>").split('<li class="work-step"')[1:]
    document = made_document()["options"][0]["steps"]
    assert len(steps) == len(document) == 23
    for html, step in zip(steps, document, strict=True):
        words = words_of(html)
        for caution in step["cautions"]:
            assert caution in words
    seen = words_of(steps[3].split("</summary>")[0])  # what is read without opening anything
    assert seen.endswith("Caution: Lift needles straight up with two even levers over a shield")


def test_what_is_left_stands_behind_its_number(kept: Desk) -> None:
    page = kept.get(AT)
    leave = part_of(page, 'id="group-leave"', "</summary>")
    assert "Leave: 10 things" in words_of(leave)
    assert " open" not in leave.split(">", 1)[0]
    assert "3 looks are worth making before the quote" in words_of(page)
    assert "Before the quote, look: " not in page  # it is said once


def with_unfinished() -> dict[str, Any]:
    document = made_document()
    document["options"][0]["unfinished"] = ["speed"]
    return {**document, "number": number_of(document)}


def test_an_option_after_which_a_speedometer_may_fail_says_so_everywhere(one: Desk) -> None:
    document = with_unfinished()
    recommended, failed, _ = document["options"]
    assert unfinished_words(document, recommended) == SAID
    assert unfinished_words(document, failed) == ""
    keep_job_plan(one.shop, TAG, document, "R. Example")
    page = words_of(one.get(AT))
    assert page.count(f"{SAID}.") == 3  # how it stands, its card, its steps
    assert page.count("(not a finished rebuild)") == 1  # where the yes is entered
    assert words_of(one.get(f"{AT}?option=only_failed")).count(f"{SAID}.") == 2
    assert f"{SAID}." in words_of(one.get(f"{AT}/quote"))


def test_papers_say_it_too() -> None:
    document = with_unfinished()
    assert quote_html(document).count(f"<strong>{SAID}.</strong>") == 1
    assert quote_text(document).count(f"{SAID.upper()}.") == 1
    sheet = plan_sheet(document, "recommended", date(2026, 3, 2))
    notice = sheet.blocks[0]
    assert isinstance(notice, Notice)
    assert notice.text == f"{SAID}."
    assert SAID not in repr(plan_sheet(document, "only_failed", date(2026, 3, 2)))
