import json
from pathlib import Path

import jsonschema
import pytest

from needlewright.cli.main import run

SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "rehearse-draw.schema.json"


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["rehearse", "draw", *arguments])
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


def test_a_set_is_drawn_and_said_in_json(capsys, tmp_path: Path):
    out = tmp_path / "set"
    options = ("--out", str(out), "--count", "2", "--seed", "7", "--size", "320x240", "--json")
    code, said, _ = call(capsys, *options)
    document = json.loads(said)
    jsonschema.validate(document, json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert code == 0
    assert [each["photos"] for each in document["families"]] == [2]
    folder = Path(document["families"][0]["folder"])
    assert sorted(path.name for path in (folder / "photos").iterdir()) == ["001.jpg", "002.jpg"]
    with pytest.raises(SystemExit) as left:
        run(["family", "check", str(folder)])
    assert not left.value.code


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["--size", "big"], 2, "--size big: expected width x height in pixels"),
        (["--size", "100x100"], 2, "expected sides of 160 to 6000 pixels, found 100"),
        (["--count", "0"], 2, "--count 0: expected a whole number from 1 to 100000"),
        (["--seed", "-1"], 2, "--seed -1: expected a whole number from 0"),
        (["--family", "nowhere"], 1, "nowhere: there is no such folder"),
    ],
)
def test_a_wrong_option_is_told_in_one_sentence(
    capsys, tmp_path: Path, options: list[str], code: int, words: str
):
    out = tmp_path / "out"
    ended, said, told = call(capsys, "--out", str(out), *options)
    assert (ended, said) == (code, "")
    assert words in " ".join(told.split())
    assert "Traceback" not in told
    assert not out.exists()
