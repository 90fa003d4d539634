"""The work of a plan as it is done: what is ticked, what is left, and what an older plan had."""

from collections.abc import Iterator
from copy import deepcopy
from math import sqrt

import pytest

from composing.planned_work import SLIPS, WORN, option_of, planned
from needlewright.composing.rebuild import (
    job_rebuild,
    progress_words,
    rebuild_line,
    step_keys,
    time_words,
)
from needlewright.errors import NotThereError, PlanError
from needlewright.families.folder import load_family
from needlewright.plans.rebuild.plan_json import number_of
from needlewright.records.opening import Shop
from needlewright.records.plan_acceptances import accept_plan
from needlewright.records.plans import keep_plan
from needlewright.records.tick_lines import SheetLine
from needlewright.records.ticks import tick, ticks_of, untick, write_note
from records.benches import ANNA, BERT, FAMILY_FOLDER, bench, received

TAG = "T-77"
FAMILY = load_family(FAMILY_FOLDER)
BOTH = planned(FAMILY, TAG, SLIPS | WORN)
ONE = planned(FAMILY, TAG, SLIPS)


@pytest.fixture
def shop(tmp_path) -> Iterator[Shop]:
    with bench(tmp_path / "shop") as (opened, _):
        received(opened, TAG)
        keep_plan(opened, TAG, BOTH, ANNA)
        yield opened


def work_of(shop):
    work = job_rebuild(shop, TAG)
    assert work is not None
    return work


def test_the_work_is_that_of_the_recommended_option_until_another_is_agreed_to(shop):
    work = work_of(shop)
    assert (work.number, work.option, work.acceptance) == (BOTH["number"], "recommended", None)
    said = option_of(BOTH)
    assert [one.words for one in work.steps] == [one["words"] for one in said["steps"]]
    assert [list(one.cautions) for one in work.steps] == [one["cautions"] for one in said["steps"]]
    assert [(one.id, one.count) for one in work.parts] == [
        (one["id"], one["count"]) for one in said["parts"]
    ]
    accept_plan(
        shop,
        TAG,
        BOTH["number"],
        ANNA,
        option="only_failed",
        who="A. Sample",
        when=shop.now().date(),
        how="by message",
    )
    work = work_of(shop)
    assert (work.option, work.acceptance.who) == ("only_failed", "A. Sample")
    expected = [one["words"] for one in option_of(BOTH, "only_failed")["steps"]]
    assert [one.words for one in work.steps] == expected


def test_minutes_left_and_their_spread_are_those_of_what_is_not_ticked(shop):
    said = option_of(BOTH)
    minutes = [one["minutes"] for one in said["steps"]]
    work = work_of(shop)
    assert work.minutes_left == pytest.approx(sum(m for m in minutes if m is not None))
    assert work.u_minutes_left == pytest.approx(said["u_minutes"], abs=0.006)  # to 0.01 min
    for number in (1, 2, 3):
        tick(shop, TAG, rebuild_line(shop, TAG, str(number)), ANNA)
    work = work_of(shop)
    left = [m for m in minutes[3:] if m is not None]
    assert work.minutes_left == pytest.approx(sum(left))
    # independent spreads add as squares (JCGM 100:2008, 5.1.2)
    spreads = [one["u_minutes"] for one in said["steps"][3:] if one["u_minutes"] is not None]
    assert len(spreads) == len(left)
    assert work.u_minutes_left == pytest.approx(sqrt(sum(u**2 for u in spreads)))
    left, u = time_words(work.minutes_left), time_words(work.u_minutes_left)
    assert progress_words(work) == f"3 of {len(minutes)} steps, {left} left ± {u}"
    assert (work.state, work.now.number) == ("in_hand", 4)
    for number in range(4, len(minutes)):
        tick(shop, TAG, rebuild_line(shop, TAG, str(number)), ANNA)
    # of 1, 2 and 5 minutes: 14/6 within 4/6, and no spread is none
    assert progress_words(work_of(shop)).endswith(" steps, 2 min left ± 1 min")


def test_a_plan_kept_before_steps_said_how_far_they_vary_shares_its_spread_out(shop):
    kept = deepcopy(ONE)
    for one in kept["options"]:
        for step in one["steps"]:
            del step["u_minutes"]
    keep_plan(shop, TAG, {**kept, "number": number_of(kept)}, ANNA)
    said = option_of(kept)
    tick(shop, TAG, rebuild_line(shop, TAG, "1"), ANNA)
    minutes = [one["minutes"] for one in said["steps"] if one["minutes"] is not None]
    share = sum(m**2 for m in minutes[1:]) / sum(m**2 for m in minutes)
    assert work_of(shop).u_minutes_left == pytest.approx(said["u_minutes"] * sqrt(share))


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "0 min"),
        (7.6, "8 min"),
        (29.4, "29 min"),
        (33, "35 min"),
        (80, "1 h 20 min"),
        (118, "2 h"),
    ],
)
def test_minutes_as_people_say_them(minutes, words):
    assert time_words(minutes) == words


def test_the_same_step_of_another_plan_stays_ticked_and_others_are_not_lost(shop):
    tick(shop, TAG, rebuild_line(shop, TAG, "1"), ANNA)
    tick(shop, TAG, rebuild_line(shop, TAG, "work:replace_movement:engine"), BERT)
    tick(shop, TAG, rebuild_line(shop, TAG, "work:replace_movement:speed"), BERT)
    write_note(
        shop, TAG, rebuild_line(shop, TAG, "work:replace_movement:engine"), "shaft bent", ANNA
    )
    keep_plan(shop, TAG, ONE, ANNA)
    work = work_of(shop)
    assert work.number == ONE["number"] != BOTH["number"]
    assert work.carried == (BOTH["number"],)
    done = {one.key: one.done.by for one in work.steps if one.done is not None}
    assert done == {work.steps[0].key: ANNA, "work:replace_movement:speed": BERT}
    assert [(one.number, one.line.words, one.line.mark, one.line.note) for one in work.older] == [
        (BOTH["number"], "replace engine's movement", "done", ""),
        (BOTH["number"], "replace engine's movement", "note", "shaft bent"),
    ]
    # taken off where it stands, which is the older plan's sheet
    line = rebuild_line(shop, TAG, "1")
    assert line.sheet == f"plan:{BOTH['number']}"
    assert untick(shop, TAG, line, BERT) is True
    tick(shop, TAG, rebuild_line(shop, TAG, "1"), BERT)
    assert work_of(shop).steps[0].done.sheet == f"plan:{ONE['number']}"
    keep_plan(shop, TAG, BOTH, ANNA)
    work = work_of(shop)
    assert work.older == ()
    assert work.done == 3
    assert work.steps[0].done.by == BERT


def test_keys_tell_the_same_step_done_twice_apart():
    steps = [
        {"kind": "open", "words": "open the case", "dial": None, "operation": None},
        {"kind": "work", "words": "x", "dial": "speed", "operation": "mend_stop:speed"},
        {"kind": "open", "words": "open the case", "dial": None, "operation": None},
    ]
    first, work, again = step_keys(steps)
    assert work == "work:mend_stop:speed"
    assert again == f"{first}~2"
    assert first.startswith("open:whole:open-the-case-")
    for option in BOTH["options"]:
        keys = step_keys(option["steps"])
        assert len(set(keys)) == len(keys)


def test_all_of_it_ticked_is_finished(shop):
    for one in work_of(shop).steps:
        tick(shop, TAG, SheetLine(f"plan:{BOTH['number']}", one.key, one.words), ANNA)
    work = work_of(shop)
    assert (work.state, work.now, work.minutes_left) == ("finished", None, 0.0)
    assert progress_words(work) == f"all {len(work.steps)} steps done"


def test_a_guide_that_is_not_there_is_said(shop):
    work = work_of(shop)
    by_key = {one.key: one for one in work.steps}
    assert by_key["work:replace_movement:speed"].guide == "replace-movement"
    assert not by_key["work:replace_movement:speed"].guide_missing
    for kind in ("open", "close", "check"):
        assert not any(one.guide_missing for one in work.steps if one.kind == kind)
    option = {**option_of(BOTH)}
    option["steps"] = [{**one, "guide": "no-such-guide"} for one in option["steps"]]
    keep_plan(shop, TAG, {**BOTH, "number": "0000000A", "options": [option]}, ANNA)
    missing = [one.key for one in work_of(shop).steps if one.guide_missing]
    assert missing == [one.key for one in work_of(shop).steps if one.kind == "work"]


def test_what_is_not_there_is_said(shop):
    with pytest.raises(PlanError) as error:
        rebuild_line(shop, TAG, "99")
    count = len(option_of(BOTH)["steps"])
    assert str(error.value) == (
        f"job {TAG}: the work of plan {BOTH['number']} has no step '99'; its steps are 1 to "
        f"{count} (needlewright jobs steps {TAG})"
    )
    with pytest.raises(NotThereError):
        job_rebuild(shop, "NOBODY")
    received(shop, "T-78", serial="S-2")
    assert job_rebuild(shop, "T-78") is None
    with pytest.raises(PlanError, match="job T-78: has no plan, so there are no steps to tick"):
        rebuild_line(shop, "T-78", "1")
    assert ticks_of(shop, TAG) == ()
