"""The bus: cyclic sending, a bus that drops, vehicles, recording and playing again."""

import threading

import can
import pytest

from needlewright.errors import TransportError
from needlewright.signals.model import Frame, FrameStimulus
from needlewright.signals.obd import PIDS, payload_of, request, value_in
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.bus import PATIENCE_S, BusTransport
from needlewright.signals.transports.recording import Recorder, recorded_frames, replay
from needlewright.signals.transports.schedule import Schedule
from needlewright.signals.transports.vehicle import IN_VEHICLE_CAUTION
from signals.benches import Plug, frame_command, virtual

LONG_S = 20.0
"""How long a test waits for what comes at once; reached only when it fails."""


def stimulus(number=0x100, value=1, period_s=0.1, page=""):
    data = bytes((value,)) + bytes(7)
    return FrameStimulus(number, False, data, 0xFF << 56, period_s, page=page)


def test_every_frame_keeps_its_own_rate():
    schedule = Schedule()
    schedule.replace([stimulus(0x100, period_s=0.1), stimulus(0x200, period_s=0.25)], 10.0)
    sent: dict[int, list[float]] = {0x100: [], 0x200: []}
    now_s = 10.0
    while now_s < 12.0:
        for frame, due_s in schedule.take_due(now_s):
            sent[frame.arbitration_id].append(due_s)
        now_s = schedule.next_due_s()
    assert sent[0x100] == pytest.approx([10.0 + 0.1 * n for n in range(len(sent[0x100]))])
    assert sent[0x200] == pytest.approx([10.0 + 0.25 * n for n in range(8)])
    assert len(sent[0x100]) in (20, 21)


def test_a_late_frame_is_sent_once_and_not_in_a_burst():
    schedule = Schedule()
    schedule.replace([stimulus(period_s=0.1)], 0.0)
    assert len(schedule.take_due(0.0)) == 1
    assert len(schedule.take_due(1.0)) == 1
    assert schedule.next_due_s() == pytest.approx(1.1)


def test_a_new_value_keeps_the_beat_and_the_other_pages():
    schedule = Schedule()
    schedule.replace([stimulus(value=1), stimulus(value=9, page="2")], 0.0)
    schedule.take_due(0.0)
    schedule.replace([stimulus(value=2), stimulus(value=9, page="2")], 0.04)
    assert schedule.next_due_s() == pytest.approx(0.1)
    assert [f.data[0] for f, _ in schedule.take_due(0.1)] == [2, 9]
    schedule.clear()
    assert schedule.next_due_s() is None


def test_a_frame_without_a_rate_is_not_scheduled():
    with pytest.raises(TransportError, match="has no rate"):
        Schedule().replace([stimulus(period_s=None)], 0.0)


def received(bus: can.BusABC, number: int, value: int) -> can.Message:
    """Wait for a frame with a value; earlier ones are let past."""
    while True:
        message = bus.recv(LONG_S)
        assert message is not None, f"{number:X} with {value} never came"
        if (message.arbitration_id, message.data[0]) == (number, value):
            return message


def test_frames_are_repeated_replaced_and_stopped():
    settings = virtual()
    with open_adapter(settings) as cluster, BusTransport(settings) as transport:
        transport.apply(frame_command("speed", 0x100, 1), frame_command("engine", 0x101, 7))
        times = [received(cluster, 0x100, 1).timestamp for _ in range(5)]
        assert times == sorted(times)
        received(cluster, 0x101, 7)
        transport.apply(frame_command("speed", 0x100, 2))
        received(cluster, 0x100, 2)
        received(cluster, 0x101, 7)
        transport.check()
        transport.stop()
        sent = transport.status.sent
        while cluster.recv(0) is not None:
            pass
        assert cluster.recv(0.02) is None
        assert transport.status.sent == sent


def test_the_run_goes_on_after_the_bus_was_pulled_out():
    plug, settings = Plug(), virtual()
    with (
        open_adapter(settings) as cluster,
        BusTransport(settings, opened_by=plug.open) as transport,
    ):
        transport.apply(frame_command("speed", 0x100, 1))
        received(cluster, 0x100, 1)
        plug.plugged = False
        assert plug.let_go.wait(LONG_S)
        transport.check()  # a short drop does not end a run
        assert not transport.status.up
        assert "no such device" in transport.status.words
        transport.apply(frame_command("speed", 0x100, 2))
        with pytest.raises(TransportError, match="was not sent: "):
            transport.send_once(Frame(0x300, False, b""))
        plug.plugged = True
        received(cluster, 0x100, 2)
        status = transport.status
        assert (status.up, status.drops, status.down_s, status.words) == (True, 1, 0.0, "")
        assert plug.opened == 2


def test_a_bus_that_stays_down_ends_the_run():
    plug = Plug()
    with BusTransport(virtual(), opened_by=plug.open) as transport:
        transport.apply(frame_command("speed", 0x100, 1))
        plug.plugged = False
        assert plug.let_go.wait(LONG_S)
        with transport._link._lock:
            transport._link._lost_at_s -= PATIENCE_S + 1
        with pytest.raises(TransportError, match=r"has been down for \d+ s: .*check the plug"):
            transport.check()
        assert transport.state == "failed"


class Heard:
    """Counts what the transport hands on, and waits for so many."""

    def __init__(self) -> None:
        self._each = threading.Semaphore(0)

    def __call__(self, frame: Frame) -> None:
        self._each.release()

    def wait_for(self, number: int) -> None:
        for _ in range(number):
            assert self._each.acquire(timeout=LONG_S)


def test_sending_ends_with_the_thread_that_opened_it():
    settings = virtual()
    transport = BusTransport(settings)
    with open_adapter(settings) as cluster:

        def a_run_that_dies() -> None:
            transport.open()
            transport.apply(frame_command("speed", 0x100, 1))
            received(cluster, 0x100, 1)

        run = threading.Thread(target=a_run_that_dies)
        run.start()
        run.join()
        transport._thread.join(LONG_S)
        with pytest.raises(TransportError, match="thread has ended"):
            transport.check()
        transport.close()
        while cluster.recv(0) is not None:
            pass
        assert cluster.recv(0.02) is None


def test_nothing_is_sent_in_a_vehicle_unless_it_is_meant():
    vehicle = virtual().model_copy(update={"where": "vehicle"})
    with open_adapter(vehicle) as cluster:
        with BusTransport(vehicle) as transport:
            with pytest.raises(TransportError) as refused:
                transport.send_once(request(0x0C))
            assert IN_VEHICLE_CAUTION in str(refused.value)
            with pytest.raises(TransportError, match="nothing is sent in a vehicle"):
                transport.apply(frame_command("speed", 0x100, 1))
        assert cluster.recv(0) is None
        with BusTransport(vehicle, in_vehicle=True) as transport:
            transport.apply(frame_command("speed", 0x100, 1))
            received(cluster, 0x100, 1)


NINE = can.Message(arbitration_id=0x100, is_extended_id=False, data=[9])


def test_a_second_sender_of_the_same_frame_looks_like_a_vehicle():
    settings, heard = virtual(), Heard()
    with open_adapter(settings) as other, BusTransport(settings, heard=heard) as transport:
        other.send(NINE)
        heard.wait_for(1)
        with pytest.raises(TransportError, match="another unit already sends frame 100"):
            transport.apply(frame_command("speed", 0x100, 1))


def test_a_second_sender_that_comes_later_stops_the_run():
    settings, heard = virtual(), Heard()
    with open_adapter(settings) as other, BusTransport(settings, heard=heard) as transport:
        transport.apply(frame_command("speed", 0x100, 1))
        received(other, 0x100, 1)
        other.send(NINE)
        heard.wait_for(1)
        with pytest.raises(TransportError, match="another unit sends frame 100 too"):
            transport.check()


def test_a_second_sender_is_taken_where_a_vehicle_is_meant():
    settings, heard = virtual(), Heard()
    transport = BusTransport(settings, in_vehicle=True, heard=heard)
    with open_adapter(settings) as other, transport:
        other.send(NINE)
        heard.wait_for(1)
        transport.apply(frame_command("speed", 0x100, 1))
        received(other, 0x100, 1)
        transport.check()


def test_total_distance_is_never_sent():
    settings = virtual()
    with open_adapter(settings) as cluster, BusTransport(settings) as transport:
        transport.send_once(Frame.parse("18FEE000#FFFFFFFFB05C6800"))
        transport.send_once(Frame.parse("123#01"))
        assert cluster.recv(LONG_S).arbitration_id == 0x123
        assert transport.status.withheld == 1
        assert transport.status.sent == 1


def test_asking_what_the_vehicle_says():
    settings = virtual()
    with open_adapter(settings) as engine, BusTransport(settings) as transport:

        def answer() -> None:
            message = engine.recv(LONG_S)
            assert message.arbitration_id == 0x7DF
            for text in ("7E9#037F0112", "7E8#04410C0B30"):
                frame = Frame.parse(text)
                engine.send(
                    can.Message(
                        arbitration_id=frame.arbitration_id, is_extended_id=False, data=frame.data
                    )
                )

        unit = threading.Thread(target=answer)
        unit.start()
        found = transport.ask(
            request(0x0C), lambda frame: frame.data[1:3] == b"\x41\x0c", timeout_s=LONG_S
        )
        unit.join()
        assert value_in(payload_of(found)) == 716.0
        assert PIDS[0x0C].unit == "rpm"
        with pytest.raises(TransportError, match=r"nothing answered 7DF#02010D.* within 0.01 s"):
            transport.ask(request(0x0D), lambda frame: False, timeout_s=0.01)


FRAMES = [
    Frame.parse("0CF00400#FF7D7DE015FFF0FF"),
    Frame.parse("7E8#04410C0B30"),
    Frame.parse("18FEF100#FF0050FFFFFFFFFF"),
]


@pytest.mark.parametrize("suffix", [".asc", ".blf", ".csv"])
def test_what_is_received_is_recorded_and_played_again(tmp_path, suffix):
    path = tmp_path / f"bus{suffix}"
    settings, heard = virtual(), Heard()
    with (
        open_adapter(settings) as vehicle,
        BusTransport(settings, recorder=Recorder(path), heard=heard),
    ):
        for frame in FRAMES:
            vehicle.send(
                can.Message(
                    arbitration_id=frame.arbitration_id,
                    is_extended_id=frame.extended,
                    data=frame.data,
                )
            )
        heard.wait_for(len(FRAMES))
    recorded = list(recorded_frames(path))
    assert [frame for _, frame in recorded] == FRAMES
    assert [time_s for time_s, _ in recorded] == sorted(time_s for time_s, _ in recorded)

    other = virtual()
    waits: list[float] = []
    with open_adapter(other) as cluster, BusTransport(other) as transport:
        assert replay(path, transport.send_once, waits.append) == len(FRAMES)
        got = [cluster.recv(LONG_S) for _ in FRAMES]
    assert [(m.arbitration_id, bytes(m.data)) for m in got] == [
        (f.arbitration_id, f.data) for f in FRAMES
    ]
    span_s = recorded[-1][0] - recorded[0][0]
    assert sum(waits) == pytest.approx(span_s, abs=1e-6)


def test_recordings_that_cannot_be_used(tmp_path):
    there = tmp_path / "there.csv"
    there.write_text("x", encoding="utf-8")
    with pytest.raises(TransportError, match=r"there\.csv: is there already"):
        Recorder(there)
    with pytest.raises(TransportError, match=r"bus\.txt: expected a recording that ends in \.asc"):
        Recorder(tmp_path / "bus.txt")
    with pytest.raises(TransportError, match=r"bus\.asc: cannot be written"):
        Recorder(tmp_path / "gone" / "bus.asc")
    with pytest.raises(TransportError, match=r"gone\.blf: cannot be read"):
        list(recorded_frames(tmp_path / "gone.blf"))


@pytest.mark.parametrize("suffix", [".blf", ".csv"])
@pytest.mark.parametrize("content", [b"hello\nworld", b"\xff" * 200])
def test_a_damaged_recording_is_one_sentence(tmp_path, suffix, content):
    path = tmp_path / f"bad{suffix}"
    path.write_bytes(content)
    with pytest.raises(TransportError) as refused:
        list(recorded_frames(path))
    assert str(refused.value).startswith(f"{path}: is damaged")
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("content", [b"", b"nothing of a bus\n"])
def test_a_text_without_frames_is_not_replayed(tmp_path, content):
    path = tmp_path / "other.asc"
    path.write_bytes(content)
    assert list(recorded_frames(path)) == []
    with pytest.raises(TransportError, match=r"other\.asc: holds no frame"):
        replay(path, lambda frame: pytest.fail(f"{frame.text} was sent"))


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        (BusSettings(interface="smoke"), "bus interface 'smoke' is not known; use canalystii"),
        (BusSettings(interface="socketcan", channel="no-such-can"), "adapter socketcan"),
        (BusSettings(interface="serial", channel="no-such-port"), "adapter serial"),
        (BusSettings(interface="virtual", channel="a", options={"nonsense": 1}), ""),
    ],
)
def test_an_absent_adapter_is_one_sentence(settings, says):
    transport = BusTransport(settings)
    if not says:
        with transport:
            assert transport.status.up  # an option the adapter does not know is its own matter
        return
    with pytest.raises(TransportError) as refused:
        transport.open()
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)
    assert transport.state == "closed"
