"""What goes wrong at a bench: each ends in a clear state with one sentence, the run so far kept."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from math import sin
from pathlib import Path

import can
import cv2
import numpy as np
import pytest

from bench.benches import (
    FAMILY,
    Heard,
    devices_of,
    errors_deg,
    kept_in,
    rehearsal_of,
    run_of,
    short_plan,
)
from needlewright.bench import settling
from needlewright.bench.camera import BenchCamera
from needlewright.bench.keeping import begin, state_path
from needlewright.bench.run import NOT_SETTLED, BenchRun, Ended
from needlewright.errors import CameraError, RunError, SignalError, TransportError
from needlewright.families.signal_file import DatabaseFile, SupplyFile
from needlewright.readings.run_csv import read_run
from needlewright.rehearsal.cluster.rehearsal import Rehearsal
from needlewright.signals.settings import BusSettings, SupplySettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.supply import SupplyTransport
from needlewright.signals.transports.together import TransportsTogether
from signals.invented import DASH_DBC


class Cable:
    """Between the bench's adapter and the bus: whole, pulled out, or dead without a word."""

    def __init__(self) -> None:
        self.pulled = self.dead = False

    def open(self, settings: BusSettings) -> can.BusABC:
        if self.pulled:
            raise TransportError("adapter virtual: cannot be opened: it is not there")
        return _Adapter(self, open_adapter(settings))  # type: ignore[return-value]


class _Adapter:
    def __init__(self, cable: Cable, bus: can.BusABC) -> None:
        self.cable, self.bus = cable, bus

    def send(self, message: can.Message) -> None:
        if self.cable.pulled:
            raise can.CanOperationError("the adapter is gone")
        if not self.cable.dead:
            self.bus.send(message)

    def recv(self, wait_s: float) -> can.Message | None:
        return self.bus.recv(wait_s)

    def shutdown(self) -> None:
        self.bus.shutdown()


@contextmanager
def cabled() -> Iterator[tuple[Rehearsal, Cable]]:
    cable = Cable()
    with rehearsal_of(opened_by=cable.open) as rehearsal:
        yield rehearsal, cable


def kept_rows(folder: Path) -> list[tuple[int | None, str]]:
    """Step and dial of what the file holds; a file that is not there holds nothing."""
    path = folder / "as-found.csv"
    return [(r.step, r.dial) for r in read_run(path).rows] if path.exists() else []


def failed(ended: Ended, words: str, done: int) -> None:
    assert ended.state == "failed"
    assert words in ended.words
    assert "\n" not in ended.words
    assert ended.done == done


def test_a_bus_unplugged_in_the_middle_ends_the_run_and_it_goes_on_at_the_same_point(
    tmp_path: Path,
):
    with cabled() as (rehearsal, cable):
        heard = Heard(lambda: setattr(cable, "pulled", True))
        run = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal), heard)
        with rehearsal.transport:
            ended = run.go()
        failed(ended, "the bus has been down for", 1)
        assert kept_rows(tmp_path) == [(0, "engine"), (0, "speed")]
        assert state_path(tmp_path / "as-found.csv").is_file()
    with rehearsal_of() as again:
        heard = Heard()
        with again.transport:
            kept = kept_in(tmp_path, short_plan())
            ended = run_of(kept, devices_of(again), heard).go()
    assert ended.state == "finished"
    assert [p.done for p in heard.progress] == [1, 2]
    assert kept_rows(tmp_path) == [(i, d) for i in range(3) for d in ("engine", "speed")]
    assert not state_path(tmp_path / "as-found.csv").exists()
    for dial in ("engine", "speed"):
        assert max(abs(error) for _, error in errors_deg(ended.run.rows, dial)) < 0.5


def test_what_stands_while_the_bus_is_away_is_not_taken(tmp_path: Path):
    with cabled() as (rehearsal, cable):
        run = run_of(kept_in(tmp_path, short_plan(points=1)), devices_of(rehearsal))
        frame = rehearsal.camera.frame
        frames = 0

        def interrupted():
            nonlocal frames
            frames += 1
            cable.pulled = 4 < frames < 36  # three seconds: needles fall to rest, and stand there
            return frame()

        rehearsal.camera.frame = interrupted  # type: ignore[method-assign]
        with rehearsal.transport:
            ended = run.go()
        assert rehearsal.bus.status.drops == 1
    assert ended.state == "finished"
    for dial in ("engine", "speed"):
        ((_, error),) = errors_deg(ended.run.rows, dial)
        assert abs(error) < 0.5
    assert frames > 36


def test_needles_that_fell_to_rest_are_not_taken_for_the_check_point(tmp_path: Path):
    with cabled() as (rehearsal, cable):
        heard = Heard(lambda: setattr(cable, "dead", True))
        run = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal), heard)
        with rehearsal.transport:
            ended = run.go()
        assert rehearsal.bus.status.drops == 0
    failed(ended, "engine, speed fell to rest although told otherwise", 1)
    assert "the cluster hears nothing any more" in ended.words
    assert kept_rows(tmp_path) == [(0, "engine"), (0, "speed")]


def test_one_needle_that_fell_to_rest_is_flagged(tmp_path: Path):
    with rehearsal_of() as rehearsal:
        engine = rehearsal.cluster.dials["engine"]
        heard = Heard(lambda: setattr(engine, "signal", None))
        run = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal), heard)
        with rehearsal.transport:
            ended = run.go()
    assert ended.state == "finished"
    flags = {(row.dial, row.step): "fell_to_rest" in row.flags for row in ended.run.rows}
    assert flags == {("engine", i): i > 0 for i in range(3)} | {
        ("speed", i): False for i in range(3)
    }


def test_a_cluster_that_is_dead_from_the_start_is_a_finding_and_no_trouble(tmp_path: Path):
    with cabled() as (rehearsal, cable):
        cable.dead = True
        with rehearsal.transport:
            plan = short_plan(points=1)
            ended = run_of(kept_in(tmp_path, plan), devices_of(rehearsal)).go()
    assert ended.state == "finished"
    assert [row.dial for row in ended.run.rows] == ["engine", "speed"]
    assert all(
        abs(error) > 10 for d in ("engine", "speed") for _, error in errors_deg(ended.run.rows, d)
    )


def test_a_camera_that_goes_ends_the_run(tmp_path: Path):
    with rehearsal_of() as rehearsal:
        run = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal))
        whole = rehearsal.camera.frame

        def gone():
            if (tmp_path / "as-found.csv").exists():
                raise CameraError("camera 0: sends no pictures any more")
            return whole()

        rehearsal.camera.frame = gone  # type: ignore[method-assign]
        with rehearsal.transport:
            ended = run.go()
    failed(ended, "camera 0: sends no pictures any more", 1)
    assert kept_rows(tmp_path) == [(0, "engine"), (0, "speed")]


def test_a_camera_that_sees_no_cluster_ends_the_run(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(settling, "LONGEST_S", 3.0)
    with rehearsal_of() as rehearsal:
        run = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal))
        whole = rehearsal.camera.frame
        rehearsal.camera.frame = lambda: (  # type: ignore[method-assign]
            np.full((426, 640, 3), 90, np.uint8),
            whole()[1],
        )
        with rehearsal.transport:
            ended = run.go()
    failed(ended, "the camera sees no cluster: ", 0)
    assert kept_rows(tmp_path) == []


class Supply:
    """Answers as a bench supply does; its cluster draws more once it is told."""

    amperes = 0.4
    on = False

    def write(self, message: str) -> None:
        self.on = message == "OUTP ON" if message.startswith("OUTP") else self.on

    def query(self, message: str) -> str:
        return {
            "*IDN?": "invented supply",
            "SYST:ERR?": '0,"No error"',
            "VOLT?": "13.5",
            "MEAS:VOLT?": "13.48",
            "MEAS:CURR?": f"{self.amperes}",
            "OUTP?": "1" if self.on else "0",
        }[message]

    def close(self) -> None:
        return


def test_a_supply_over_its_current_ends_the_run_and_is_off(tmp_path: Path):
    instrument = Supply()
    supply = SupplyTransport(
        SupplySettings(resource="invented"), SupplyFile(), lambda settings: instrument
    )
    with rehearsal_of() as rehearsal:
        parts = TransportsTogether([supply, *rehearsal.transport._parts])

        def key(on: bool) -> None:
            if on:
                parts.apply(supply.power())
            rehearsal.key(on)

        devices = replace(
            devices_of(rehearsal, parts), key=key, supply_v=lambda: supply.reading().volts
        )
        heard = Heard(lambda: setattr(instrument, "amperes", 2.6))
        run = run_of(kept_in(tmp_path, short_plan()), devices, heard)
        with parts:
            ended = run.go()
    failed(ended, "the cluster draws 2.6 A, above the family's limit of 2 A", 1)
    assert not instrument.on
    assert [row.supply_v for row in read_run(tmp_path / "as-found.csv").rows] == [13.48, 13.48]


def hunting(rehearsal: Rehearsal, *dials: str) -> None:
    """Let needles swing to and fro for ever."""
    whole = rehearsal.cluster.angles_deg

    def swung() -> dict[str, float]:
        swing = 4.0 * sin(5.0 * rehearsal.cluster.now_s)
        return {n: a + (swing if n in dials else 0.0) for n, a in whole().items()}

    rehearsal.cluster.angles_deg = swung  # type: ignore[method-assign]


def test_a_needle_that_never_settles_is_not_read_and_its_neighbour_is(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(settling, "LONGEST_S", 4.0)
    with rehearsal_of() as rehearsal:
        hunting(rehearsal, "engine")
        with rehearsal.transport:
            plan = short_plan(points=1)
            ended = run_of(kept_in(tmp_path, plan), devices_of(rehearsal)).go()
    assert ended.state == "finished"
    engine, speed = ended.run.rows
    assert (engine.dial, engine.angle_deg, engine.flags) == ("engine", None, (NOT_SETTLED,))
    ((_, error),) = errors_deg([speed], "speed")
    assert abs(error) < 0.5


def test_a_cluster_that_never_settles_ends_the_run(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(settling, "LONGEST_S", 4.0)
    with rehearsal_of() as rehearsal:
        hunting(rehearsal, "engine", "speed")
        with rehearsal.transport:
            ended = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal)).go()
    failed(ended, "no needle comes to stand (engine, speed) at engine 1", 0)


def test_a_database_with_a_wrong_signal_name_is_told_before_anything_is_sent(tmp_path: Path):
    (tmp_path / "dash.dbc").write_text(DASH_DBC, encoding="utf-8")
    wrong = DatabaseFile(
        kind="can_database", database="dash.dbc", message="Dash", signal="Speeed", unit="km/h"
    )
    dials = tuple(replace(d, signal=wrong) if d.id == "speed" else d for d in FAMILY.dials)
    family = replace(FAMILY, dials=dials, folder=tmp_path)
    kept = begin(tmp_path / "as-found.csv", family, short_plan())
    with rehearsal_of() as rehearsal, pytest.raises(SignalError, match="Speeed"):
        BenchRun(kept, devices_of(rehearsal))
    assert kept_rows(tmp_path) == []


def test_a_disk_that_takes_no_more_keeps_the_run_up_to_the_step_before(tmp_path: Path):
    with rehearsal_of() as rehearsal:
        photos = tmp_path / "as-found-photos"

        def block() -> None:
            for photo in photos.iterdir():
                photo.rename(tmp_path / photo.name)
            photos.rmdir()
            photos.touch()

        run = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal), Heard(block))
        with rehearsal.transport:
            ended = run.go()
    failed(ended, "the run is kept up to the step before", 1)
    assert kept_rows(tmp_path) == [(0, "engine"), (0, "speed")]


@pytest.mark.parametrize("content", ["", "{", '{"run": "as-found"}'])
def test_a_damaged_state_is_refused_and_nothing_is_lost(tmp_path: Path, content: str):
    path = tmp_path / "as-found.csv"
    path.write_text("dial,commanded,unit,approach,indicated\n", encoding="utf-8")
    state_path(path).write_text(content, encoding="utf-8")
    with pytest.raises(RunError, match="cannot be used to go on with the run"):
        kept_in(tmp_path, short_plan())
    assert path.read_text("utf-8").startswith("dial,commanded")


class Frames:
    """What a camera of the system gives, frame by frame; None: a frame that does not come."""

    def __init__(self, *came: bool) -> None:
        self.came, self.released = list(came), False

    def isOpened(self) -> bool:
        return bool(self.came)

    def read(self) -> tuple[bool, np.ndarray | None]:
        if not self.came:
            raise cv2.error("unplugged")
        came = self.came.pop(0)
        return came, np.zeros((4, 6, 3), np.uint8) if came else None

    def release(self) -> None:
        self.released = True


def test_a_bench_camera_waits_by_its_frames_and_says_when_it_is_gone():
    ticks = iter(range(1000))
    frames = Frames(True, False, True, True, True, *[False] * 5)
    camera = BenchCamera(2, opened_by=lambda number: frames, clock=lambda: float(next(ticks)))
    assert [camera.frame()[1] for _ in range(2)] == [0.0, 2.0]
    camera.wait(3.5)
    with pytest.raises(CameraError, match="camera 2: sends no pictures any more"):
        camera.frame()
    camera.close()
    assert frames.released


def test_a_camera_that_cannot_be_opened_is_let_go():
    frames = Frames()
    with pytest.raises(CameraError, match="camera 3: cannot be opened"):
        BenchCamera(3, opened_by=lambda number: frames)
    assert frames.released
