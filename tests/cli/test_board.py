"""`needlewright board`: what it says, draws and refuses."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from needlewright.cli.main import run as command_line
from readings.drawn_boards import DAMAGES, after_shot, before_shot

SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "board.schema.json"


@pytest.fixture
def shots(tmp_path) -> tuple[Path, Path]:
    before, after = tmp_path / "before.png", tmp_path / "after.png"
    before.write_bytes(before_shot().png)
    after.write_bytes(after_shot().png)
    return before, after


def call(capsys, *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        command_line([str(word) for word in ("board", *words)])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def test_it_says_and_draws_where_the_board_has_changed(capsys, shots, tmp_path):
    drawn = tmp_path / "pair.png"
    code, out, err = call(
        capsys, "--before", shots[0], "--after", shots[1], "--out", drawn, "--json"
    )
    assert (code, err) == (0, "")
    document = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(document)] == []
    strongest = document["places"][:2]
    found = sorted(one["left"] + one["width"] / 2 for one in strongest)
    assert found == pytest.approx([before_shot().share(d)[0] for d in DAMAGES], abs=0.02)
    with Image.open(drawn) as picture:
        assert picture.width >= document["before_size_px"][0]
        assert picture.height >= 2 * document["before_size_px"][1]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--before", "A", "--after", "A"], 1, "is the same photo as"),
        (["--before", "A", "--after", "text"], 1, "is not a picture"),
        (["--before", "A", "--after", "none.jpg"], 1, "there is no such file"),
        (["--before", "A", "--after", "B", "--out", "x.jpg"], 2, "ends in .png"),
        (["--before", "A", "--after", "B", "--out", "A"], 2, "is one of the photos compared"),
        (["--before", "A", "--after", "B", "--out", "no/x.png"], 1, "no/x.png"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(capsys, shots, words, code, said):
    text = shots[0].with_name("text")
    text.write_text("no picture")
    names = {"A": shots[0], "B": shots[1], "text": text}
    got, out, err = call(capsys, *(names.get(word, word) for word in words))
    assert (got, out) == (code, "")
    assert said in err
    assert err.count("\n") == 1
    assert "Traceback" not in err
