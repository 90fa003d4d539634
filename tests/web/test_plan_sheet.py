"""The plan on the job sheet: its result in one line, and the one next thing."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from html import unescape
from pathlib import Path

import pytest

from needlewright.composing import job_plan
from needlewright.composing.job_answers import Decision, overrule
from needlewright.papers.wording import day_words
from needlewright.records import burn_ins
from needlewright.records.plans import accept_plan, keep_plan, plan_of_job
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import finish_stage
from records.test_burn_ins import FIRST, NEW, ended
from web.sheet_desk import (
    TAG,
    Desk,
    desk,
    next_words,
    open_job,
    part_of,
    received,
    taken_run,
    words_of,
)
from web.test_plan import YES, made_document, opened

SOUND = "EX-2"
FINISH = f"/jobs/{TAG}/parts/needles/finish"


@pytest.fixture(scope="module")
def decided(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with a job at its needles of which somebody said what it has, and one without."""
    folder = tmp_path_factory.mktemp("plan-sheet") / "shop"
    with desk(folder) as one:
        for tag in (TAG, SOUND):
            if tag == SOUND:
                open_job(one.shop, tag)
            received(one.shop, tag)
        taken_run(one, "found")
        overrule(one.shop, TAG, Decision("speed", ("lost_steps",), "seen slipping", "movement"))
    return folder


@pytest.fixture
def one(decided: Path, tmp_path: Path) -> Iterator[Desk]:
    """The same shop anew for every test."""
    shutil.copytree(decided, tmp_path / "shop")
    with opened(tmp_path / "shop") as desk_of_it:
        yield desk_of_it


def panel(page: str) -> str:
    return words_of(part_of(page, 'id="part-plan"').split("</summary>", 1)[0].split(">", 1)[1])


def test_a_sheet_without_findings_has_no_word_of_a_plan(one: Desk) -> None:
    page = one.get(f"/jobs/{SOUND}")
    assert "part-plan" not in page
    assert f"/jobs/{SOUND}/plan" not in page


def test_what_was_decided_asks_for_the_plan_and_holds_nothing_up(one: Desk) -> None:
    page = one.get()
    assert panel(page) == "Plan not made yet"
    assert f'<a href="/jobs/{TAG}/plan" data-key="l">Plan</a>' in page
    finish_stage(one.shop, TAG, "bench_check")
    page = one.get()
    assert next_words(page) == "Make the plan"
    assert page.count('class="button main"') == 1
    assert f'action="{FINISH}"' in page
    assert one.post(FINISH).status_code == 303
    assert job_sheet(one.shop, TAG).stage_of("needles").state == "finished"
    assert next_words(one.get()) != "Make the plan"


def test_the_sheet_says_how_the_plan_stands(one: Desk) -> None:
    finish_stage(one.shop, TAG, "bench_check")
    made = made_document()
    first, second = (f"{option['price']} EUR" for option in made["options"][:2])
    keep_plan(one.shop, TAG, made)
    page = one.get()
    assert panel(page) == f"Plan recommended, {first}; not accepted yet"
    assert unescape(next_words(page)) == "Enter the owner's yes"
    assert f'href="/jobs/{TAG}/plan#acceptance"' in page
    said = {key: YES[key] for key in ("option", "who", "how")}
    today = date.today()
    accept_plan(one.shop, TAG, str(made["number"]), when=today, **said)
    page = one.get()
    assert panel(page) == (
        f"Plan done: only what failed, {second}, accepted by A. Sample, "
        f"{day_words(today.isoformat())}"
    )
    assert 'id="part-plan" data-state="finished"' in page
    assert next_words(page).startswith("Rebuild, step 1: open the case")
    assert f'href="/jobs/{TAG}/rebuild#steps"' in page
    assert f'action="{FINISH}"' in page
    keep_plan(one.shop, TAG, made_document(number="0A1B2C3E"))
    page = one.get()
    assert panel(page) == (
        f"Plan recommended, {first}; changed since A. Sample accepted {second}: needs a new yes"
    )
    assert next_words(page).startswith("The plan was changed since it was accepted")
    assert f'action="{FINISH}"' in page


def test_drawing_the_sheet_makes_no_plan(one: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("the sheet worked a plan out")

    monkeypatch.setattr(job_plan, "make_job_plan", never)
    monkeypatch.setattr("needlewright.plans.rebuild.plan.search_of", never)
    keep_plan(one.shop, TAG, made_document())
    assert panel(one.get()).startswith("Plan recommended")
    assert plan_of_job(one.shop, TAG) is not None


def test_a_burn_in_that_was_begun_is_gone_on_with_and_holds_nothing_up(one: Desk) -> None:
    finish_stage(one.shop, TAG, "bench_check")
    finish_stage(one.shop, TAG, "needles")
    before = next_words(one.get())
    begun = burn_ins.begin(one.shop, TAG, NEW)
    page = one.get()
    assert next_words(page) == "See to the burn-in that was begun"
    assert f'class="button main" href="/jobs/{TAG}/burn-in/{begun.id}"' in page
    assert page.count('class="button main"') == 1
    stopped = replace(ended((*FIRST.lines, "end")), state="stopped", said={})
    burn_ins.keep(one.shop, begun.id, stopped)
    assert next_words(one.get()) == "Go on with the burn-in that was stopped"
    failed = replace(stopped, lines=(*stopped.lines, "again"), state="failed")
    burn_ins.keep(one.shop, begun.id, failed)
    assert next_words(one.get()) == "Look at the report of the burn-in that failed"
    over = replace(failed, lines=(*failed.lines, "over"), state="finished")
    burn_ins.keep(one.shop, begun.id, over)
    assert next_words(one.get()) == before


def test_needles_are_finished_beside_a_burn_in(one: Desk) -> None:
    finish_stage(one.shop, TAG, "bench_check")
    keep_plan(one.shop, TAG, made_document())
    accepted = {key: YES[key] for key in ("option", "who", "how")}
    accept_plan(one.shop, TAG, str(made_document()["number"]), when=date.today(), **accepted)
    burn_ins.begin(one.shop, TAG, NEW)
    page = one.get()
    assert next_words(page).startswith("Rebuild, step 1")  # it is asked for after the work
    assert page.count('class="button main"') == 1
    assert one.post(FINISH).status_code == 303
    assert next_words(one.get()) == "See to the burn-in that was begun"
