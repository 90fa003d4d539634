"""A small bench behind the page for tests: one dial, small frames, a cable that can be pulled."""

import json
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field, replace
from importlib.resources import as_file
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event
from typing import Any

import can
import pytest
from fastapi.testclient import TestClient
from PIL import Image

from needlewright.bench.devices import Devices
from needlewright.composing.bench_choice import BenchChoice, settings_of, unit_of
from needlewright.composing.bench_devices import Person, RealBench, opened, real
from needlewright.errors import CameraError, TransportError
from needlewright.families.model import Family
from needlewright.readings import live
from needlewright.readings.frame import Pixels
from needlewright.records.families import keep_family
from needlewright.records.opening import Shop, open_shop
from needlewright.records.runs import run_sheet
from needlewright.records.shop import add_person, change_settings
from needlewright.records.views import RunSheet
from needlewright.rehearsal.cluster.rehearsal import Rehearsal
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.web.app import create_app
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.bench_session import BenchSession
from web.live_bench import served_app
from web.sheet_desk import BY, DEMO, TAG, Desk, open_job, received

SIZE_PX = (640, 426)
SMALLER = 3
"""So much smaller is the family's face picture."""
WITHIN_S = 180.0
"""For a step on a slow machine; nothing is judged by the clock."""
POINTS = {"told-speed": "yes", "points-speed": "20, 80", "key_ons": ""}
"""Two points each way for one dial: three steps."""
_NOISE = count(1)


@pytest.fixture(autouse=True)
def few_frames(monkeypatch: pytest.MonkeyPatch) -> None:
    """Needles are taken from as few frames as may be; every test sees the same noise."""
    monkeypatch.setattr("web.quick_bench._NOISE", count(1))
    monkeypatch.setattr(live, "FRAMES_TAKEN", live.FEWEST_TAKEN)


@dataclass
class Cable:
    """Between the bench and the cluster: whole, or pulled out; and a camera's that may be, too."""

    bus_is_out: bool = False
    camera_is_out: bool = False
    frames: int = 0
    held: Event = field(default_factory=Event)
    """While it is not set, the camera waits: nothing happens at the bench."""

    def __post_init__(self) -> None:
        self.held.set()

    def open(self, settings: BusSettings) -> can.BusABC:
        if self.bus_is_out:
            raise TransportError("adapter virtual: cannot be opened: it is not there")
        return _Adapter(self, open_adapter(settings))  # type: ignore[return-value]


class _Adapter:
    def __init__(self, cable: Cable, bus: can.BusABC) -> None:
        self.cable, self.bus = cable, bus

    def send(self, message: can.Message) -> None:
        if self.cable.bus_is_out:
            raise can.CanOperationError("the adapter is gone")
        self.bus.send(message)

    def recv(self, wait_s: float) -> can.Message | None:
        return self.bus.recv(wait_s)

    def shutdown(self) -> None:
        self.bus.shutdown()


class _HeldCamera:
    """The rehearsal's camera, which can be held and pulled out."""

    def __init__(self, camera: Any, cable: Cable) -> None:
        self._camera, self._cable = camera, cable

    def frame(self) -> tuple[Pixels, float]:
        assert self._cable.held.wait(WITHIN_S)
        self._cable.frames += 1
        if self._cable.camera_is_out:
            raise CameraError("camera 0: sends no pictures any more; look at its cable")
        seen: tuple[Pixels, float] = self._camera.frame()
        return seen

    def close(self) -> None:
        self._camera.close()


def opener(
    cable: Cable,
) -> Callable[[Shop, Family, BenchChoice, PersonAtPage], AbstractContextManager[Devices]]:
    """Opens small rehearsals, and real benches before whose camera a drawn cluster stands."""

    @contextmanager
    def open_small(
        shop: Shop, family: Family, choice: BenchChoice, person: PersonAtPage
    ) -> Iterator[Devices]:
        if not choice.is_rehearsal:
            with _by_hand(shop, family, choice, person) as devices:
                yield devices
            return
        unit = unit_of(choice, family)
        rehearsal = Rehearsal(
            family, unit, size_px=SIZE_PX, noise_seed=next(_NOISE), opened_by=cable.open
        )
        with opened(rehearsal) as devices:
            yield replace(devices, camera=_HeldCamera(devices.camera, cable))

    return open_small


@contextmanager
def _by_hand(
    shop: Shop, family: Family, choice: BenchChoice, person: PersonAtPage
) -> Iterator[Devices]:
    """A real bench as it is put together, but for its camera: that looks at a drawn cluster."""
    rehearsal = Rehearsal(family, size_px=SIZE_PX, noise_seed=next(_NOISE))
    camera = rehearsal.camera
    camera.wait = rehearsal.pass_time  # type: ignore[attr-defined]
    asked = RealBench(settings_of(shop, choice.settings), choice.camera)
    by = Person(person.show, person.wait, person.cut_short)
    try:
        with real(asked, family, by, lambda number: camera) as devices:  # type: ignore[arg-type,return-value]
            yield devices
    finally:
        rehearsal.close()


def one_dial_folder(folder: Path) -> Path:
    """The demonstration's family with its speedometer alone: read in a quarter of the time."""
    with as_file(DEMO / "family") as whole:
        document = json.loads((whole / "family.json").read_text(encoding="utf-8"))
        document["dials"] = [dial for dial in document["dials"] if dial["id"] == "speed"]
        document["px_per_mm"] /= SMALLER
        folder.mkdir()
        (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
        with Image.open(whole / "face.png") as face:
            size = (round(face.width / SMALLER), round(face.height / SMALLER))
            face.resize(size, Image.Resampling.LANCZOS).save(folder / "face.png")
    return folder


def quick_shop(folder: Path, *, invented: bool = True) -> None:
    """A shop with a job that is received, of a cluster with one dial."""
    with open_shop(folder) as shop, TemporaryDirectory() as away:
        add_person(shop, BY)
        said = {"name": "Example", "place": "Nowhere", "authorised_by": BY, "invented": invented}
        change_settings(shop, said)
        keep_family(shop, one_dial_folder(Path(away) / "family"))
        open_job(shop)
        received(shop)


@dataclass
class Bench:
    """A desk with a small bench behind it."""

    desk: Desk
    cable: Cable

    @property
    def shop(self) -> Shop:
        return self.desk.shop

    def begin(self, side: str = "found", **fields: str) -> int:
        """Begin a run on the rehearsal; gives its number."""
        form = {"bench": "rehearsal", "seed": "3", **POINTS, **fields}
        answer = self.desk.script(f"/jobs/{TAG}/bench/{side}", form)
        assert answer.status_code == 200, answer.text
        return int(answer.json()["where"].split("/")[4])

    def place(self, run_id: int, *parts: str) -> str:
        return "/".join((f"/jobs/{TAG}/run/{run_id}/bench", *parts))

    def now(self, run_id: int) -> dict[str, Any]:
        answer = self.desk.client.get(self.place(run_id, "now"))
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def session(self, run_id: int) -> BenchSession:
        session = self.desk.client.app.state.house.bench.at(run_id)  # type: ignore[attr-defined]
        assert isinstance(session, BenchSession)
        return session

    def until(self, run_id: int, what: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Wait until the run stands so."""
        session, changed = self.session(run_id), Event()
        end = session.listen(changed.set)
        try:
            while not what(now := self.now(run_id)):
                assert not session.ended.is_set(), now
                assert changed.wait(WITHIN_S), now
                changed.clear()
            return now
        finally:
            end()

    def ended(self, run_id: int) -> dict[str, Any]:
        """Wait until it is over."""
        assert self.session(run_id).ended.wait(WITHIN_S)
        return self.now(run_id)

    def run(self, run_id: int) -> RunSheet:
        return run_sheet(self.shop, run_id)


@contextmanager
def bench_at(folder: Path, *, invented: bool = True) -> Iterator[Bench]:
    """The page of a shop with a job at the bench check, and a small bench."""
    if not (folder / "shop.db").is_file():
        quick_shop(folder, invented=invented)
    cable = Cable()
    app = create_app(folder, read_photos=False, open_bench=opener(cable))
    with TestClient(app, base_url="http://127.0.0.1") as client:
        try:
            yield Bench(Desk(app.state.house.shop, client, folder), cable)
        finally:
            cable.held.set()


@contextmanager
def served_bench(folder: Path, cable: Cable) -> Iterator[str]:
    """The page of a shop on a port of its own, with a small bench; gives its address."""
    app = create_app(folder, read_photos=False, open_bench=opener(cable))
    with served_app(app) as url:
        try:
            yield url
        finally:
            cable.held.set()
