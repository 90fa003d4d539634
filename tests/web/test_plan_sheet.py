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
from needlewright.composing.rebuild import job_rebuild, rebuild_line
from needlewright.papers.wording import day_words
from needlewright.records import burn_in_journals, burn_ins
from needlewright.records.plan_acceptances import accept_plan
from needlewright.records.plans import keep_plan, plan_of_job
from needlewright.records.runs import set_aside_run
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import finish_stage
from needlewright.records.ticks import tick
from needlewright.records.undo import undo_last
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


def run_of(one: Desk) -> int:
    """The run as found that counts."""
    return next(run.id for run in job_sheet(one.shop, TAG).runs if run.set_aside_at is None)


def panel(page: str) -> str:
    return words_of(part_of(page, 'id="part-plan"').split("</summary>", 1)[0].split(">", 1)[1])


def test_a_sheet_without_findings_has_no_word_of_a_plan(one: Desk) -> None:
    page = one.get(f"/jobs/{SOUND}")
    assert "part-plan" not in page
    assert f"/jobs/{SOUND}/plan" not in page


def test_what_was_decided_asks_for_the_plan_and_holds_nothing_up(one: Desk) -> None:
    page = one.get()
    assert panel(page) == "Plan not made yet"
    assert (
        f'<a href="/jobs/{TAG}/plan" data-key="l">Plan<span class="state">later</span></a>' in page
    )
    assert next_words(page) == "Make the plan"
    assert page.count('class="button main"') == 1
    assert f'action="/jobs/{TAG}/parts/bench_check/finish"' in page
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

    made = made_document()
    monkeypatch.setattr(job_plan, "make_job_plan", never)
    monkeypatch.setattr("needlewright.plans.rebuild.plan.search_of", never)
    keep_plan(one.shop, TAG, made)
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
    burn_in_journals.keep(one.shop, begun.id, stopped)
    assert next_words(one.get()) == "Go on with the burn-in that was stopped"
    failed = replace(stopped, lines=(*stopped.lines, "again"), state="failed")
    burn_in_journals.keep(one.shop, begun.id, failed)
    assert next_words(one.get()) == "Look at the report of the burn-in that failed"
    over = replace(failed, lines=(*failed.lines, "over"), state="finished")
    burn_in_journals.keep(one.shop, begun.id, over)
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


def test_what_is_not_sound_leads_to_the_plan_before_it_is_decided(one: Desk) -> None:
    undo_last(one.shop, TAG)
    assert "Plan" not in words_of(part_of(one.get(), 'id="part-findings"'))
    set_aside_run(one.shop, run_of(one), "taken anew")
    taken_run(one, "found", {"speed": -12.0}, mark="low")
    page = one.get()
    assert panel(page) == "Plan not made yet"
    link = f'<a class="button" href="/jobs/{TAG}/plan">Plan</a>'
    assert link in part_of(page, 'id="part-findings"')
    assert link in one.get(f"/jobs/{TAG}/findings")
    assert next_words(page) != "Make the plan"


def test_the_work_of_an_accepted_plan_comes_first_until_it_is_ticked(one: Desk) -> None:
    set_aside_run(one.shop, run_of(one), "taken anew")
    taken_run(one, "found", {"speed": -3.4, "engine": 3.4}, mark="off")
    finish_stage(one.shop, TAG, "bench_check")
    page = one.get()
    place = f'href="/jobs/{TAG}/needle-set"'
    before = part_of(page, 'id="needle-speed"', "</section>")
    assert "Movement is replaced by the plan" not in page
    assert 'class="turn"' in before
    made = made_document()
    keep_plan(one.shop, TAG, made)
    said = {key: YES[key] for key in ("option", "who", "how")}
    accept_plan(one.shop, TAG, str(made["number"]), when=date.today(), **said)
    one.post(f"/jobs/{TAG}/needles/fuel/done", {"what": "hub cleaned"})
    page = one.get()
    assert next_words(page).startswith("Rebuild, step 1: open the case")
    speed, engine = (
        part_of(page, f'id="needle-{dial}"', "</section>") for dial in ("speed", "engine")
    )
    assert "Movement is replaced by the plan" in words_of(speed)
    assert place in speed
    for gone in ('class="turn"', 'class="reason"', "needle turned", "It stays as it sits"):
        assert gone not in speed
        assert gone in engine or gone == "needle turned"
    assert place not in engine
    rail = words_of(part_of(page, 'id="rail"', "</nav>"))
    assert "Findings begun" in rail  # nobody decided what the engine gauge has
    assert "Plan done Rebuild later" in rail
    assert "Burn-in later" in rail
    for number in range(1, len(job_rebuild(one.shop, TAG).steps) + 1):
        line = rebuild_line(one.shop, TAG, str(number))
        tick(one.shop, TAG, line)
    assert next_words(one.get()).startswith("Set the engine needle: ")


def test_a_burn_in_before_the_work_is_done_is_cautioned_and_not_held_up(one: Desk) -> None:
    place = f"/jobs/{TAG}/burn-in"

    def caution() -> str:
        page = one.get(place)
        assert 'value="begin"' in page
        return words_of(part_of(page, 'id="burn-early">', "</p>")) if "burn-early" in page else ""

    assert caution().startswith("Before you begin: the bench check is not finished")
    finish_stage(one.shop, TAG, "bench_check")
    needles = "Before you begin: its needles are not set yet"
    assert caution().startswith(needles)
    made = made_document()
    keep_plan(one.shop, TAG, made)
    said = {key: YES[key] for key in ("option", "who", "how")}
    accept_plan(one.shop, TAG, str(made["number"]), when=date.today(), **said)
    steps = job_rebuild(one.shop, TAG).steps
    tick(one.shop, TAG, rebuild_line(one.shop, TAG, "1"))
    assert f"the rebuild is at step 2 of {len(steps)}, and what is fitted" in caution()
    for number in range(2, len(steps) + 1):
        tick(one.shop, TAG, rebuild_line(one.shop, TAG, str(number)))
    assert caution().startswith(needles)
