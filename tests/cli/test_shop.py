"""`needlewright shop` and where a shop is made, or is not."""

import pytest

from needlewright.cli.main import run as command_line
from records.benches import ANNA


@pytest.mark.parametrize("command", [
    ("jobs", "show", "T-77"), ("jobs", "list"), ("jobs", "new", "T-77", "--family", "fam-job"),
    ("shop", "show"), ("shop", "person"), ("shop", "family"), ("shop", "check"),
    ("backup", "backup.zip"),
], ids=" ".join)  # fmt: skip
def test_a_command_makes_no_shop_where_a_name_was_mistyped(tmp_path, capsys, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as left:
        command_line([*command, "--shop", "shpo"])
    assert left.value.code == 1
    assert capsys.readouterr().err == (
        "needlewright: shpo: there is no shop; name its folder with --shop, or make a new one "
        "there with needlewright shop set\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_what_furnishes_a_shop_makes_it(tmp_path, capsys):
    place = ["--shop", str(tmp_path / "new")]
    for words in (["set", "--name", "Test Bench"], ["person", ANNA], ["show"]):
        with pytest.raises(SystemExit) as left:
            command_line(["shop", *words, *place])
        assert left.value.code == 0
    assert "Test Bench" in capsys.readouterr().out
