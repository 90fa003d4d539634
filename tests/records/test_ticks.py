"""Ticks, counts and notes at the lines of a sheet: kept, taken off, undone, refused."""

from datetime import UTC, datetime

import pytest

from needlewright.errors import ConflictError, JobError, NotThereError, RecordError
from needlewright.records import tick_marks
from needlewright.records.backup import backup
from needlewright.records.opening import open_shop
from needlewright.records.restore import restore
from needlewright.records.tick_lines import (
    SheetLine,
    guide_sheet,
    is_of_plans,
    is_of_sheet,
    plan_sheet,
)
from needlewright.records.tick_marks import (
    MOST_NOTES,
    Numbered,
    Ticked,
    Unticked,
    write_marks,
)
from needlewright.records.ticks import (
    tick,
    ticks_of,
    untick,
    withdraw_note,
    write_note,
    write_number,
)
from needlewright.records.undo import history, undo_last
from records.benches import ANNA, BERT, bench, received, sqlite_only

TAG = "T-77"
PLAN = plan_sheet("0A1B2C3D")
GUIDE = guide_sheet("reflow")
LENS = SheetLine(PLAN, "open:take-off-the-lens", "Take off the lens.")
REFIT_CLIPS = SheetLine("refit", "clips")
SCREWS = SheetLine(GUIDE, "screws", "screws of the lens")


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    with bench(tmp_path_factory.mktemp("ticks")) as (opened, _):
        yield opened


@pytest.fixture
def opened(shop, request):
    """A job of its own for each test."""
    received(shop, request.node.name[:38])
    return shop


@pytest.fixture
def tag(request):
    return request.node.name[:38]


def lines(opened, tag, sheet=None):
    return [(t.sheet, t.key, t.mark, t.value, t.note, t.by) for t in ticks_of(opened, tag, sheet)]


def test_a_box_is_ticked_with_who_and_when(opened, tag):
    made = tick(opened, tag, LENS, ANNA, note="lens was loose")
    assert (made.mark, made.words, made.note, made.by, made.value) == (
        "done",
        "Take off the lens.",
        "lens was loose",
        ANNA,
        None,
    )
    assert made.at.date() == datetime(2026, 3, 2, tzinfo=UTC).date()
    again = tick(opened, tag, LENS, BERT)
    assert again == made
    assert lines(opened, tag) == [(PLAN, LENS.key, "done", None, "lens was loose", ANNA)]
    newest = history(opened, tag)[0]
    assert (newest.what, newest.by) == ("rebuild: done: Take off the lens.", ANNA)


def test_a_note_with_a_second_tick_is_not_lost(opened, tag):
    tick(opened, tag, LENS, ANNA)
    tick(opened, tag, LENS, BERT, note="one more cracked joint")
    assert lines(opened, tag) == [
        (PLAN, LENS.key, "done", None, "", ANNA),
        (PLAN, LENS.key, "note", None, "one more cracked joint", BERT),
    ]


def test_the_same_note_is_kept_once_and_there_are_only_so_many(opened, tag, monkeypatch):
    tick(opened, tag, LENS, ANNA)
    for _ in range(3):
        tick(opened, tag, LENS, BERT, note="one more cracked joint")
        write_note(opened, tag, LENS, "one more cracked joint", ANNA)
    assert [(line[2], line[4], line[5]) for line in lines(opened, tag)] == [
        ("done", "", ANNA),
        ("note", "one more cracked joint", BERT),
    ]
    assert history(opened, tag)[0].what == "rebuild: note: one more cracked joint"
    monkeypatch.setattr(tick_marks, "MOST_NOTES", 1)
    for act in (tick, lambda *a, note: write_note(*a[:3], note, a[3])):
        with pytest.raises(RecordError, match="has 1 notes at its steps, which is the most"):
            act(opened, tag, LENS, ANNA, note="another")


def test_marks_made_together_are_one_step_or_none(opened, tag):
    write_marks(
        opened,
        tag,
        [Ticked(LENS), Numbered(SCREWS, "out", 7), Numbered(SCREWS, "in", 6)],
        ANNA,
    )
    assert [line[2] for line in lines(opened, tag)] == ["done", "out", "in"]
    assert history(opened, tag)[0].what == "rebuild: done: Take off the lens. and 2 more"
    wrong = [Unticked(LENS), Numbered(SCREWS, "in", 7, shown=""), Numbered(SCREWS, "out", 9)]
    with pytest.raises(ConflictError, match="screws of the lens: somebody else wrote 6 after"):
        write_marks(opened, tag, wrong, BERT)
    assert [line[3] for line in lines(opened, tag)] == [None, 7.0, 6.0]
    undo_last(opened, tag, ANNA)
    assert lines(opened, tag) == []


def test_a_tick_is_taken_off_and_undone_to_who_made_it(opened, tag):
    tick(opened, tag, LENS, ANNA)
    assert untick(opened, tag, LENS, BERT) is True
    assert lines(opened, tag) == []
    assert untick(opened, tag, LENS, BERT) is False
    assert undo_last(opened, tag, BERT).what == "rebuild: not done: Take off the lens."
    assert lines(opened, tag) == [(PLAN, LENS.key, "done", None, "", ANNA)]
    assert undo_last(opened, tag, BERT).what == "rebuild: done: Take off the lens."
    assert lines(opened, tag) == []


def test_counts_take_the_place_of_the_one_before_and_come_back_by_undo(opened, tag):
    write_number(opened, tag, SCREWS, ANNA, mark="out", value=7)
    write_number(opened, tag, SCREWS, ANNA, mark="in", value=6)
    write_number(opened, tag, SCREWS, BERT, mark="in", value=7)
    assert lines(opened, tag, GUIDE) == [
        (GUIDE, "screws", "out", 7.0, "", ANNA),
        (GUIDE, "screws", "in", 7.0, "", BERT),
    ]
    assert lines(opened, tag, PLAN) == []
    undone = undo_last(opened, tag, BERT).what
    assert undone == "guide reflow: counted in 7: screws of the lens"
    assert [line[3] for line in lines(opened, tag)] == [7.0, 6.0]
    assert write_number(opened, tag, SCREWS, ANNA, mark="in", value=None) is None
    assert [line[2] for line in lines(opened, tag)] == ["out"]


def test_the_same_number_again_keeps_who_counted_first(opened, tag):
    first = write_number(opened, tag, REFIT_CLIPS, ANNA, mark="in", value=4)
    version = len(history(opened, tag))
    assert write_number(opened, tag, REFIT_CLIPS, BERT, mark="in", value=4) == first
    assert len(history(opened, tag)) == version


def test_notes_stand_one_by_one_and_can_be_taken_off(opened, tag):
    first = write_note(opened, tag, LENS, "one more  cracked joint", ANNA)
    write_note(opened, tag, LENS, "at pin 14", BERT)
    withdraw_note(opened, tag, first.id, BERT)
    assert [line[4] for line in lines(opened, tag)] == ["at pin 14"]
    assert undo_last(opened, tag, BERT).what == "rebuild: note taken off: one more cracked joint"
    assert [line[4] for line in lines(opened, tag)] == ["one more  cracked joint", "at pin 14"]
    tick(opened, tag, LENS, ANNA)
    done = ticks_of(opened, tag)[-1].id
    for wrong in (done, 10**30, -1):
        with pytest.raises(NotThereError, match=f"has no note {wrong}"):
            withdraw_note(opened, tag, wrong, ANNA)


@pytest.mark.parametrize(
    ("sheet", "key", "said"),
    [
        ("plan:xyz", "a", "there is no sheet 'plan:xyz'; expected plan:NUMBER, guide:NAME or"),
        ("guide:../up", "a", "there is no sheet 'guide:../up'"),
        (PLAN, "", "there is no line ''"),
        (PLAN, "x" * 161, "expected a key of 1 to 160 printable characters"),
        (PLAN, "a\nb", "there is no line 'a\nb'"),
    ],
)
def test_a_line_that_cannot_be_is_refused(shop, sheet, key, said):
    with pytest.raises(RecordError) as error:
        tick(shop, TAG, SheetLine(sheet, key), ANNA)
    assert said in str(error.value)


@pytest.mark.parametrize(
    ("mark", "value", "said"),
    [
        ("out", -1, "screws of the lens: expected a whole number from 0 to 999, found -1"),
        ("out", 1.5, "screws of the lens: expected a whole number from 0 to 999, found 1.5"),
        ("in", 1000, "expected a whole number from 0 to 999, found 1000"),
        ("in", float("nan"), "found nan"),
        ("reading", -3, "expected a number from 0 to 1000000, found -3"),
        ("done", 1, "'done' is no number; expected out, in, reading"),
    ],
)
def test_a_number_that_cannot_be_is_refused(shop, mark, value, said):
    with pytest.raises(RecordError) as error:
        write_number(shop, TAG, SCREWS, ANNA, mark=mark, value=value)
    assert said in str(error.value)
    assert str(error.value).startswith("job T-77, guide reflow")


def test_notes_that_cannot_be_are_refused(opened, tag):
    with pytest.raises(RecordError, match="the note is empty"):
        write_note(opened, tag, LENS, "  ", ANNA)
    with pytest.raises(JobError, match="a text of at most 2000 characters"):
        write_note(opened, tag, LENS, "x" * 2001, ANNA)
    with pytest.raises(NotThereError):
        write_note(opened, "NO-SUCH-JOB", LENS, "x", ANNA)
    assert lines(opened, tag) == []
    assert MOST_NOTES == 400


@sqlite_only
def test_a_backup_holds_them(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        received(opened, TAG)
        tick(opened, TAG, LENS, ANNA, note="loose")
        write_number(opened, TAG, REFIT_CLIPS, BERT, mark="in", value=4)
        before = ticks_of(opened, TAG)
        backup(opened, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "again")
    with open_shop(tmp_path / "again") as there:
        assert ticks_of(there, TAG) == before
    assert len(before) == 2


def test_the_journal_tells_sheets_apart():
    assert is_of_sheet("rebuild: done: x", PLAN)
    assert is_of_sheet("refit sheet: done: x", "refit")
    assert not is_of_sheet("guide reflow: done: x", guide_sheet("reflow-2"))
    assert not is_of_sheet("undo: rebuild: done: x", PLAN)
    assert is_of_plans("rebuild: done: x")
    assert not is_of_plans("guide rebuild: done: x")
