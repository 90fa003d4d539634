"""Photos are read while people go on: what comes of them when processes die and disks fill."""

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from needlewright.errors import DiskFullError
from needlewright.readings.batch import PictureProblem
from needlewright.records.opening import Shop
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.undo import undo_last
from needlewright.records.waiting_photos import photos_to_read, read_on, stop_reading
from needlewright.web import background
from needlewright.web.background import Outlook, ReadingQueue
from needlewright.web.background_worker import PhotoRead, is_large
from records.benches import ANNA, FAMILY_FOLDER, bench, jpeg, outcomes, received, told

OVERLAY = jpeg(77)


class Desk:
    """A pool in this process: each photo is read when the test says so, or at once."""

    def __init__(self, come_out: Callable[[Path], PhotoRead]) -> None:
        self.come_out = come_out
        self.handed: list[Path] = []
        self.most_at_once = 0
        self.is_open = True

    def submit(self, _work: Any, _version: int, _family: Any, path: Path) -> "Future[PhotoRead]":
        self.handed.append(path)
        future: Future[PhotoRead] = Future()
        try:
            future.set_result(self.come_out(path))
        except BaseException as error:  # noqa: BLE001 - a dying process is one of them
            future.set_exception(error)
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self.is_open = False


def read_well(path: Path) -> PhotoRead:
    return PhotoRead(outcomes()[0], OVERLAY)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with bench(tmp_path / "shop") as (opened, _):
        received(opened)
        yield opened


def photographed(shop: Shop, count: int, tag: str = "T-77", first: int = 0) -> int:
    run = start_run(shop, tag, "found", told(), ANNA)
    for number in range(count):
        add_run_photo(shop, run.id, jpeg(100 + first + number), f"{number}.jpg", ANNA)
    return run.id


def until(holds: Callable[[], bool], within_s: float = 180.0) -> None:
    """Wait for another thread; how long it takes is not judged."""
    end_s = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < end_s, "it did not come to pass"
        time.sleep(0.005)


def all_read(shop: Shop) -> bool:
    return not photos_to_read(shop)


class Working:
    """A queue at work, ended with the test."""

    def __init__(self, shop: Shop, come_out: Callable[[Path], PhotoRead], workers: int = 2) -> None:
        self.desks: list[Desk] = []

        def make(_workers: int) -> Desk:
            self.desks.append(Desk(come_out))
            return self.desks[-1]

        self.queue = ReadingQueue(shop, make, workers)

    def __enter__(self) -> "Working":
        self.queue.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.queue.stop()


def test_what_was_left_unread_is_read_at_the_start(shop: Shop) -> None:
    run_id = photographed(shop, 5)
    with Working(shop, read_well) as working:
        until(lambda: all_read(shop))
    run = run_sheet(shop, run_id)
    assert [photo.found for photo in run.photos] == [True] * 5
    assert {len(photo.readings) for photo in run.photos} == {4}
    assert {photo.overlay_sha256 for photo in run.photos} == {
        shop.originals.put(OVERLAY, "jpg").sha256
    }
    assert len(working.desks) == 1
    assert len(working.desks[0].handed) == 5
    assert not working.desks[0].is_open


def test_photos_that_come_later_are_read_when_it_is_woken(shop: Shop) -> None:
    with Working(shop, read_well) as working:
        until(lambda: not working.desks)
        photographed(shop, 2)
        working.queue.wake()
        until(lambda: all_read(shop))
        until(lambda: working.queue.outlook("T-77").waiting == 0)  # told after it is stored
        assert working.queue.outlook("T-77") == Outlook(0, 0, None, None)


def test_how_long_it_takes_counts_what_is_ahead(shop: Shop) -> None:
    received(shop, "T-78", serial="S-124")
    photographed(shop, 3)
    photographed(shop, 2, "T-78", first=50)
    queue = ReadingQueue(shop, Desk, 2)  # type: ignore[arg-type]
    queue._waiting = photos_to_read(shop)
    queue._times_s.extend((0.5, 1.5))
    assert queue.outlook("T-77") == Outlook(3, 0, 3.0, None)
    assert queue.outlook("T-78") == Outlook(2, 3, 5.0, None)
    assert queue.outlook("none") == Outlook(0, 0, None, None)


def test_a_photo_that_kills_its_process_is_found_out_and_named(shop: Shop) -> None:
    run_id = photographed(shop, 5)
    killer = run_sheet(shop, run_id).photos[2].sha256

    def come_out(path: Path) -> PhotoRead:
        if path.stem == killer[2:]:
            raise BrokenProcessPool("killed")
        return read_well(path)

    with Working(shop, come_out) as working:
        until(lambda: all_read(shop))
    photos = run_sheet(shop, run_id).photos
    assert [photo.found for photo in photos] == [True, True, None, True, True]
    assert photos[2].problem is not None
    assert photos[2].problem.startswith("2.jpg: was not read because the process that read it")
    assert len(working.desks) == 3  # once among others, once alone, and a new one for the rest
    assert sum(path.stem == killer[2:] for d in working.desks for path in d.handed) == 2


def test_a_full_disk_loses_nothing_and_is_said(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    run_id = photographed(shop, 3)
    full = threading.Event()
    full.set()
    monkeypatch.setattr(background, "AFTER_TROUBLE_S", 0.05)
    monkeypatch.setattr(background, "LOOK_AGAIN_S", 0.05)

    def store(*arguments: Any) -> Any:
        if full.is_set():
            raise DiskFullError("the disk is full; make room")
        return store_outcome(*arguments)

    monkeypatch.setattr(background, "store_outcome", store)
    with Working(shop, read_well) as working:
        until(lambda: working.queue.outlook("T-77").trouble == "the disk is full; make room")
        assert len(photos_to_read(shop)) == 3
        full.clear()
        working.queue.wake()
        until(lambda: all_read(shop))
        until(lambda: working.queue.outlook("T-77").trouble is None)
    assert [photo.found for photo in run_sheet(shop, run_id).photos] == [True] * 3


def test_a_photo_taken_back_while_it_was_read_is_no_trouble(shop: Shop) -> None:
    run_id = photographed(shop, 2)

    def come_out(path: Path) -> PhotoRead:
        if len(photos_to_read(shop)) == 2 and path == photos_to_read(shop)[1].path:
            undo_last(shop, "T-77", ANNA)
        return read_well(path)

    with Working(shop, come_out) as working:
        until(lambda: all_read(shop))
        assert working.queue.outlook("T-77").trouble is None
    assert [photo.found for photo in run_sheet(shop, run_id).photos] == [True]


def test_an_accident_in_one_photo_stops_no_other(shop: Shop) -> None:
    run_id = photographed(shop, 3)
    second = run_sheet(shop, run_id).photos[1].sha256

    def come_out(path: Path) -> PhotoRead:
        if path.stem == second[2:]:
            raise ZeroDivisionError
        return read_well(path)

    with Working(shop, come_out):
        until(lambda: all_read(shop))
    assert [photo.found for photo in run_sheet(shop, run_id).photos] == [True, None, True]


def test_a_photo_that_cannot_be_used_says_so(shop: Shop) -> None:
    run_id = photographed(shop, 1)

    def come_out(path: Path) -> PhotoRead:
        return PhotoRead(PictureProblem(str(path), f"{path}: is damaged; take it again"), None)

    with Working(shop, come_out):
        until(lambda: all_read(shop))
    (photo,) = run_sheet(shop, run_id).photos
    assert photo.problem == "0.jpg: is damaged; take it again"
    assert photo.overlay_sha256 is None


def test_never_more_is_in_hand_than_the_processes_can_take(shop: Shop) -> None:
    photographed(shop, 12)
    waiting: list[Future[PhotoRead]] = []

    class Slow(Desk):
        def submit(self, *arguments: Any) -> "Future[PhotoRead]":
            future: Future[PhotoRead] = Future()
            waiting.append(future)
            return future

    queue = ReadingQueue(shop, lambda _: Slow(read_well), 2)
    queue.start()
    done = 0
    until(lambda: len(waiting) == 4)
    while done < 12:
        assert len(waiting) - done <= 4
        waiting[done].set_result(read_well(Path()))
        done += 1
        wanted = min(12, done + 4)
        until(lambda wanted=wanted: len(waiting) == wanted)  # type: ignore[misc]
    until(lambda: all_read(shop))
    queue.stop()


def test_a_lost_photo_is_said_and_the_others_of_the_shop_are_read(shop: Shop) -> None:
    received(shop, "T-78", serial="S-124")
    first, second = photographed(shop, 3), photographed(shop, 2, "T-78", first=50)
    shop.originals.path(run_sheet(shop, first).photos[0].sha256).unlink()
    with Working(shop, read_well) as working:
        until(lambda: all_read(shop))
        assert working.queue.outlook("T-77").trouble is None
    photos = run_sheet(shop, first).photos
    assert [photo.found for photo in photos] == [None, True, True]
    assert photos[0].problem == (
        "0.jpg: was not read because its file is missing from the shop's store; choose the same "
        "photo again, or take a new one"
    )
    assert [photo.found for photo in run_sheet(shop, second).photos] == [True, True]
    assert sum(len(desk.handed) for desk in working.desks) == 4


def test_a_stopped_run_is_left_and_read_on_when_somebody_says_so(shop: Shop) -> None:
    received(shop, "T-78", serial="S-124")
    first, second = photographed(shop, 8), photographed(shop, 1, "T-78", first=50)
    futures: list[Future[PhotoRead]] = []

    class Slow(Desk):
        def submit(self, *arguments: Any) -> "Future[PhotoRead]":
            self.handed.append(arguments[-1])
            futures.append(Future())
            return futures[-1]

    desk = Slow(read_well)
    queue = ReadingQueue(shop, lambda _: desk, 2)
    queue.start()
    until(lambda: len(futures) == 4)
    assert futures[0].set_running_or_notify_cancel()
    assert futures[1].set_running_or_notify_cancel()
    stop_reading(shop, first, ANNA)
    futures[0].set_result(read_well(Path()))
    until(lambda: len(futures) == 5)  # the other job's photo: two were begun, two are taken back
    assert [future.cancelled() for future in futures] == [False, False, True, True, False]
    for future in (futures[1], futures[4]):
        future.set_result(read_well(Path()))
    until(lambda: all_read(shop) and len(photos_to_read(shop, first)) <= 6)
    assert len(photos_to_read(shop, first)) == 6
    assert run_sheet(shop, second).photos[0].found
    assert queue.outlook("T-77") == Outlook(0, 0, None, None)
    read_on(shop, first, ANNA)
    queue.wake()
    until(lambda: len(futures) == 9)
    done = 5
    while not all_read(shop):
        until(lambda: len(futures) > done or all_read(shop))  # noqa: B023 - asked at once
        for future in futures[done:]:
            future.set_result(read_well(Path()))
            done += 1
    queue.stop()
    assert [photo.found for photo in run_sheet(shop, first).photos] == [True] * 8
    assert len(desk.handed) == 5 + 6


def test_a_large_photo_is_read_while_no_other_is(shop: Shop) -> None:
    run = start_run(shop, "T-77", "found", told(), ANNA)
    for step, content in enumerate((jpeg(1), blank(6_000), jpeg(2), jpeg(3))):
        add_run_photo(shop, run.id, content, f"{step}.jpg", ANNA, step=step)
    waiting = photos_to_read(shop)
    handed: list[Path] = []

    class Slow(Desk):
        def submit(self, _work: Any, _version: int, _family: Any, path: Path) -> Any:
            handed.append(path)
            return Future()

    queue = ReadingQueue(shop, lambda _: Slow(read_well), 2)  # type: ignore[arg-type, return-value]
    flown = []
    for _ in range(4):
        queue._hand_over(waiting)
        flown.append(sorted(photo.name for photo in queue._flying.values()))
        for photo in queue._flying.values():
            queue._large.discard(photo.photo_id)
        waiting = tuple(p for p in waiting if p not in queue._flying.values())
        queue._flying.clear()
    assert flown == [["0.jpg"], ["1.jpg"], ["2.jpg", "3.jpg"], []]
    assert len(handed) == 4
    assert is_large(handed[1])
    assert not is_large(handed[0])


def test_what_cannot_be_measured_is_not_large(tmp_path: Path) -> None:
    (tmp_path / "text.jpg").write_text("no picture")
    assert not is_large(tmp_path / "text.jpg")
    assert not is_large(tmp_path / "none.jpg")


def blank(side_px: int) -> bytes:
    stream = BytesIO()
    Image.new("L", (side_px, side_px)).save(stream, "JPEG")
    return stream.getvalue()


def test_a_photo_of_a_hundred_megapixels_is_read_within_its_memory(tmp_path: Path) -> None:
    """In a process of its own, whose highest memory the system is asked for at the end.

    `getrusage` would not do: a new program's `ru_maxrss` begins at what the process that
    started it held, here the whole test run.
    """
    (tmp_path / "large.jpg").write_bytes(blank(10_000))
    code = (
        "import sys; from pathlib import Path; "
        "from needlewright.families.folder import load_family; "
        "from needlewright.web.background_worker import read_one; "
        "read = read_one(1, load_family(Path(sys.argv[1])), Path(sys.argv[2])); "
        "print(read.outcome.found, len(read.overlay) > 0); "
        "told = dict(line.split(':', 1) for line in open('/proc/self/status')); "
        "print(int(told['VmHWM'].split()[0]) // 1024)"
    )
    words = [sys.executable, "-c", code, str(FAMILY_FOLDER), str(tmp_path / "large.jpg")]
    said = subprocess.run(words, capture_output=True, text=True, check=True).stdout.split()
    assert said[:2] == ["False", "True"]
    assert int(said[2]) < 1_500, said[2]
