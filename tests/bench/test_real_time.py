"""A run by the devices of a real bench: its adapter's own thread and schedule, and a person.

The cluster stands at the other end of a virtual bus of python-can and in the person's hands. One
clock is shared by the adapter's thread, the camera and the cluster, and goes on only when a frame
of the camera is waited for and the thread has looked at it, so nothing hangs on how fast this
machine is.
"""

import json
import re
import shutil
import threading
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import can
import numpy as np
import pytest

import needlewright
from bench.benches import SIZE_PX
from needlewright.bench.camera import BenchCamera
from needlewright.bench.keeping import begin
from needlewright.bench.run import BenchRun
from needlewright.bench.steps import plan_run
from needlewright.cli.signal_send import done_by_hand, show_lines
from needlewright.composing.bench_devices import Person, RealBench, real
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.readings.run_csv import read_run
from needlewright.rehearsal.cluster.camera import view_of
from needlewright.rehearsal.cluster.cluster import SimulatedCluster
from needlewright.signals.model import Command, ResistanceStimulus
from needlewright.signals.settings import BenchSettings, BusSettings
from needlewright.signals.transports import bus

WHOLE = Path(needlewright.__file__).parent / "demo_data" / "family"
CHANNEL = "a bench in real time"
SLICE_S = 0.05
FRAMES_HZ = 10.0


class SharedClock:
    """Time of the adapter's thread, the camera and the cluster."""

    def __init__(self) -> None:
        self.now_s, self._looked = 0.0, 0
        self._changed = threading.Condition()

    def monotonic(self) -> float:
        """Seconds; who asks from the adapter's thread has seen that time went on."""
        with self._changed:
            if threading.current_thread() is not threading.main_thread():
                self._looked += 1
                self._changed.notify_all()
            return self.now_s

    def go_on(self, seconds: float) -> None:
        """Let time pass, and the thread look twice at it: once to send, once after it has."""
        with self._changed:
            self.now_s += seconds
            enough = self._looked + 2
            assert self._changed.wait_for(lambda: self._looked >= enough, timeout=180.0)


class Standing:
    """A cluster before a camera of the system, and a person at the bench who does as they read."""

    def __init__(self, family: Family, clock: SharedClock) -> None:
        self.clock = clock
        self.ear = can.Bus(interface="virtual", channel=CHANNEL)
        self.cluster = SimulatedCluster(family, bus=self.ear)
        self._view = view_of(family, size_px=SIZE_PX)
        self.beside = can.Bus(interface="virtual", channel=CHANNEL)
        """Hears the same bus, for whoever asks later."""
        self.done: list[str] = []
        """What the person did."""

    def isOpened(self) -> bool:
        return True

    def read(self) -> tuple[bool, np.ndarray]:
        for _ in range(round(1.0 / (FRAMES_HZ * SLICE_S))):
            self.clock.go_on(SLICE_S)
            self.cluster.run(SLICE_S)
        seen = self._view.frame(self.cluster.angles_deg())
        return True, np.ascontiguousarray(seen[..., ::-1])

    def release(self) -> None:
        return

    def heard(self) -> list[can.Message]:
        """Everything that was on the bus."""
        return list(iter(lambda: self.beside.recv(0), None))

    def shut_down(self) -> None:
        """Let go of the bus."""
        self.ear.shutdown()
        self.beside.shutdown()

    def does(self, said: str) -> None:
        """Do what stands on the screen."""
        if "switch the cluster on" in said:
            self.cluster.key_on()
            self.done.append("on")
        elif "switch the cluster off" in said:
            self.cluster.key_off()
            self.done.append("off")
        elif (box := re.search(r"decade box to ([\d.]+) ohm", said)) is not None:
            ohm = float(box[1])
            stimulus = ResistanceStimulus(ohm)
            self.cluster.wire([Command("fuel", "fraction of full", 0.0, 0.0, None, stimulus)])
            self.done.append(f"{ohm:g} ohm")
        else:
            raise AssertionError(f"nobody knows what to do: {said}")


@pytest.fixture
def family(tmp_path: Path) -> Family:
    """An engine that hears frames, and a fuel gauge with a sender."""
    folder = tmp_path / "family"
    folder.mkdir()
    document = json.loads((WHOLE / "family.json").read_text("utf-8"))
    document["dials"] = [d for d in document["dials"] if d["id"] in ("engine", "fuel")]
    document["dials"][1]["signal"] = {"kind": "resistance", "pair": [240, 33]}
    (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
    shutil.copy(WHOLE / "face.png", folder)
    return load_family(folder)


def test_a_run_by_the_adapters_own_thread_and_by_hand(
    family: Family, tmp_path: Path, monkeypatch, capsys
):
    clock = SharedClock()
    standing = Standing(family, clock)
    monkeypatch.setattr(bus, "time", SimpleNamespace(monotonic=clock.monotonic))
    monkeypatch.setattr(bus, "LONGEST_WAIT_S", 0.001)
    camera = partial(BenchCamera, opened_by=lambda number: standing, clock=lambda: clock.now_s)

    def person() -> str:
        standing.does(capsys.readouterr().err)
        return ""

    monkeypatch.setattr("builtins.input", person)
    settings = BenchSettings(bus=BusSettings(interface="virtual", channel=CHANNEL))
    kept = begin(
        tmp_path / "as-found.csv", family, plan_run({"engine": (5.0,), "fuel": (0.5,)}, ())
    )
    at_terminal = Person(show_lines, done_by_hand)
    with real(RealBench(settings, 0), family, at_terminal, open_camera=camera) as devices:
        ended = BenchRun(kept, devices).go()
    heard = standing.heard()
    standing.shut_down()
    assert (ended.state, ended.words) == ("finished", "every check point was looked at")
    # 0.5 of a pair 240 to 33 ohm, linear in ohms, is 136.5 ohm
    assert standing.done == ["off", "on", "136.5 ohm", "off"]
    engine, fuel = read_run(tmp_path / "as-found.csv").rows
    assert (engine.commanded, fuel.commanded) == (5.0, 0.5)
    for row in (engine, fuel):
        dial = family.dial(row.dial)
        assert dial is not None
        assert row.angle_deg == pytest.approx(dial.programme_angle_deg(row.commanded), abs=0.5)
    assert engine.u_commanded == 0.0
    # SPN 190 of PGN 61444 in bytes 4 and 5 at 0.125 rpm a bit (SAE J1939-71): 5000 rpm is 40000,
    # every 20 ms; the clock lets the thread send each 50 ms, for more than the second it is watched
    assert {message.arbitration_id for message in heard} == {0x0CF00400}
    assert {int.from_bytes(message.data[3:5], "little") for message in heard} == {40_000}
    assert len(heard) > 1.0 / SLICE_S
