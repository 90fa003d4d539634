"""The thread of a run at the bench: what it opens goes on sending whoever asked for it is gone."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event, Thread, current_thread

import can
import pytest

from needlewright.bench.devices import Devices
from needlewright.errors import TransportError
from needlewright.signals.model import Command, FrameStimulus
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.bus import BusTransport
from needlewright.web.bench_thread import BenchThread

CHANNEL = "thread-of-a-run"
WITHIN_S = 180.0
"""Only keeps a fault from hanging."""


def in_a_request(do: object) -> None:
    """In a thread that ends, as the one that answered a request."""
    request = Thread(target=do)  # type: ignore[arg-type]
    request.start()
    request.join()


def test_the_bus_goes_on_sending_when_whoever_asked_for_the_run_is_gone():
    told, looked = Event(), Event()
    stimulus = FrameStimulus(0x123, False, b"\x01\x02", 0xFFFF, 0.01)
    found: list[object] = []

    @contextmanager
    def devices() -> Iterator[Devices]:
        with BusTransport(BusSettings(interface="virtual", channel=CHANNEL)) as bus:
            yield Devices(bus, None, print, print)  # type: ignore[arg-type]
        found.append(bus.state)

    thread = BenchThread(devices)

    def ask() -> None:
        transport = thread.open().transport

        def work() -> None:
            transport.apply(Command("speed", "km/h", 20.0, 20.0, 0.0, stimulus))
            told.set()
            assert looked.wait(WITHIN_S)
            transport.check()
            thread.let_go()

        thread.carry_out(work)

    with can.Bus(interface="virtual", channel=CHANNEL) as cluster:
        in_a_request(ask)
        assert told.wait(WITHIN_S)
        # with the asker gone, the adapter would have stopped before its next look
        came = [cluster.recv(WITHIN_S) for _ in range(8)]
        looked.set()
        thread.join(WITHIN_S)
    assert [one.arbitration_id for one in came if one is not None] == [0x123] * 8
    assert found == ["closed"]


def test_what_keeps_devices_from_opening_is_said_to_whoever_asked():
    @contextmanager
    def refused() -> Iterator[Devices]:
        raise TransportError("adapter: is not there")
        yield

    with pytest.raises(TransportError, match="adapter: is not there"):
        BenchThread(refused).open()


def test_devices_of_a_run_that_came_to_nothing_are_let_go_where_they_were_opened():
    threads: list[Thread] = []

    @contextmanager
    def devices() -> Iterator[Devices]:
        threads.append(current_thread())
        yield Devices(None, None, print, print)  # type: ignore[arg-type]
        threads.append(current_thread())

    thread = BenchThread(devices)
    thread.open()
    thread.give_up()
    assert len(threads) == 2
    assert threads[0] is threads[1] is not current_thread()
