"""Photos of the demonstration sent to the page, and read in processes the page starts itself."""

import os
import time
from collections.abc import Iterator
from io import BytesIO
from multiprocessing import active_children
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from needlewright.records.runs import run_sheet
from needlewright.web.app import create_app
from proofs.drawn_job import true_run
from web.sheet_desk import DEMO, TAG, Desk, desk, part_of, received, words_of

AS_FOUND = DEMO / "as-found"
PHOTOS = {"00-rest.jpg": 0, "03-up.jpg": 3}
WITHIN_S = 180.0
"""Given up after so long; how long it takes is for `benchmarks/page.py` to say."""


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path) as filled:
        received(filled.shop)
    app = create_app(tmp_path)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        yield Desk(app.state.house.shop, client, tmp_path)


def sent(at: Desk) -> int:
    """The table of commands and its first photos; the run's id."""
    table = ("commands.csv", BytesIO((AS_FOUND / "commands.csv").read_bytes()), "text/csv")
    photos = [(name, BytesIO((AS_FOUND / name).read_bytes()), "image/jpeg") for name in PHOTOS]
    files = [("files", one) for one in (table, *photos)]
    answer = at.script(f"/jobs/{TAG}/runs/found/files", {}, files=files)
    assert answer.status_code == 200, answer.text
    return int(answer.json()["run"])


def watched(at: Desk, run_id: int) -> set[int]:
    """Ask how far it is, as the page does, until all is read; the processes at work meanwhile."""
    processes: set[int] = set()
    end_s = time.monotonic() + WITHIN_S
    while True:
        far = at.client.get(f"/jobs/{TAG}/run/{run_id}/progress").json()
        processes |= {child.pid for child in active_children() if child.pid is not None}
        assert far["trouble"] is None
        if far["read"] == far["of"] == len(PHOTOS):
            return processes
        assert time.monotonic() < end_s, f"the photos were not read: {far}"
        time.sleep(0.1)


def test_photos_are_read_in_processes_of_their_own_and_their_rows_appear(at: Desk) -> None:
    run_id = sent(at)
    processes = watched(at, run_id)
    assert processes
    assert os.getpid() not in processes
    truth = {(row.step, row.dial): row for row in true_run("as-found").rows}
    photos = run_sheet(at.shop, run_id).photos
    assert {photo.name: photo.step for photo in photos} == PHOTOS
    for photo in photos:
        assert photo.overlay_sha256 is not None
        assert at.shop.originals.read(photo.overlay_sha256)[:2] == b"\xff\xd8"
        assert len(photo.readings) == 4
        for reading in photo.readings:
            true = truth[photo.step, reading.dial]
            assert reading.angle_deg is not None
            assert true.angle_deg is not None
            assert abs(reading.angle_deg - true.angle_deg) < 0.3, (photo.name, reading.dial)
    page = at.get()
    table = words_of(part_of(page, 'id="found-dial-speed"', "</table>"))
    assert "80 up" in table
    assert "120 up" not in table  # that photo was not sent
    assert page.count('data-state="read" id="found-step-') == len(PHOTOS)
