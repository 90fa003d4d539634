"""Many photos: order, names as given, bad ones among good ones, processes and their ends."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from needlewright.errors import FamilyError
from needlewright.families.folder import load_family
from needlewright.readings.batch import Outcome, PictureProblem, read_photos
from needlewright.readings.model import PhotoReadings
from readings.fake_reader import FakeReader, ThreadTeller, faceless

TESTS = Path(__file__).parents[1]
FAMILY = load_family(TESTS / "data" / "families" / "fam-d")

MIXED = ["p3.jpg", "./p1.jpg", "bad1.jpg", "p2.jpg", "lost.jpg", "sub//p9.jpg", "bad2.jpg"]


def said(outcome: Outcome) -> object:
    if isinstance(outcome, PictureProblem):
        return (outcome.photo, outcome.reason)
    return (outcome.photo, outcome.found, outcome.readings[0].angle_deg)


@pytest.mark.parametrize("workers", [1, 2])
def test_order_and_names_are_as_given(workers: int) -> None:
    seen: list[tuple[int, int]] = []
    outcomes = read_photos(
        FAMILY, MIXED, lambda done, of: seen.append((done, of)), workers, FakeReader
    )
    assert [said(outcome) for outcome in outcomes] == [
        ("p3.jpg", True, 3.0),
        ("./p1.jpg", True, 1.0),
        ("bad1.jpg", "bad1.jpg: is bad"),
        ("p2.jpg", True, 2.0),
        ("lost.jpg", False, None),
        ("sub//p9.jpg", True, 9.0),
        ("bad2.jpg", "bad2.jpg: is bad"),
    ]
    assert seen == [(done, 7) for done in range(8)]


def test_nothing_to_read() -> None:
    assert read_photos(FAMILY, [], make_reader=FakeReader) == []


def test_few_photos_need_no_process() -> None:
    mine = os.getpid()

    def here(family: object) -> FakeReader:  # a local function cannot be sent to a process
        assert os.getpid() == mine
        return FakeReader(FAMILY)

    outcomes = read_photos(FAMILY, ["p1.jpg", "p2.jpg"], make_reader=here)
    assert [outcome.photo for outcome in outcomes] == ["p1.jpg", "p2.jpg"]


@pytest.mark.parametrize("workers", [1, 2])
def test_an_unusable_family_is_said_as_itself(workers: int) -> None:
    with pytest.raises(FamilyError, match="has no face"):
        read_photos(FAMILY, ["p1.jpg", "p2.jpg"], None, workers, faceless)


def test_a_process_that_dies_leaves_a_sentence() -> None:
    outcomes = read_photos(FAMILY, ["p1.jpg", "kill.jpg", "p2.jpg"], None, 2, FakeReader)
    killed = outcomes[1]
    assert isinstance(killed, PictureProblem)
    assert "ended from outside" in killed.reason
    for outcome in (outcomes[0], outcomes[2]):
        assert isinstance(outcome, PhotoReadings | PictureProblem)


def test_processes_keep_to_one_thread_each(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "7")
    monkeypatch.delenv("MKL_NUM_THREADS", raising=False)
    outcomes = read_photos(FAMILY, ["p1.jpg", "p2.jpg"], None, 2, ThreadTeller)
    assert [o.reason for o in outcomes if isinstance(o, PictureProblem)] == ["1", "1"]
    assert os.environ["OPENBLAS_NUM_THREADS"] == "7"
    assert "MKL_NUM_THREADS" not in os.environ


UNGUARDED = """
import sys
from pathlib import Path
from needlewright.families.folder import load_family
from needlewright.readings.batch import read_photos
from readings.fake_reader import FakeReader

outcomes = read_photos(load_family(Path(sys.argv[1])), ["p1.jpg", "p2.jpg"], None, 2, FakeReader)
print([outcome.photo for outcome in outcomes], __file__ is not None)
"""


def test_a_script_without_a_guard_is_not_run_anew(tmp_path: Path) -> None:
    script = tmp_path / "unguarded.py"
    script.write_text(UNGUARDED)
    said = subprocess.run(
        [sys.executable, str(script), str(FAMILY.folder)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(TESTS)},
    )
    assert said.stdout == "['p1.jpg', 'p2.jpg'] True\n"
    assert said.stderr == ""


SLOW = """
import sys, time
from pathlib import Path
from needlewright.families.folder import load_family
from needlewright.readings.batch import read_photos
from readings.fake_reader import FakeReader

class SlowReader(FakeReader):
    def read_photo(self, path, as_given=None):
        time.sleep(0.2)
        return super().read_photo(path, as_given)

def show(done, of):
    print(done, flush=True)

if __name__ == "__main__":
    family = load_family(Path(sys.argv[1]))
    try:
        read_photos(family, [f"p{i}.jpg" for i in range(500)], show, 2, SlowReader)
    except KeyboardInterrupt:
        print("stopped", flush=True)
"""


@pytest.mark.parametrize("done", ["0", "2"], ids=["while starting", "while reading"])
def test_ctrl_c_stops_within_a_photo(tmp_path: Path, done: str) -> None:
    script = tmp_path / "slow.py"
    script.write_text(SLOW)
    child = subprocess.Popen(
        [sys.executable, str(script), str(FAMILY.folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(TESTS)},
        start_new_session=True,
    )
    assert child.stdout is not None
    while child.stdout.readline().strip() != done:
        assert child.poll() is None
    os.killpg(child.pid, signal.SIGINT)  # as a terminal does it: the whole group
    out, errors = child.communicate(timeout=180)
    assert errors == ""
    *counted, last = out.split()
    assert last == "stopped"
    assert len(counted) < 20  # of five hundred
    assert child.returncode == 0
