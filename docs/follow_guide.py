"""Follow docs/first-cluster.md as it is written, and put in what the program answers.

`python docs/follow_guide.py` works through the guide in an empty folder: files are typed from the
blocks that name one, commands are run in order, and each empty or old `text` block under them is
replaced by what they printed. A test follows it too and compares.
"""

import contextlib
import glob
import io
import os
import re
import shlex
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from importlib.resources import as_file, files
from pathlib import Path

from needlewright.cli import console
from needlewright.cli.main import run

GUIDE = Path(__file__).parent / "first-cluster.md"
BLOCK = re.compile(r"^```(\w+)(?: (\S+))?\n(.*?)^```$", re.M | re.S)


def followed(guide: str, folder: Path, *, short: bool = False) -> str:
    """The guide with the answers of this program.

    `short` takes the practice pictures from the package instead of from `needlewright demo`.
    """
    answers: list[str] = []

    def step(block: re.Match[str]) -> str:
        kind, name, content = block.groups()
        if name is not None:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(content, encoding="utf-8")
        elif kind == "sh":
            answers[:] = [_answer(line, short) for line in _lines(content)]
        elif kind == "text":
            return f"```text\n{''.join(answers)}```"
        return block.group()

    with _inside(folder):
        return BLOCK.sub(step, guide)


def _lines(content: str) -> list[str]:
    return re.sub(r"\\\n\s*", " ", content).splitlines()


def _answer(line: str, short: bool) -> str:
    """What a line of a shell prints; the program itself runs in this process, which is faster."""
    words = shlex.split(line)
    if words[0] != "needlewright":
        done = subprocess.run(["sh", "-ec", line], check=True, capture_output=True, text=True)
        return done.stdout
    if short and words[1] == "demo":
        with as_file(files("needlewright") / "demo_data") as data:
            shutil.copytree(data, words[-1])
        return ""
    expanded = [found for word in words[1:] for found in sorted(glob.glob(word)) or [word]]
    said = io.StringIO()
    screen = contextlib.redirect_stdout(said), contextlib.redirect_stderr(said)
    with screen[0], screen[1], contextlib.suppress(SystemExit):
        run(expanded)
    return "".join(f"{answer.rstrip()}\n" for answer in said.getvalue().rstrip().splitlines())


@contextlib.contextmanager
def _inside(folder: Path) -> Iterator[None]:
    """In a folder, on a screen of 80 columns."""
    before, width = Path.cwd(), console.out.width
    os.chdir(folder)
    console.out.width = 80
    try:
        yield
    finally:
        console.out.width = width
        os.chdir(before)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        text = followed(GUIDE.read_text(encoding="utf-8"), Path(place), short=True)
    GUIDE.write_text(text, encoding="utf-8")
