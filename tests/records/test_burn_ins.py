"""Burn-ins in the records: taken over as they go on, never twice, set aside and taken back."""

from dataclasses import replace

import pytest

from needlewright.errors import ConflictError, NotThereError, RecordError
from needlewright.records import burn_in_journals, burn_ins
from needlewright.records.backup import backup
from needlewright.records.burn_in_journals import TakenOver
from needlewright.records.burn_ins import NewBurnIn
from needlewright.records.jobs import edit_job
from needlewright.records.opening import open_shop
from needlewright.records.restore import restore
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import history, undo_last
from records.benches import ANNA, BERT, bench, jpeg, new, sqlite_only

NEW = NewBurnIn("T-77", None, {"hours": 24.0}, {"warranty": {"hours": 500.0}})
FIRST = TakenOver(
    lines=('{"kind":"begun"}', '{"kind":"beat"}'),
    pictures={},
    powered_s=60.0,
    sweeps=1,
    key_ons=2,
    state="under_way",
    words="",
    said={},
)


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path / "shop") as (one, _):
        new(one)
        yield one


def ended(lines, pictures=None):
    return replace(
        FIRST,
        lines=lines,
        pictures=pictures or {},
        powered_s=7200.0,
        state="finished",
        words="all 2 h are done",
        said={"shown": "2 h of this one unit"},
    )


def test_lines_are_taken_over_once_however_often_they_come(opened):
    made = burn_ins.begin(opened, "T-77", NEW, ANNA)
    assert (made.state, made.hours, made.lines, made.by) == ("under_way", 0.0, 0, ANNA)
    for _ in range(2):  # as after a restart that does not know what was taken over
        kept = burn_in_journals.keep(opened, made.id, FIRST)
    assert (kept.lines, kept.sweeps, kept.ended_at) == (2, 1, None)
    whole = (*FIRST.lines, '{"kind":"event"}', '{"kind":"ended"}')
    done = burn_in_journals.keep(opened, made.id, ended(whole, {"events/1/00.jpg": jpeg(1)}))
    assert (done.state, done.hours, done.words) == ("finished", 2.0, "all 2 h are done")
    burn_in_journals.keep(opened, made.id, ended(whole, {"events/1/00.jpg": jpeg(1)}))
    journal = burn_in_journals.journal_kept(opened, made.id)
    assert journal.lines == whole
    assert opened.originals.read(journal.pictures["events/1/00.jpg"]) == jpeg(1)
    assert [one.id for one in burn_ins.burn_ins_of(opened, "t-77")] == [made.id]


@pytest.mark.parametrize(
    "lines",
    [("another", FIRST.lines[1], "more"), (), (FIRST.lines[0], "other")],
    ids=["begins otherwise", "empty", "another line"],
)
def test_another_journal_is_refused_and_nothing_of_it_is_kept(opened, lines):
    made = burn_ins.begin(opened, "T-77", NEW, ANNA)
    burn_in_journals.keep(opened, made.id, FIRST)
    with pytest.raises(ConflictError, match="the first 2 lines of; put the file back from a copy"):
        burn_in_journals.keep(opened, made.id, ended(lines))
    assert burn_in_journals.journal_kept(opened, made.id).lines == FIRST.lines
    assert burn_ins.burn_in(opened, made.id).state == "under_way"


def test_who_brings_less_than_is_there_already_changes_nothing(opened):
    made = burn_ins.begin(opened, "T-77", NEW, ANNA)
    burn_in_journals.keep(opened, made.id, FIRST)
    late = burn_in_journals.keep(opened, made.id, ended(FIRST.lines[:1]))
    assert (late.lines, late.state, late.hours) == (2, "under_way", 60 / 3600)


def test_a_burn_in_gone_on_with_is_under_way_again(opened):
    made = burn_ins.begin(opened, "T-77", NEW, ANNA)
    stopped = replace(ended((*FIRST.lines, "end")), state="stopped")
    first = burn_in_journals.keep(opened, made.id, stopped).ended_at
    again = replace(FIRST, lines=(*stopped.lines, "gone on"))
    assert burn_in_journals.keep(opened, made.id, again).ended_at is None
    last = burn_in_journals.keep(opened, made.id, replace(stopped, lines=(*again.lines, "end")))
    assert last.ended_at > first


def test_setting_aside_needs_its_reason_and_is_taken_back(opened):
    made = burn_ins.begin(opened, "T-77", NEW, ANNA)
    with pytest.raises(RecordError, match="say why the burn-in is set aside"):
        burn_ins.set_aside_burn_in(opened, made.id, " ", ANNA)
    aside = burn_ins.set_aside_burn_in(opened, made.id, "wrong  cluster", BERT)
    assert (aside.counts, aside.set_aside_why) == (False, "wrong cluster")
    with pytest.raises(RecordError, match="is set aside already"):
        burn_ins.set_aside_burn_in(opened, made.id, "again", ANNA)
    # what it gives meanwhile is kept all the same
    assert burn_in_journals.keep(opened, made.id, FIRST).lines == 2
    assert undo_last(opened, "T-77", ANNA).what == "burn-in set aside"
    assert burn_ins.burn_in(opened, made.id).counts
    assert undo_last(opened, "T-77", ANNA).what == "burn-in of 24 h begun"
    undone = burn_ins.burn_in(opened, made.id)
    assert (undone.counts, undone.set_aside_why) == (False, "undone")
    assert burn_in_journals.journal_kept(opened, made.id).lines == FIRST.lines
    assert [one.undone for one in history(opened, "T-77")][-2:] == [True, False]


def test_undo_passes_over_what_is_on(opened):
    edit_job(opened, "T-77", {"owner": "first"}, ANNA)
    edit_job(opened, "T-77", {"owner": "second"}, ANNA)
    made = burn_ins.begin(opened, "T-77", NEW, BERT)
    on = {made.id}.__contains__
    begun = "burn-in of 24 h begun"
    assert [one.goes_on for one in history(opened, "T-77", 2, is_on=on)] == [True, False]
    undone = undo_last(opened, "T-77", ANNA, is_on=on)
    assert (undone.what, undone.by, undone.goes_on) == ("owner", ANNA, begun)
    assert job_sheet(opened, "T-77").owner == "first"
    assert burn_ins.burn_in(opened, made.id).counts
    # what is saved after it needs no passing over
    edit_job(opened, "T-77", {"owner": "third"}, ANNA)
    assert undo_last(opened, "T-77", ANNA, is_on=on).goes_on is None
    undo_last(opened, "T-77", ANNA, is_on=on)
    with pytest.raises(RecordError, match=f"'{begun}' is on and was passed over"):
        undo_last(opened, "T-77", ANNA, is_on=on)
    assert burn_ins.burn_in(opened, made.id).counts
    # no longer on, it is the last thing saved again
    assert undo_last(opened, "T-77", ANNA, is_on=set().__contains__).what == begun


def test_what_is_not_there_is_said(opened):
    for number in (0, 7, 1 << 70):
        with pytest.raises(NotThereError, match=f"there is no burn-in {number}"):
            burn_ins.burn_in(opened, number)
    with pytest.raises(RecordError, match="nobody named 'Nobody' works in this shop"):
        burn_ins.begin(opened, "T-77", NEW, "Nobody")
    assert burn_ins.burn_ins_of(opened, "T-77") == ()


@sqlite_only
def test_a_backup_holds_the_whole_burn_in(opened, tmp_path):
    made = burn_ins.begin(opened, "T-77", NEW, ANNA)
    whole = (*FIRST.lines, "end")
    burn_in_journals.keep(opened, made.id, ended(whole, {"looks/0-0.jpg": jpeg(3)}))
    backup(opened, tmp_path / "one.zip")
    restore(tmp_path / "one.zip", tmp_path / "again")
    with open_shop(tmp_path / "again") as again:
        journal = burn_in_journals.journal_kept(again, made.id)
        assert (journal.lines, journal.view.said) == (whole, ended(whole).said)
        assert again.originals.read(journal.pictures["looks/0-0.jpg"]) == jpeg(3)
        assert job_sheet(again, "T-77").version == job_sheet(opened, "T-77").version
