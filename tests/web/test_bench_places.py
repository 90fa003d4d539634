"""What a run at the bench takes for itself, goes on with, and says where it was rehearsed."""

from contextlib import AbstractContextManager
from pathlib import Path
from types import SimpleNamespace

import pytest

from needlewright.bench.devices import Devices
from needlewright.bench.steps import plan_run
from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.bench_folder import begin_stored
from needlewright.composing.bench_kept import sweep_name, told_of
from needlewright.errors import ConflictError, TransportError
from needlewright.records.bench_sweeps import FollowedInRun, store_bench_sweep
from needlewright.records.families import families, load_version
from needlewright.records.runs import start_run
from needlewright.records.sweeps import sweeps_of
from needlewright.web.bench_desk import BenchDesk
from needlewright.web.bench_order import Order, places_of, temperature_of
from needlewright.web.live_desk import LiveDesk
from web.quick_bench import bench_at, quick_shop
from web.sheet_desk import BY, TAG, words_of

DATA = Path(__file__).parents[1] / "data"
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


def test_a_run_of_a_real_cluster_goes_on_at_the_temperature_that_is_stated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    quick_shop(tmp_path / "shop", invented=False)
    with bench_at(tmp_path / "shop") as bench:
        shop = bench.shop
        family = load_version(shop, families(shop)[0].version_id)
        plan = plan_run({"speed": (20.0,)}, ())
        run_id = start_run(shop, TAG, "found", told_of(plan, family, 31.0), BY).id
        begin_stored(shop, run_id, family, plan, BenchChoice(kind="bench", temperature_c=31.0))
        asked: list[float | None] = []
        monkeypatch.setattr(
            BenchDesk,
            "go_on",
            lambda desk, order, run_id: asked.append(temperature_of(order.choice)),
        )
        place = bench.place(run_id, "go-on")
        for typed in ({}, {"temperature_c": "18,5"}, {"temperature_c": "4", "bench": "hand"}):
            assert bench.desk.script(place, typed).status_code == 200
        assert asked == [None, 18.5, 4.0]
        refused = bench.desk.post(place, {"temperature_c": "warm"})
        assert "expected a number in °C, found &#39;warm&#39;" in refused.text
        assert 'name="temperature_c"' in bench.desk.get(bench.place(run_id))
        assert asked == [None, 18.5, 4.0]


def test_the_sweep_of_a_rehearsed_run_says_so_on_the_sheet_and_on_its_place(tmp_path: Path):
    quick_shop(tmp_path / "shop")
    with bench_at(tmp_path / "shop") as bench:
        run = start_run(bench.shop, TAG, "found", (), BY, rehearsed="rehearsed, sound, seed 7")
        clip = (DATA / "videos" / "dev-lost-steps.mp4").read_bytes()
        frame = {"t_s": 0.0, "dials": {"speed": {"angle_deg": 1.5, "u_angle_deg": 0.1}}}
        later = {"t_s": 0.1, "dials": {"speed": {"angle_deg": 2.5, "u_angle_deg": 0.1}}}
        document = {"frames": [frame, later], "events": [], "rehearsed": run.rehearsed}
        store_bench_sweep(bench.shop, run.id, clip, sweep_name(run), FollowedInRun(document))
        [video] = sweeps_of(bench.shop, TAG)
        for page in (bench.desk.get(), bench.desk.get(f"/jobs/{TAG}/sweeps/{video.id}")):
            assert "bench-found-sweep, rehearsed.mp4" in page
            said = words_of(page)
            assert "Rehearsed: nothing of this is seen on a real cluster. sound" in said
            assert "real cluster. sound, seed 7" not in said
