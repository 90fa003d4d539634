"""The entry point: version, order of the commands, documents as documented."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from typer.core import TyperGroup
from typer.main import get_command

from needlewright import __version__
from needlewright.cli.command_table import COMMANDS
from needlewright.cli.main import app, run

DOCS = Path(__file__).parents[2] / "docs" / "json"


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(list(arguments))
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


def test_version_for_people_and_programs(capsys):
    assert call(capsys, "version") == (0, f"{__version__}\n", "")
    assert json.loads(call(capsys, "version", "--json")[1]) == {"version": __version__}


@pytest.mark.parametrize("command", ["version", "rules"])
def test_a_document_is_as_its_schema_says(capsys, command):
    schema = json.loads((DOCS / f"{command}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    document = json.loads(call(capsys, command, "--json")[1])
    assert list(validator.iter_errors(document)) == []
    for field in schema["required"]:
        missing = {name: value for name, value in document.items() if name != field}
        assert len(list(validator.iter_errors(missing))) == 1


def test_help_lists_the_family_first_and_then_the_work_in_its_order(capsys):
    _, out, _ = call(capsys, "--help")
    listed = out[out.index("Commands") :]
    order = ["family", "read", "look", "run", "needles", "before-after", "report", "certify"]
    places = [listed.index(f"│ {name} ") for name in order]
    assert places == sorted(places)


def test_the_list_says_of_each_command_what_its_own_help_begins_with():
    group = get_command(app)
    context = group.make_context("needlewright", ["version"])
    names = group.list_commands(context)
    assert names == [*sorted(COMMANDS, key=lambda name: not COMMANDS[name].is_group), "version"]
    for name, listed in COMMANDS.items():
        command = group.get_command(context, name)
        said = " ".join((command.help or "").split())
        assert said.startswith(listed.summary), name
        assert listed.summary.endswith("."), name
        assert isinstance(command, TyperGroup) == listed.is_group, name


@pytest.mark.parametrize("words", [["--help"], []])
def test_the_help_loads_nothing_heavy(words):
    """An image library, a database, a chart library and a compiler of documents stay out."""
    heavy = ["cv2", "numpy", "scipy", "sqlalchemy", "altair", "typst", "fastapi"]
    looked = (
        "import sys\n"
        "from needlewright.cli.main import run\n"
        "try:\n    run(sys.argv[1:])\n"
        "except SystemExit:\n    pass\n"
        f"print('loaded:', *[name for name in {heavy} if name in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", looked, *words], capture_output=True, text=True, check=True
    )
    assert "temperature-series" in done.stdout
    assert done.stdout.splitlines()[-1] == "loaded:"


@pytest.mark.parametrize(
    ("words", "says"),
    [(["raed"], "No such command 'raed'"), (["read", "x.jpg"], "Missing option '--family'")],
)
def test_wrong_usage_is_one_sentence_and_exit_2(capsys, words, says):
    code, out, err = call(capsys, *words)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert says in err


def test_the_package_runs_as_a_module_too():
    as_module = [sys.executable, "-m", "needlewright"]
    done = subprocess.run(
        [*as_module, "signal", "nowhere"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert done.stderr.startswith("needlewright: No such command 'nowhere'")
