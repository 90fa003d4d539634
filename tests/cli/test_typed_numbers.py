"""Decimal commas on the command line: the one house rule, wherever a number is typed."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from typer.main import get_command

from needlewright.cli.command_table import COMMANDS
from needlewright.cli.main import app, run
from needlewright.cli.typed_numbers import number_typed
from needlewright.errors import UsageError
from signals.invented import DIALS, family_with

TYRE = ("signal", "constant", "--tyre", "195/65 R15", "--pulses-per-turn")


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(list(arguments))
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


def numbers_under(command: Any) -> Iterator[Any]:
    for one in getattr(command, "commands", {}).values():
        yield from numbers_under(one)
    for one in command.params:
        if "float" in str(one.type_descriptor.annotation):
            yield one


def test_every_option_that_is_a_number_takes_them() -> None:
    group = get_command(app)
    context = group.make_context("needlewright", ["version"])
    found = [one for name in COMMANDS for one in numbers_under(group.get_command(context, name))]
    assert len(found) > 50
    assert [one.opts for one in found if "process_value" not in vars(one)] == []


def test_an_option_with_a_comma_is_that_with_a_point(capsys) -> None:
    said = [json.loads(call(capsys, *TYRE, typed, "--json")[1]) for typed in ("8,5", "8.5")]
    assert said[0] == said[1]
    assert said[0]["pulses_per_turn"] == 8.5


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((*TYRE, "1,250"), "--pulses-per-turn: 1,250 can be read in two ways; write 1250 or 1.25"),
        ((*TYRE, "1,2,3"), "--pulses-per-turn: the commas of '1,2,3' can be read in two ways"),
    ],
)
def test_commas_that_can_be_read_in_two_ways_are_refused(capsys, arguments, says) -> None:
    code, out, err = call(capsys, *arguments)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err


def test_values_of_dials_take_them_too(capsys, tmp_path) -> None:
    family_with(tmp_path, *DIALS.values())
    for words in (("show", "pair=0,5"), ("stated", "pair=75,5")):
        texts = [(words[1], words[1].replace(",", "."))[i] for i in (0, 1)]
        said = [
            call(capsys, "signal", words[0], "--family", str(tmp_path), text, "--json")
            for text in texts
        ]
        assert said[0][0] == 0, said[0][2]
        assert said[0][1].replace("75,5", "75.5") == said[1][1]


def test_a_number_inside_a_text_says_where_it_stands() -> None:
    assert number_typed(" 0,5", "fuel=0,5") == 0.5
    with pytest.raises(UsageError, match="rpm=1,250: 1,250 can be read in two ways"):
        number_typed("1,250", "rpm=1,250")
