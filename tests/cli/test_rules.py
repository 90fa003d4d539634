import json

import pytest

from needlewright.cli.main import run


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["rules", *arguments])
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


def test_json_lists_every_rule_with_source_and_limits(capsys):
    code, out, err = call(capsys, "--json")
    document = json.loads(out)
    assert (code, err) == (0, "")
    assert [r["code"] for r in document["rules"]] == [
        "un-r39",
        "us-393.82",
        "jp-148",
        "jp-148-before-2007",
        "house",
        "house",
    ]
    assert all(r["source"] and r["formula"] and r["applies"] for r in document["rules"])
    assert document["rules"][0]["examples"][1] == {"true": 80.0, "lower": 80.0, "upper": 92.0}
    assert "not legal advice" in document["caution"]


def test_mph_dial(capsys):
    _, out, _ = call(capsys, "--json", "--unit", "mph", "--full-scale", "140")
    us = json.loads(out)["rules"][1]
    assert us["check_points"] == [50.0]
    assert us["examples"] == [{"true": 50.0, "lower": 45.0, "upper": 55.0}]


def test_people_get_a_table_and_the_caution(capsys):
    code, out, _ = call(capsys)
    assert code == 0
    assert "136.00" in out
    assert "49 CFR 393.82" in out
    assert "Facts of the texts, not legal advice; defer to local codes." in out


@pytest.mark.parametrize("bad", [("--unit", "V"), ("--full-scale", "0"), ("--graduation", "nan")])
def test_wrong_usage_is_one_sentence(capsys, bad):
    code, out, err = call(capsys, *bad)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert bad[0] in err
