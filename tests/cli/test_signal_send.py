"""`needlewright signal send`, `ask`, `replay`: on buses in the process and an invented supply."""

import io
import json
import threading
from collections.abc import Callable
from pathlib import Path

import can
import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.bench import Bench
from needlewright.signals.transports.recording import recorded_frames
from needlewright.signals.transports.vehicle import IN_VEHICLE_CAUTION
from signals.benches import SUPPLY, supply, virtual
from signals.invented import DIALS, family_with

DOCS = Path(__file__).parents[2] / "docs" / "json"
LONG_S = 20.0


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["signal", *arguments])
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


def checked(command: str, out: str) -> dict:
    schema = json.loads((DOCS / f"signal-{command}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    document = json.loads(out)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(document)] == []
    return document


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("family")
    family_with(folder, *DIALS.values())
    return str(folder)


class Desk:
    """A settings file, and the other end of its bus."""

    def __init__(self, path: Path, where: str = "bench", with_supply: bool = False) -> None:
        settings = virtual()
        text = f'[bus]\ninterface = "virtual"\nchannel = "{settings.channel}"\nwhere = "{where}"\n'
        if with_supply:
            text += f'[supply]\nresource = "{SUPPLY.resource}"\nlibrary = "{SUPPLY.library}"\n'
        self.file = path / "bench.toml"
        self.file.write_text(text, encoding="utf-8")
        self.other = open_adapter(settings)


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path)
    yield made
    made.other.shutdown()


def stopped_when(monkeypatch: pytest.MonkeyPatch, enough: Callable[[Bench], bool]) -> None:
    """Ctrl-C is pressed as soon as it is enough."""
    check = Bench.check

    def check_and_stop(bench: Bench) -> None:
        check(bench)
        if enough(bench):
            raise KeyboardInterrupt

    monkeypatch.setattr(Bench, "check", check_and_stop)


def test_values_are_put_on_the_bus_until_it_is_stopped(capsys, desk, folder, monkeypatch):
    arguments = ("send", "--family", folder, "--bench", str(desk.file), "j1939-speed=80")
    document = checked("send", call(capsys, *arguments, "--for", "0", "--json")[1])
    assert document["ended"] == "time"
    stopped_when(monkeypatch, lambda bench: bench.bus.status.sent >= 1)
    code, out, err = call(capsys, *arguments, "--json")
    assert code == 0
    assert "set the current limit" in err
    document = checked("send", out)
    assert document["ended"] == "stopped"
    assert document["bus"]["sent"] >= 1
    message = desk.other.recv(LONG_S)
    assert (message.arbitration_id, message.data.hex().upper()) == (0x18FEF100, "FF0050FFFFFFFFFF")
    code, out, _ = call(capsys, *arguments, "--for", "0")
    assert code == 0
    assert "j1939-speed: 80 km/h, exactly, by bus adapter" in out
    assert "bus lost 0 time(s)" in out


def test_what_no_device_carries_is_done_by_hand(capsys, desk, folder, monkeypatch):
    arguments = ("send", "--family", folder, "--bench", str(desk.file), "pair=0.5", "--for", "0")
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))
    code, out, err = call(capsys, *arguments)
    assert code == 0
    assert "by person at the bench" in out
    assert "decade box to 136.5 ohm in the sender's place" in err
    monkeypatch.setattr("sys.stdin", io.StringIO("q\n"))
    code, _, err = call(capsys, *arguments)
    assert code == 1
    assert "given up at the bench" in err
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert call(capsys, *arguments)[0] == 1


def test_the_supply_feeds_the_cluster_and_gives_a_dials_volts(capsys, tmp_path, folder):
    supply()  # sets the invented one right
    bench = Desk(tmp_path, with_supply=True)
    arguments = ("send", "--family", folder, "--bench", str(bench.file), "--for", "0")
    code, out, _ = call(capsys, *arguments, "volts=13.5")
    assert code == 0
    assert "by bench supply" in out
    code, _, err = call(capsys, *arguments, "volts=12")
    assert code == 1
    assert "is asked for 'supply' 13.5 V, 'volts' 12 V" in err
    bench.other.shutdown()


def test_what_is_heard_is_recorded_and_sent_again(capsys, desk, folder, tmp_path, monkeypatch):
    record = tmp_path / "bus.asc"
    heard = [
        can.Message(arbitration_id=0x18FEE000, data=bytes.fromhex("FFFFFFFFB05C6800")),
        can.Message(arbitration_id=0x7E8, is_extended_id=False, data=b"\x03\x41\x0d\x50"),
    ]

    def cluster() -> None:
        assert desk.other.recv(LONG_S) is not None
        for message in heard:
            desk.other.send(message)

    other = threading.Thread(target=cluster)
    other.start()
    stopped_when(monkeypatch, lambda bench: bench.bus.status.received == len(heard))
    arguments = ("send", "--family", folder, "--bench", str(desk.file), "j1939-speed=80")
    code, out, _ = call(capsys, *arguments, "--record", str(record), "--json")
    other.join()
    assert code == 0
    document = checked("send", out)
    assert document["record"] == str(record)
    assert document["bus"]["received"] == 2
    assert [f.arbitration_id for _, f in recorded_frames(record)] == [0x18FEE000, 0x7E8]

    while desk.other.recv(0) is not None:
        pass
    code, out, _ = call(capsys, "replay", str(record), "--bench", str(desk.file), "--json")
    document = checked("replay", out)
    assert document["frames"] == 2
    assert (document["bus"]["sent"], document["bus"]["withheld"]) == (1, 1)
    assert desk.other.recv(LONG_S).arbitration_id == 0x7E8
    code, out, _ = call(capsys, "replay", str(record), "--bench", str(desk.file), "--at-once")
    assert "2 frame(s); 1 sent, 0 received, bus lost 0 time(s), 1 of total distance withheld" in out


def test_asking_the_vehicle(capsys, tmp_path):
    desk = Desk(tmp_path, where="vehicle")

    def engine() -> None:
        for answer in ("03410D50", "04410C0B30") * 2:
            assert desk.other.recv(LONG_S).arbitration_id == 0x7DF
            data = bytes.fromhex(answer)
            desk.other.send(can.Message(arbitration_id=0x7E8, is_extended_id=False, data=data))

    arguments = ("ask", "0D", "0c", "--bench", str(desk.file))
    code, _, err = call(capsys, *arguments)
    assert code == 1
    assert "nothing is sent in a vehicle unless that is said outright with --in-vehicle" in err
    unit = threading.Thread(target=engine)
    unit.start()
    code, out, err = call(capsys, *arguments, "--in-vehicle", "--json")
    assert code == 0
    assert IN_VEHICLE_CAUTION in err
    answers = checked("ask", out)["answers"]
    assert [(a["value"], a["unit"]) for a in answers] == [(80.0, "km/h"), (716.0, "rpm")]
    out = call(capsys, *arguments, "--in-vehicle")[1]
    assert "0D  vehicle speed: 80 km/h   7E8#03410D50" in out
    unit.join()
    desk.other.shutdown()


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("ask", "99"), 2, "'99' is no number this asks for; use one of 05, 0C"),
        (("ask", "speed"), 2, "'speed' is no number this asks for"),
        (("replay", "gone.asc"), 1, "gone.asc: cannot be read"),
        (("replay", "bus.txt"), 1, "expected a recording that ends in"),
        (("replay", "EMPTY"), 1, "empty.asc: holds no frame"),
        (("send", "--family", "FAMILY", "j1939-speed=900"), 1, "is beyond the dial"),
        (("send", "--family", "FAMILY", "j1939-speed=80", "--for", "-1"), 2, "0 or more"),
        (("send", "--family", "FAMILY", "j1939-speed=80", "--record", "x.txt"), 1, "x.txt"),
    ],
)
def test_bad_input_is_one_sentence(capsys, desk, folder, arguments, code, says):  # noqa: PLR0917
    empty = desk.file.with_name("empty.asc")
    empty.write_text("nothing of a bus\n", encoding="utf-8")
    given = {"FAMILY": folder, "EMPTY": str(empty)}
    words = [given.get(word, word) for word in arguments]
    left, out, err = call(capsys, *words, "--bench", str(desk.file))
    assert (left, out) == (code, "")
    last = err.splitlines()[-1]
    assert says in last
    assert last.startswith("needlewright: ")


def test_a_bench_without_an_adapter(capsys, tmp_path, folder):
    bench = tmp_path / "bench.toml"
    bench.write_text("", encoding="utf-8")
    for words in (("ask", "0D"), ("replay", "x.asc")):
        code, _, err = call(capsys, *words, "--bench", str(bench))
        assert code == 2
        assert "add a table [bus] with its interface" in err
    arguments = ("send", "--family", folder, "pair=0.5", "--bench", str(bench))
    assert call(capsys, *arguments, "--record", "x.asc")[0] == 2
