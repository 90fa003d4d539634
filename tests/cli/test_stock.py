"""The stock by command line; every document as its schema says."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run as command_line
from records.benches import ANNA, BERT, bench, new

SCHEMAS = Path(__file__).parents[2] / "docs" / "json"


@pytest.fixture
def call(tmp_path, capsys, monkeypatch):
    """The command line on a shop with two people and a job."""
    monkeypatch.setenv("NEEDLEWRIGHT_SHOP", str(tmp_path / "shop"))
    with bench(tmp_path / "shop") as (opened, _):
        new(opened)

    def words(*arguments: object, code: int = 0) -> str:
        with pytest.raises(SystemExit) as left:
            command_line(["stock", *map(str, arguments)])
        said = capsys.readouterr()
        assert (left.value.code or 0) == code, said.err
        return said.err if code else said.out

    return words


@pytest.fixture
def document(call):
    """The document of a command, held against the schema of that name."""

    def parsed(schema: str, *arguments: object) -> dict:
        found = json.loads(call(*arguments, "--json"))
        described = json.loads((SCHEMAS / f"{schema}.schema.json").read_text(encoding="utf-8"))
        Draft202012Validator.check_schema(described)
        assert list(Draft202012Validator(described).iter_errors(found)) == []
        return found

    return parsed


@pytest.fixture
def movements(document):
    """Five movements of two batches, to be ordered with two left."""
    document("stock-part", "add", "movement", "--words", "movement", "--reorder-point", 2,
             "--place", "A3", "--price", "16.50", "--currency", "eur", "--by", ANNA)  # fmt: skip
    document("stock-part", "receive", "movement", 3, "--batch", "B7", "--on", "2026-01-10",
             "--note", "invented trade", "--by", ANNA)  # fmt: skip
    return document("stock-part", "receive", "movement", 2, "--batch", "B8", "--by", BERT)


def test_from_the_delivery_to_the_job_and_back(document, call, movements):
    assert (movements["on_hand"], movements["price"], movements["currency"]) == (5, "16.50", "EUR")
    used = document("stock-used", "use", "t-77", "movement", 4, "--why", "two dials", "--by", ANNA)
    assert [(one["batch"], one["count"]) for one in used["parts"]] == [("B7", 3), ("B8", 1)]
    back = document("stock-used", "give-back", "T-77", "movement", "--batch", "B8", "--by", BERT)
    assert [(one["batch"], one["count"]) for one in back["parts"]] == [("B7", 3)]
    (order,) = document("stock-reorder", "reorder")["parts"]
    assert (order["part"]["code"], order["least"]) == ("movement", 1)
    assert (
        "movement, 2 on hand, reorder point 2; no accepted plan needs it; 1 or more bring it above"
    ) in call("reorder")
    (batch,) = document("stock-batch", "batch", "movement", "b7")["batches"]
    assert [(job["tag"], job["count"]) for job in batch["jobs"]] == [("T-77", 3)]
    assert "T-77: 3 in fam-job, serial S-123, in the house" in call("batch", "movement")
    lines = call("history", "movement").splitlines()
    assert lines[0] == "movement: movement, 2 pieces on hand, TO REORDER"
    assert lines[-1].endswith("+1      2  given back from T-77, batch B8, Bert Invented")


def test_counting_scrapping_and_taking_back(document, call, movements):
    document("stock-part", "scrap", "movement", 1, "--why", "bent shaft", "--by", BERT)
    counted = document("stock-part", "count", "movement", 2, "--why", "counted", "--by", ANNA)
    assert counted["on_hand"] == 2
    moves = document("stock-history", "history", "movement")["moves"]
    assert [(one["kind"], one["count"]) for one in moves[2:]] == [("scrapped", -1), ("counted", -2)]
    again = document("stock-part", "take-back", moves[-1]["id"], "--by", ANNA)
    assert again["on_hand"] == 4
    assert "counted, batch B7, counted, taken back, Anna Invented" in call("history", "movement")
    seen = moves[0]["id"]
    said = call("count", "movement", 9, "--why", "x", "--seen", seen, "--by", ANNA, code=1)
    assert "saved 'taken back 2' at" in said


def test_the_list_is_searched_and_travels_as_a_table(document, call, movements, tmp_path):
    document("stock-part", "add", "lamp", "--words", "backlight lamp", "--by", ANNA)
    assert [one["code"] for one in document("stock-list", "list")["parts"]] == ["lamp", "movement"]
    assert [one["code"] for one in document("stock-list", "list", "B8", "a3")["parts"]] == [
        "movement"
    ]
    assert call("list").splitlines()[1:] == [
        "lamp                0         -                         backlight lamp",
        "movement            5         2           A3            movement",
    ]
    file = tmp_path / "list.csv"
    assert document("stock-export", "export", file)["parts"] == 2
    assert call("export") == file.read_text().replace("\r\n", "\n")
    text = file.read_text().replace("B8,2026", "B8 new,2026")
    file.write_text(text)
    done = document("stock-import", "import", file, "--by", ANNA)
    assert (done["lines"], done["batches_received"], done["parts_changed"]) == (3, 1, 0)
    document("stock-part", "change", "lamp", "--retired", "--place", "C2", "--by", ANNA)
    assert [one["code"] for one in document("stock-list", "list")["parts"]] == ["movement"]
    assert "kept no more" in call("list", "--retired")


def test_what_plans_may_need_is_added_at_once(document, movements):
    listed = document("stock-list", "add-catalogue", "--by", ANNA)["parts"]
    assert {one["code"]: one["on_hand"] for one in listed} == {
        "display": 0, "driver": 0, "face": 0, "feed_resistors": 0, "lamp": 0, "movement": 5,
        "tell_tale_lamp": 0,
    }  # fmt: skip


def test_the_label_of_a_drawer(document, movements, tmp_path):
    document("stock-label", "label", "movement", "--out", tmp_path / "label.pdf")
    assert (tmp_path / "label.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ("receive", "movement", -3),
            "stock receive: expected a whole number from 1 to 100000, found",
        ),
        (("count", "movement", "-1"), "stock count: expected a whole number from 0 to 100000"),
        (("use", "T-77", "movement", "-2"), "stock use: expected a whole number from 1 to 100000"),
        (("give-back", "T-77", "movement", "-2.5"), "stock give-back: expected a whole number"),
        (("count", "movement", 3), "stock count: the reason is missing; say it with --why TEXT"),
        (("scrap", "movement", 3), "stock scrap: the reason is missing; say it with --why TEXT"),
    ],
    ids=lambda one: " ".join(map(str, one)) if isinstance(one, tuple) else "",
)
def test_a_number_below_0_and_no_reason_are_told_what_is_wanted(call, movements, words, sentence):
    assert sentence in call(*words, "--by", ANNA, code=2)


def test_a_price_may_have_a_decimal_comma(call, document, movements):
    """The same rule as for sums: 1,250 is 1.25 or 1250, and nobody guesses which."""
    new = document("stock-part", "add", "hub", "--words", "hub", "--price", "3,10",
                   "--currency", "EUR", "--by", ANNA)  # fmt: skip
    assert new["price"] == "3.10"
    said = call("change", "hub", "--price", "1,250", "--by", ANNA, code=1)
    assert "price: expected an amount of 0 or more, such as 16.50 or 16,50" in said


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("use", "T-77", "movement", 6), "6 wanted and 5 on hand; count what is in the drawer"),
        (("use", "T-99", "movement"), "there is no job with the tag 'T-99'"),
        (("use", "T-77", "mvement"), "no part 'mvement' in stock; is 'movement' meant?"),
        (("use", "T-77", "movement", "many"), "count: expected a whole number of pieces"),
        (("give-back", "T-77", "movement"), "1 of movement cannot be given back"),
        (("receive", "movement", 1, "--on", "soon"), "received_on: expected a day such as"),
        (("take-back", 99), "the ledger of the stock has no line 99"),
        (("batch", "movement", "B9"), "has no batch 'B9'; it has 'B7', 'B8'"),
        (("needs", "T-77"), "job T-77: no plan was kept for it; make one"),
        (("label", "movement", "--out", "none/label.pdf"), "no such folder"),
        (("import", "none.csv"), "none.csv: cannot be opened"),
        (("change", "movement", "--price", "1.234"), "price 1.234: EUR has 2 decimal places"),
    ],
    ids=lambda one: " ".join(map(str, one)) if isinstance(one, tuple) else "",
)
def test_what_cannot_be_done_is_said_in_one_sentence(call, movements, words, sentence):
    by = () if words[0] in {"batch", "needs", "label"} else ("--by", ANNA)
    said = call(*words, *by, code=1)
    assert sentence in said
    assert said.count("\n") == 1
