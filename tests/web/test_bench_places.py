"""What a run at the bench takes for itself before its devices are open."""

from contextlib import AbstractContextManager
from pathlib import Path
from types import SimpleNamespace

import pytest

from needlewright.bench.devices import Devices
from needlewright.composing.bench_choice import BenchChoice
from needlewright.errors import ConflictError, TransportError
from needlewright.web.bench_desk import BenchDesk, Order, places_of
from needlewright.web.live_desk import LiveDesk

SUPPLY = '[supply]\nresource = "{}"\n'
BUS = '[bus]\ninterface = "virtual"\nchannel = "{}"\n'


def order(folder: Path, settings: str = "", camera: int = 0) -> Order:
    choice = BenchChoice(kind="bench", settings=settings, camera=camera)
    return Order(SimpleNamespace(folder=folder), None, choice, None)  # type: ignore[arg-type]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in {
        "bench.toml": SUPPLY.format("ASRL1::INSTR") + BUS.format("a"),
        "bench-two.toml": SUPPLY.format("asrl1::instr"),
        "bench-three.toml": SUPPLY.format("ASRL2::INSTR") + BUS.format("a"),
        "bench-four.toml": SUPPLY.format("ASRL3::INSTR") + BUS.format("b"),
    }.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def refused_meanwhile(first: Order, second: Order, run_ids: tuple[int, int]) -> str:
    """What is said to whoever asks while the devices of the first are still being opened."""
    said: list[str] = []

    def opening(*asked: object) -> AbstractContextManager[Devices]:
        try:
            desk.go_on(second, run_ids[1])
        except ConflictError as error:
            said.append(str(error))
        raise TransportError("adapter: is not there")

    desk = BenchDesk(LiveDesk(), opening)
    with pytest.raises(TransportError):
        desk.go_on(first, run_ids[0])
    desk._opener = absent
    with pytest.raises(TransportError, match="again"):  # what was taken is free again
        desk.go_on(second, run_ids[1])
    return said[0]


def absent(*asked: object) -> AbstractContextManager[Devices]:
    raise TransportError("adapter: is not there again")


def test_a_run_is_gone_on_with_once_even_at_two_benches(folder: Path):
    first, second = order(folder, "bench.toml"), order(folder, "bench-four.toml", camera=1)
    said = refused_meanwhile(first, second, (7, 7))
    assert said == "bench: this run is on already; look where it stands"


@pytest.mark.parametrize(
    ("settings", "place"),
    [
        ("bench-two.toml", "supply ASRL1::INSTR"),
        ("bench-three.toml", "bus adapter virtual a"),
    ],
)
def test_a_device_is_one_however_many_settings_files_name_it(
    folder: Path, settings: str, place: str
):
    first, second = order(folder, "bench.toml"), order(folder, settings, camera=1)
    said = refused_meanwhile(first, second, (7, 8))
    assert said.startswith(f"{place}: a run is on there already")


def test_a_bench_takes_its_name_its_camera_and_its_devices(folder: Path):
    asked = order(folder, "bench.toml", camera=2)
    assert places_of(asked.shop, asked.choice) == (
        "bench.toml",
        "camera 2",
        "supply ASRL1::INSTR",
        "bus adapter virtual a",
    )
    assert places_of(asked.shop, BenchChoice(kind="rehearsal")) == ("rehearsal",)
