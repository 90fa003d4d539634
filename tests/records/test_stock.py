"""Parts in stock: a ledger that never goes below zero, and jobs that know their batches."""

import sqlite3
import threading
from contextlib import closing
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from sqlalchemy import select

from needlewright.errors import ConflictError, JobError, NotThereError, RecordError
from needlewright.records.sheet import job_sheet
from needlewright.records.stock import (
    count_stock,
    give_back,
    parts_of_job,
    receive,
    scrap,
    stock,
    stock_part,
    take_back,
    use_part,
)
from needlewright.records.stock_history import jobs_with, ledger
from needlewright.records.stock_parts import add_part, change_batch, change_part
from needlewright.records.tables import Base
from needlewright.records.undo import history, undo_last
from records.benches import ANNA, BERT, bench, new, sqlite_only


@pytest.fixture
def drawer(tmp_path):
    """A shop with two deliveries of movements, three old and two new, and two jobs."""
    with bench(tmp_path) as (opened, _):
        new(opened)
        new(opened, "T-78", serial="S-124")
        typed = {"code": "movement", "words": "movement", "reorder_point": 2, "place": "A3"}
        add_part(opened, typed, ANNA)
        receive(opened, "movement", 3, "B7", ANNA, received_on="2026-01-10", note="invented trade")
        receive(opened, "movement", 2, "B8", ANNA, price="16.50", currency="EUR")
        yield opened


def on_hand(opened, part="movement"):
    one = stock_part(opened, part)
    return one.on_hand, {batch.mark: batch.on_hand for batch in one.batches}


def test_what_is_on_hand_is_the_sum_of_the_ledger(drawer):
    use_part(drawer, "T-77", "movement", 4, ANNA, why="two dials, and two spoiled")
    scrap(drawer, "movement", 1, "bent shaft", BERT)
    give_back(drawer, "T-77", "movement", 2, ANNA)
    count_stock(drawer, "movement", 5, "counted in the drawer", BERT)
    assert [(m.kind, m.count, m.batch, m.on_hand, m.tag) for m in ledger(drawer, "movement")] == [
        ("received", 3, "B7", 3, None),
        ("received", 2, "B8", 5, None),
        ("used", -3, "B7", 2, "T-77"),
        ("used", -1, "B8", 1, "T-77"),
        ("scrapped", -1, "B8", 0, None),
        ("given_back", 1, "B8", 1, "T-77"),
        ("given_back", 1, "B7", 2, "T-77"),
        ("counted", 3, "not known", 5, None),
    ]
    assert on_hand(drawer) == (5, {"B7": 1, "B8": 1, "not known": 3})
    (one,) = stock(drawer)
    assert [(b.received, b.on_hand) for b in one.batches] == [(3, 1), (2, 1), (0, 3)]
    assert one.counted_at is not None
    assert (one.batches[1].price, one.batches[1].currency) == (Decimal("16.50"), "EUR")


def test_the_oldest_batch_goes_first_and_the_job_remembers_it(drawer):
    use_part(drawer, "T-77", "MOVEMENT", 2, ANNA)
    use_part(drawer, "T-78", "movement", 1, BERT, batch="b8", why="asked for the new ones")
    assert [(u.part, u.batch, u.count, u.by, u.why) for u in parts_of_job(drawer, "T-77")] == [
        ("movement", "B7", 2, ANNA, "")
    ]
    assert [(u.batch, u.by, u.why) for u in parts_of_job(drawer, "T-78")] == [
        ("B8", BERT, "asked for the new ones")
    ]
    assert on_hand(drawer) == (2, {"B7": 1, "B8": 1})
    assert stock_part(drawer, "movement").to_reorder
    found = jobs_with(drawer, "movement", "B7")
    assert [(j.tag, j.serial, j.count) for (jobs) in found.values() for j in jobs] == [
        ("T-77", "S-123", 2)
    ]


def test_undo_on_the_job_gives_back_and_takes_again(drawer):
    use_part(drawer, "T-77", "movement", 4, ANNA)
    assert history(drawer, "T-77")[0].what == "used 4 movement, batch B7, B8"
    undo_last(drawer, "T-77", BERT)
    assert on_hand(drawer) == (5, {"B7": 3, "B8": 2})
    assert parts_of_job(drawer, "T-77") == ()
    assert jobs_with(drawer, "movement") == {1: (), 2: ()}
    lines = ledger(drawer, "movement")
    assert [(m.count, m.undoes, m.undone, m.by) for m in lines[2:]] == [
        (-3, None, True, ANNA),
        (-1, None, True, ANNA),
        (1, 4, False, BERT),
        (3, 3, False, BERT),
    ]
    use_part(drawer, "T-77", "movement", 2, ANNA)
    give_back(drawer, "T-77", "movement", 1, ANNA)
    assert undo_last(drawer, "T-77", ANNA).what == "gave back 1 movement, batch B7"
    assert on_hand(drawer)[0] == 3
    assert undo_last(drawer, "T-77", ANNA).what == "used 2 movement, batch B7"
    assert on_hand(drawer)[0] == 5


def test_what_is_left_of_a_part_keeps_its_own_words_and_person(drawer, monkeypatch):
    days = iter(datetime(2026, 3, day, 9, tzinfo=UTC) for day in range(1, 30))
    monkeypatch.setattr(drawer, "now", lambda: next(days))
    use_part(drawer, "T-77", "movement", 1, ANNA, why="left dial")
    use_part(drawer, "T-77", "movement", 1, BERT, why="right dial")
    undo_last(drawer, "T-77", BERT)
    (left,) = parts_of_job(drawer, "T-77")
    assert (left.count, left.why, left.by, left.at.day) == (1, "left dial", ANNA, 1)
    undo_last(drawer, "T-77", BERT)
    use_part(drawer, "T-77", "movement", 1, BERT, why="left dial again")
    (job,) = jobs_with(drawer, "movement", "B7")[1]
    (again,) = parts_of_job(drawer, "T-77")
    assert (job.count, job.used_at) == (1, again.at), "the day of the use that stands"


def test_what_was_given_back_and_used_elsewhere_cannot_be_taken_again(drawer):
    use_part(drawer, "T-77", "movement", 1, ANNA)
    give_back(drawer, "T-77", "movement", 1, ANNA)
    use_part(drawer, "T-78", "movement", 5, BERT)
    with pytest.raises(RecordError, match="fewer are left of batch B7; take back what was used"):
        undo_last(drawer, "T-77", ANNA)
    assert on_hand(drawer)[0] == 0


@pytest.mark.parametrize(
    ("count", "batch", "sentence"),
    [
        (6, None, r"6 wanted and 5 on hand; count what is in the drawer, or receive"),
        (4, "B7", r"4 wanted and 3 on hand of batch B7; of other batches there are 2; count"),
        (1, "B9", r"has no batch 'B9'; it has 'B7', 'B8'"),
    ],
)
def test_nothing_is_used_that_is_not_there(drawer, count, batch, sentence):
    with pytest.raises(RecordError, match=sentence):
        use_part(drawer, "T-77", "movement", count, ANNA, batch=batch)
    assert on_hand(drawer)[0] == 5
    assert len(ledger(drawer, "movement")) == 2
    assert all(one.what != "" for one in history(drawer, "T-77"))


def test_who_saw_the_last_one_go_is_told_by_whom(drawer):
    use_part(drawer, "T-77", "movement", 4, ANNA)
    seen = stock_part(drawer, "movement").last_move
    use_part(drawer, "T-77", "movement", 1, ANNA, seen=seen)
    with pytest.raises(ConflictError, match=rf"{ANNA} saved 'used 1' on job T-77 .*0 left, 1 want"):
        use_part(drawer, "T-78", "movement", 1, BERT, seen=seen)
    with pytest.raises(ConflictError, match="counted 1"):
        count_stock(drawer, "movement", 1, "counted", BERT, seen=seen)


def test_two_who_draw_the_last_one_at_once(drawer, tmp_path):
    """Two sessions on two connections; whoever comes second is told, and nothing is below zero."""
    use_part(drawer, "T-77", "movement", 4, ANNA)
    seen = stock_part(drawer, "movement").last_move
    gate, told = threading.Barrier(2), []

    def draw(tag, by):
        with bench(tmp_path) as (opened, _):
            gate.wait()
            try:
                told.append(use_part(opened, tag, "movement", 1, by, seen=seen))
            except ConflictError as error:
                told.append(str(error))

    people = [threading.Thread(target=draw, args=each) for each in (("T-77", ANNA), ("T-78", BERT))]
    for one in people:
        one.start()
    for one in people:
        one.join()
    (refused,) = [one for one in told if isinstance(one, str)]
    assert "saved 'used 1' on job T-7" in refused
    assert on_hand(drawer)[0] == 0


def test_counting_takes_what_is_missing_from_the_oldest(drawer):
    count_stock(drawer, "movement", 1, "four are gone", BERT)
    assert on_hand(drawer) == (1, {"B7": 0, "B8": 1})
    count_stock(drawer, "movement", 1, "counted again", BERT, batch="B8")
    count_stock(drawer, "movement", 1, "and all of it", BERT)
    assert [(m.count, m.batch) for m in ledger(drawer, "movement")[-2:]] == [(0, "B8"), (0, None)]


def test_a_line_of_the_shop_is_taken_back_once(drawer):
    take_back(drawer, 2, BERT)
    assert on_hand(drawer) == (3, {"B7": 3, "B8": 0})
    with pytest.raises(RecordError, match="was taken back before"):
        take_back(drawer, 2, BERT)
    with pytest.raises(RecordError, match="takes another one back"):
        take_back(drawer, 3, BERT)
    use_part(drawer, "T-77", "movement", 1, ANNA)
    with pytest.raises(RecordError, match="belongs to job T-77; give the part back there"):
        take_back(drawer, 4, BERT)
    with pytest.raises(RecordError, match="fewer are left of batch B7"):
        take_back(drawer, 1, BERT)
    with pytest.raises(NotThereError, match="no line 99"):
        take_back(drawer, 99, BERT)


def test_no_more_is_given_back_than_was_used(drawer):
    use_part(drawer, "T-77", "movement", 1, ANNA)
    with pytest.raises(RecordError, match="2 of movement cannot be given back, it has 1"):
        give_back(drawer, "T-77", "movement", 2, ANNA)
    with pytest.raises(RecordError, match="it has 0 of batch B8"):
        give_back(drawer, "T-77", "movement", 1, ANNA, batch="B8")


def test_parts_are_changed_and_kept_no_more(drawer):
    one = stock_part(drawer, "movement")
    now = change_part(drawer, "movement", {"price": "16.50", "currency": "eur"}, ANNA, seen=1)
    assert (now.price, now.currency, now.place) == (Decimal("16.50"), "EUR", "A3")
    with pytest.raises(ConflictError, match=f"changed by {ANNA} after you opened it"):
        change_part(drawer, "movement", {"place": "B1"}, BERT, seen=one.version)
    assert change_part(drawer, "movement", {"price": ""}, ANNA).currency is None
    use_part(drawer, "T-77", "movement", 4, ANNA)
    with pytest.raises(RecordError, match="1 are on hand; use them up, scrap them or count"):
        change_part(drawer, "movement", {"retired": True}, ANNA)
    scrap(drawer, "movement", 1, "bent", ANNA)
    change_part(drawer, "movement", {"retired": True}, ANNA)
    assert stock(drawer) == ()
    assert [p.to_reorder for p in stock(drawer, retired=True)] == [False]
    with pytest.raises(RecordError, match="is kept no more"):
        receive(drawer, "movement", 1, "B9", ANNA)
    give_back(drawer, "T-77", "movement", 1, ANNA)
    assert [(p.on_hand, p.retired) for p in stock(drawer)] == [(1, True)]


def test_a_batch_is_corrected_but_not_its_count(drawer):
    now = change_batch(drawer, 1, {"mark": "B-07", "received_on": "2026-01-11"}, ANNA)
    assert next((b.mark, b.received_on, b.on_hand, b.note) for b in now.batches) == (
        "B-07",
        date(2026, 1, 11),
        3,
        f"invented trade; mark was B7 until 2026-03-02 ({ANNA})",
    )
    with pytest.raises(JobError, match="still to come"):
        change_batch(drawer, 1, {"received_on": "2027-01-01"}, ANNA)
    with pytest.raises(JobError, match="field 'count' is not known"):
        change_batch(drawer, 1, {"count": 9}, ANNA)


def test_the_mark_of_what_is_fitted_in_a_job_stands(drawer):
    use_part(drawer, "T-77", "movement", 1, ANNA)
    with pytest.raises(
        RecordError, match=r"1 of batch B7 are used in jobs, T-77 first.*receive it"
    ):
        change_batch(drawer, 1, {"mark": "B-07"}, BERT)
    now = change_batch(drawer, 1, {"mark": " B7 ", "note": "by post"}, BERT)
    assert (now.batches[0].mark, now.batches[0].note) == ("B7", "by post")
    assert [u.batch for u in parts_of_job(drawer, "T-77")] == ["B7"]
    give_back(drawer, "T-77", "movement", 1, ANNA)
    now = change_batch(drawer, 1, {"mark": "B-07"}, BERT)
    one = now.batches[0]
    assert (one.mark, one.by) == ("B-07", BERT), "who corrected it last"
    assert one.at > ledger(drawer, "movement")[-1].at
    assert one.note == f"by post; mark was B7 until 2026-03-02 ({BERT})"
    assert ledger(drawer, "movement")[0].by == ANNA, "who received it"
    assert change_batch(drawer, 1, {"price": "3", "currency": "EUR"}, ANNA).batches[0].by == ANNA


def test_a_line_and_a_batch_go_by_their_part(drawer):
    add_part(drawer, {"code": "lamp", "words": "lamp"}, ANNA)
    with pytest.raises(RecordError, match=r"line 1 .* is of part movement, not of part lamp; open"):
        take_back(drawer, 1, ANNA, part="lamp")
    with pytest.raises(RecordError, match="batch B7 is of part movement, not of part lamp; open"):
        change_batch(drawer, 1, {"mark": "B-07"}, ANNA, part="lamp")
    assert on_hand(drawer) == (5, {"B7": 3, "B8": 2})
    assert take_back(drawer, 1, ANNA, part="MOVEMENT").on_hand == 2


def test_a_delivery_without_a_mark_is_called_by_its_day(drawer):
    now = receive(drawer, "movement", 1, "", ANNA)
    assert now.batches[-1].mark == "2026-03-02"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"code": "a/b", "words": "x"}, "code: expected a short code in one line"),
        ({"code": "..", "words": "x"}, "code: expected a short code"),
        ({"code": "lamp", "words": " "}, "words: expected what it is"),
        ({"code": "lamp", "words": "l", "reorder_point": -1}, "reorder_point: expected a whole"),
        ({"code": "lamp", "words": "l", "reorder_point": "1.5"}, "reorder_point: expected a whole"),
        ({"code": "lamp", "words": "l", "price": "-1"}, "price: expected an amount of 0 or more"),
        ({"code": "lamp", "words": "l", "price": "nan"}, "price: expected an amount"),
        ({"code": "lamp", "words": "l", "price": "1.20"}, "price 1.20: say in which currency"),
        ({"code": "lamp", "words": "l", "price": "1.205", "currency": "EUR"}, "2 decimal places"),
        ({"code": "lamp", "words": "l", "price": "1", "currency": "XYZ"}, "no currency 'XYZ'"),
        ({"code": "Movement", "words": "another"}, "movement \\(movement\\) is in stock already"),
        ({"code": "lamp", "words": "l", "colour": "red"}, "field 'colour' is not known"),
    ],
)
def test_what_cannot_be_a_part(drawer, typed, sentence):
    with pytest.raises((JobError, RecordError), match=sentence):
        add_part(drawer, typed, ANNA)
    assert len(stock(drawer)) == 1


@pytest.mark.parametrize("count", [0, -1, "two", "1.5", True, 100_001, ""])
def test_what_cannot_be_a_count(drawer, count):
    with pytest.raises(JobError, match="count: expected a whole number of pieces"):
        receive(drawer, "movement", count, "B9", ANNA)
    with pytest.raises(JobError, match="count: expected a whole number of pieces"):
        use_part(drawer, "T-77", "movement", count, ANNA)


def test_a_code_that_is_like_one_there_is_named(drawer):
    with pytest.raises(NotThereError, match="no part 'movment' in stock; is 'movement' meant"):
        use_part(drawer, "T-77", "movment", 1, ANNA)
    with pytest.raises(JobError, match="why: expected the reason"):
        scrap(drawer, "movement", 1, "", ANNA)


NEVER = [
    ("UPDATE stock_move SET count = 9", "the ledger of the stock is never changed"),
    ("DELETE FROM stock_move", "the ledger of the stock is never changed"),
    ("REPLACE INTO stock_move SELECT * FROM stock_move", "the ledger of the stock is never"),
    (
        "INSERT INTO stock_move (part_id, batch_id, kind, count, why, at, person_id) "
        "VALUES (1, 1, 'scrapped', -4, 'x', '2026-01-01', 1)",
        "not so many left of this batch",
    ),
    (
        "INSERT INTO stock_move (part_id, batch_id, job_id, kind, count, why, at, person_id) "
        "VALUES (1, 1, 1, 'given_back', 1, '', '2026-01-01', 1)",
        "the job has not used so many of this batch",
    ),
    (
        "INSERT INTO stock_move (part_id, batch_id, kind, count, why, at, person_id) "
        "VALUES (9, 1, 'received', 4, '', '2026-01-01', 1)",
        "the batch is of another part",
    ),
    (
        "INSERT INTO stock_move (part_id, batch_id, kind, count, why, at, person_id, undoes_id) "
        "VALUES (1, 1, 'received', -2, '', '2026-01-01', 1, 1)",
        "what takes a line back is that line with the opposite count",
    ),
    (
        "INSERT INTO stock_move (part_id, batch_id, kind, count, why, at, person_id) "
        "VALUES (1, 1, 'received', -1, '', '2026-01-01', 1)",
        "ck_stock_move_count",
    ),
    (
        "INSERT INTO stock_move (part_id, batch_id, kind, count, why, at, person_id) "
        "VALUES (1, 1, 'used', -1, '', '2026-01-01', 1)",
        "ck_stock_move_job",
    ),
]


@sqlite_only
def test_what_the_database_refuses_past_every_function(drawer):
    with closing(sqlite3.connect(drawer.database_path)) as database:
        for statement, why in NEVER:
            with pytest.raises(sqlite3.IntegrityError, match=why):
                database.execute(statement)
            database.rollback()
    assert on_hand(drawer)[0] == 5


def too_long(opened):
    """Texts of any table that are longer than their column, which a file takes and a server not."""
    found = []
    with opened.reading() as session:
        for table in Base.metadata.sorted_tables:
            short = [one for one in table.columns if getattr(one.type, "length", None)]
            for row in session.execute(select(*short)) if short else ():
                for column, value in zip(short, row, strict=True):
                    if value is not None and len(value) > column.type.length:
                        found.append((column, value))
    return found


@pytest.mark.parametrize("letter", ["ß", "ΐ", "ﬃ", "W"])  # two, three, three and one of lower case
def test_the_longest_of_everything_fits_its_column(drawer, letter):
    tag, code, mark = letter * 40, letter * 40, letter * 60
    new(drawer, tag, serial="S-125")
    add_part(
        drawer, {"code": code, "words": "long", "price": "1000000000", "currency": "KWD"}, ANNA
    )
    price = {"price": "999999999.999", "currency": "KWD"}
    receive(drawer, code.casefold(), 2, mark, ANNA, received_on="2026-01-10", **price)
    use_part(drawer, tag.casefold(), code, 1, ANNA, why="w")
    assert job_sheet(drawer, tag.upper()).tag == tag
    assert on_hand(drawer, code.swapcase())[0] == 1
    assert too_long(drawer) == []
    with pytest.raises(RecordError):
        new(drawer, tag, serial="S-126")
    other = letter * 39 + "x"  # told apart by its last letter alone
    new(drawer, other, serial="S-127")
    add_part(drawer, {"code": other, "words": "another"}, ANNA)
    assert stock_part(drawer, other).words == "another"
