"""A plan's needs against the stock, what to order, batches that come back, and lists as CSV."""

import csv
from datetime import UTC, date, datetime
from decimal import Decimal
from io import StringIO

import pytest
from sqlalchemy import update
from statsmodels.stats.proportion import proportion_confint

from needlewright.composing.stock import needed_in_job, needed_of, to_reorder
from needlewright.composing.stock_batches import batch_record, batch_records, share_of
from needlewright.composing.stock_table import read_stock, stock_csv, stock_lines
from needlewright.errors import NotThereError, PlanError, RecordError
from needlewright.records.plan_acceptances import accept_plan
from needlewright.records.plans import keep_plan
from needlewright.records.stock import receive, stock, stock_part, use_part
from needlewright.records.stock_history import ledger
from needlewright.records.stock_import import import_stock
from needlewright.records.stock_parts import add_part
from needlewright.records.tables import Job
from records.benches import ANNA, BERT, bench, new


@pytest.fixture
def drawer(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        for code, words, point in (("movement", "movement", 2), ("lamp", "backlight lamp", None)):
            add_part(opened, {"code": code, "words": words, "reorder_point": point}, ANNA)
        receive(opened, "movement", 5, "B7", ANNA)
        receive(opened, "lamp", 1, "L1", ANNA)
        yield opened


def plan(**parts):
    """A plan's document with one option that needs these parts."""
    listed = [{"id": code, "words": f"a {code}", "count": n} for code, n in parts.items()]
    return {
        "number": "0A1B2C3D",
        "options": [{"id": "recommended", "price": "9.00", "parts": listed}],
    }


@pytest.mark.parametrize(
    ("parts", "state", "left", "said"),
    [
        ({"movement": 2}, "enough", (0, 3), "enough; 3 left after it"),
        ({"movement": 3}, "to_reorder", (0, 2), "enough; 2 left after it, reorder point 2"),
        ({"movement": 5}, "to_reorder", (0, 0), "enough; 0 left after it, reorder point 2"),
        ({"movement": 7}, "short", (2, 0), "short by 2"),
        ({"lamp": 1}, "enough", (0, 0), "enough; 0 left after it"),
        ({"display": 1}, "not_kept", (1, 0), "not kept in stock"),
    ],
)
def test_what_an_option_needs(drawer, parts, state, left, said):
    (one,) = needed_of(drawer, plan(**parts), "recommended")
    assert (one.state, (one.short, one.after), one.said) == (state, left, said)


def test_what_the_job_used_is_needed_no_more(drawer):
    new(drawer)
    use_part(drawer, "T-77", "movement", 2, ANNA)
    (one,) = needed_of(drawer, plan(Movement=3), "recommended", "T-77")
    assert (one.count, one.used, one.on_hand, one.state) == (1, 2, 3, "to_reorder")
    use_part(drawer, "T-77", "movement", 2, ANNA)
    (one,) = needed_of(drawer, plan(movement=3), "recommended", "T-77")
    assert (one.count, one.used, one.said) == (0, 3, "all of it is used")


def test_an_option_the_plan_does_not_have(drawer):
    with pytest.raises(PlanError, match=r"0A1B2C3D: has no option 'all'; .* 'recommended'"):
        needed_of(drawer, plan(movement=1), "all")
    with pytest.raises(NotThereError, match="no job"):
        needed_of(drawer, plan(movement=1), "recommended", "T-99")


def test_what_is_to_be_ordered_knows_what_was_accepted(drawer):
    assert to_reorder(drawer) == ()
    for tag, parts in (
        ("T-1", {"movement": 2, "lamp": 3}),
        ("T-2", {"movement": 2}),
        ("T-3", {"movement": 9}),
    ):
        new(drawer, tag, serial=f"S-{tag}")
        keep_plan(drawer, tag, {**plan(**parts), "tag": tag, "currency": "EUR"}, ANNA)
    for tag in ("T-1", "T-2"):
        accept_plan(
            drawer, tag, "0A1B2C3D", ANNA, option="recommended", who="C. Ustomer",
            when=date(2026, 3, 2), how="by message",
        )  # fmt: skip
    use_part(drawer, "T-2", "movement", 1, ANNA)
    lamp, movement = to_reorder(drawer)
    assert (lamp.part.code, lamp.wanted, lamp.short, lamp.least) == ("lamp", 3, 2, 2)
    assert (movement.wanted, movement.jobs) == (3, ("T-1", "T-2"))
    assert (movement.part.on_hand, movement.short, movement.least) == (4, 0, 2)
    needs = needed_in_job(drawer, "t-2")
    assert (needs.tag, needs.option, needs.accepted) == ("T-2", "recommended", True)
    assert [(one.count, one.used, one.state) for one in needs.parts] == [(1, 1, "enough")]
    closed(drawer, "T-1")
    assert to_reorder(drawer) == ()


def test_a_part_at_its_point_is_to_be_ordered(drawer):
    new(drawer)
    use_part(drawer, "T-77", "movement", 3, ANNA)
    (one,) = to_reorder(drawer)
    assert (one.part.on_hand, one.part.to_reorder, one.wanted, one.least) == (2, True, 0, 1)


@pytest.mark.parametrize(("back", "out"), [(0, 1), (0, 14), (1, 3), (2, 2), (7, 60), (60, 60)])
def test_the_interval_is_that_of_a_reference_library(back, out):
    """Against `statsmodels.stats.proportion.proportion_confint(method="beta")`."""
    low, high = proportion_confint(back, out, alpha=0.05, method="beta")
    one = share_of(back, out)
    assert (one.low, one.high) == pytest.approx((low, high), abs=1e-6)


def test_the_interval_where_none_came_back_is_known_in_closed_form():
    """1 - (0.025)^(1/n), which follows from the binomial law by hand."""
    assert share_of(0, 20).high == pytest.approx(1 - 0.025 ** (1 / 20), abs=1e-6)
    assert share_of(0, 0) == share_of(0, 0).__class__(0, 0, None, None, None)


def closed(opened, tag):
    """Sent out, by the shortest way: what a return needs is tested elsewhere."""
    with opened.writing("test") as session:
        at = datetime(2026, 4, 1, tzinfo=UTC)
        session.execute(update(Job).where(Job.tag == tag).values(closed_at=at))


def test_a_batch_knows_its_jobs_and_which_came_back(drawer):
    receive(drawer, "movement", 2, "b7", ANNA, received_on="2026-02-01")
    receive(drawer, "movement", 4, "B8", BERT)
    for number, batch in enumerate(("B7", "B7", "B7", "B8", "B8", "B7")):
        new(drawer, f"T-{number}", serial=f"S-{number}")
        use_part(drawer, f"T-{number}", "movement", 1, ANNA, batch=batch)
    for number in (0, 1, 3, 4):
        closed(drawer, f"T-{number}")
    use_part(drawer, "T-1", "movement", 1, ANNA, batch="B8")
    new(drawer, "T-9", serial="S-1", return_of="T-1")
    first, second = batch_records(drawer, "movement")
    assert (first.mark, first.received, len(first.deliveries)) == ("b7", 7, 2)
    assert [(j.tag, j.count, j.came_back) for j in first.jobs] == [
        ("T-0", 1, None),
        ("T-1", 1, "T-9"),
        ("T-2", 1, None),
        ("T-5", 1, None),
    ]
    assert (first.returns.back, first.returns.out) == (1, 2)
    assert (first.others.back, first.others.out) == (0, 2)
    assert first.said == (
        "1 of 2 jobs (1 to 99 % at 95 %) came back with it in them; of other batches 0 of 2 jobs "
        "(0 to 84 % at 95 %). That a cluster came back does not say that this part failed."
    )
    assert (second.returns.back, second.returns.out) == (1, 3)
    assert batch_record(drawer, "movement", "B 8".replace(" ", "")) == second
    with pytest.raises(NotThereError, match="has no batch 'B9'"):
        batch_record(drawer, "movement", "B9")


def test_a_batch_no_job_went_out_with(drawer):
    assert batch_record(drawer, "movement", "B7").said == "No job with it has gone out yet."


def write(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "list.csv"
    path.write_bytes(text.encode(encoding))
    return path


def test_a_list_goes_out_and_comes_in_as_it_was(drawer, tmp_path):
    add_part(drawer, {"code": "face", "words": 'face, "night" ü', "price": "85.00",
                      "currency": "EUR", "place": "B2"}, ANNA)  # fmt: skip
    receive(drawer, "movement", 2, "B8", ANNA, note="invented, by post", price="9.10",
            currency="EUR", received_on="2026-01-05")  # fmt: skip
    text = stock_csv(stock(drawer))
    assert text.splitlines()[0] == (
        "part,words,unit,reorder_point,place,price,currency,batch,received_on,note,paid,"
        "paid_currency,count"
    )
    with bench(tmp_path / "other") as (other, _):
        path = write(tmp_path, text, "utf-8-sig")
        done = import_stock(other, read_stock(path), path.name, BERT)
        assert (done.lines, done.parts_new, done.batches_received) == (4, 3, 3)
        assert stock_csv(stock(other)) == text
        again = import_stock(other, read_stock(path), path.name, BERT)
        assert (again.parts_new, again.parts_changed, again.batches_received) == (0, 0, 0)
        assert again.batches_counted == 0
        assert len(ledger(other, "movement")) == 2
        new_price = stock_part(other, "face").price
        assert new_price == Decimal("85.00")


def test_a_list_changes_and_counts_what_is_there(drawer, tmp_path):
    path = write(tmp_path, "Part;place;batch;count\nmovement;C1;B7;4\nLAMP;;;3\n\n")
    done = import_stock(drawer, read_stock(path), path.name, BERT)
    assert (done.lines, done.parts_changed, done.batches_counted) == (2, 1, 2)
    assert stock_part(drawer, "movement").place == "C1"
    assert [(m.kind, m.count, m.why) for m in ledger(drawer, "movement")][1:] == [
        ("counted", -1, "list list.csv")
    ]
    assert [(b.mark, b.on_hand) for b in stock_part(drawer, "lamp").batches] == [
        ("L1", 1),
        ("not known", 2),
    ]


def test_bad_lines_are_named_and_nothing_is_taken_in(drawer, tmp_path):
    path = write(
        tmp_path,
        "part,words,count,batch,price,currency,received_on\n"
        "hub,hub,4,H1,,,\n"
        "needle,,1,,,,\n"
        "movement,,many,B7,,,\n"
        "lamp,,-1,L1,,,\n"
        "lamp,,2,L1,1.2,,\n"
        "movement,,,B9,,,\n"
        "hub,,5,h1,,,\n"
        "movement,,1,B9,,,2030-01-01\n",
    )
    with pytest.raises(RecordError) as refused:
        import_stock(drawer, read_stock(path), path.name, BERT)
    said = str(refused.value)
    assert said.startswith("list.csv: nothing was taken in, 7 of 8 lines cannot be used: line 3:")
    for sentence in (
        "line 3: part needle: is new; say in the column 'words'",
        "line 4: part movement: count: expected a whole number of pieces, 0 or more, found 'many'",
        "line 5: part lamp: count: expected a whole number",
        "line 6: part lamp, price 1.2: say in which currency",
        "line 7: part movement: a batch is named and its count is empty",
        "line 8: part hub, batch h1: stands in line 2 already",
        "line 9: part movement: received on 2030-01-01, which is still to come",
    ):
        assert sentence in said
    assert [one.code for one in stock(drawer)] == ["lamp", "movement"]
    assert len(ledger(drawer, "movement")) == 1


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "line 1: the column 'part' is missing"),
        ("part\n", "holds no parts below its header line"),
        ("part,colour\nx,red\n", "line 1: there is no column 'colour'; there are part, words"),
        ("part,part\nx,x\n", "the column 'part' is there twice"),
        ("words\nx\n", "the column 'part' is missing"),
        ("part,words\na,b,c\n", "line 2: has 3 cells and the header 2; is a comma"),
        ('part,words\na,"b\n', "is no CSV"),
    ],
)
def test_what_is_no_list(tmp_path, text, sentence):
    with pytest.raises(RecordError, match=sentence):
        read_stock(write(tmp_path, text))
    with pytest.raises(RecordError, match="no text in UTF-8"):
        read_stock(write(tmp_path, "part\nü\n", "latin-1"))
    with pytest.raises(RecordError, match="cannot be opened"):
        read_stock(tmp_path / "none.csv")


@pytest.mark.parametrize("typed", ["=1+1", "+49 1", "-x", "@SUM(A1)", "'=1+1", "'quoted", "A3"])
def test_no_cell_of_a_list_is_a_formula_to_a_spreadsheet(drawer, typed):
    """OWASP, "CSV Injection": no cell begins with =, +, -, @, tab or carriage return."""
    add_part(drawer, {"code": "clip", "words": typed, "place": typed}, ANNA)
    receive(drawer, "clip", 1, typed, ANNA, note=typed)
    text = stock_csv(stock(drawer))
    cells = [cell for row in csv.reader(StringIO(text, newline="")) for cell in row]
    assert not [cell for cell in cells if cell[:1] in tuple("=+-@\t\r")]
    lines = [
        line for line in stock_lines("list.csv", text.encode()) if line.cells["part"] == "clip"
    ]
    named = ("words", "place", "batch", "note")
    assert [[line.cells[name] for name in named] for line in lines] == [[typed] * 4]
