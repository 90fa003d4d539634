"""`needlewright shop catalogue`: shown, set, written back, taken away."""

import hashlib
import json
import shutil
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run as command_line
from needlewright.plans.catalogue.load import catalogue_text
from needlewright.records.backup import backup
from needlewright.records.catalogues import own_catalogue
from needlewright.records.opening import open_shop
from needlewright.records.restore import restore
from records.benches import furnished

SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "shop-catalogue.schema.json"
ANNA = ("--by", "Anna Invented")
SHIPPED = catalogue_text().content
OWN = b"# our prices\n" + SHIPPED.replace(b"hour = 60.00", b"hour = 72.50")


@pytest.fixture
def call(tmp_path, capsys, monkeypatch):
    shutil.copytree(furnished(), tmp_path / "shop")
    monkeypatch.setenv("NEEDLEWRIGHT_SHOP", str(tmp_path / "shop"))

    def words(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            command_line(["shop", "catalogue", *map(str, arguments)])
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return words


def shown(call, *arguments):
    code, out, err = call(*arguments, "--json")
    assert code == 0, err
    document = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    assert [e.message for e in Draft202012Validator(schema).iter_errors(document)] == []
    return document


def test_a_catalogue_is_set_written_back_and_taken_away(call, tmp_path):
    first = shown(call, "show", "--out", tmp_path / "shipped.toml")
    assert (first["is_own"], first["set"]) == (False, [])
    assert (tmp_path / "shipped.toml").read_bytes() == SHIPPED
    (tmp_path / "ours.toml").write_bytes(OWN)
    own = shown(call, "set", tmp_path / "ours.toml", *ANNA)
    assert (own["name"], own["is_own"]) == ("ours.toml", True)
    assert own["sha256"] == hashlib.sha256(OWN).hexdigest()
    assert len(shown(call, "set", tmp_path / "ours.toml", *ANNA)["set"]) == 1  # it was set already
    shown(call, "show", "--out", tmp_path / "back.toml")
    assert (tmp_path / "back.toml").read_bytes() == OWN  # comments and all
    again = shown(call, "reset", *ANNA)
    assert (again["is_own"], again["sha256"]) == (False, first["sha256"])
    assert [one["sha256"] for one in again["set"]] == [None, own["sha256"]]
    code, _, err = call("reset", *ANNA)
    assert code == 1
    assert "the shop has no catalogue of its own; it plans with the one that comes" in err


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b"least = 4, usual = 7", b"least = -4, usual = 7", "minutes must not be negative"),
        (b'parts = [{ part = "movement" }]', b'parts = [{ part = "motor" }]', "no part 'motor'"),
        (b"lost_steps/movement", b"lost_stepz/movement", "there is no fault 'lost_stepz'"),
        (b'currency = "EUR"', b'currency = "ABC"', "currency"),
        (b"[shop]", b"[shop", "is no TOML"),
    ],
)
def test_what_is_no_catalogue_changes_nothing(call, tmp_path, old, new, words):
    (tmp_path / "bad.toml").write_bytes(SHIPPED.replace(old, new, 1))
    code, _, err = call("set", tmp_path / "bad.toml", *ANNA)
    assert code == 1
    assert words in err
    assert len(err.strip().splitlines()) == 1
    assert shown(call, "show")["set"] == []


def test_it_is_in_a_backup(call, tmp_path):
    (tmp_path / "ours.toml").write_bytes(OWN)
    shown(call, "set", tmp_path / "ours.toml", *ANNA)
    with open_shop(tmp_path / "shop") as opened:
        backup(opened, tmp_path / "all.zip")
    restore(tmp_path / "all.zip", tmp_path / "restored")
    with open_shop(tmp_path / "restored") as there:
        kept = own_catalogue(there)
    assert kept is not None
    assert (kept[0].name, kept[0].by, kept[1]) == ("ours.toml", "Anna Invented", OWN)
