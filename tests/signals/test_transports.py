"""One contract for every transport: what it refuses, what is on its wires, how it ends."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import can
import pytest
from can.interfaces.udp_multicast.utils import is_msgpack_installed

from needlewright.errors import TransportError
from needlewright.rehearsal.cluster.cluster import SimulatedCluster
from needlewright.rehearsal.cluster.wires import LooseBus, OwnWires
from needlewright.signals.model import Command
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.bus import PATIENCE_S, BusTransport
from needlewright.signals.transports.by_hand import HandTransport
from needlewright.signals.transports.testing import ExpectedCommands
from needlewright.signals.transports.together import TransportsTogether
from needlewright.signals.transports.transport import Transport
from signals.benches import (
    Plug,
    frame_command,
    ohm_command,
    supply,
    virtual,
    volts_command,
)
from signals.invented import DIALS, family_with

Opener = Callable[[BusSettings], can.BusABC]


@dataclass
class Bench:
    """A transport, commands it carries for two dials, one it does not, and how to break it."""

    transport: Transport
    first: Command
    first_again: Command
    second: Command
    foreign: Command | None
    break_it: Callable[[], Any] | None


def on_bus(settings: BusSettings, opened_by: Opener = open_adapter) -> Bench:
    transport = BusTransport(settings, opened_by=opened_by)
    return Bench(
        transport,
        frame_command("speed", 0x100, 1),
        frame_command("speed", 0x100, 2),
        frame_command("engine", 0x101, 3),
        ohm_command("fuel", 100.0),
        lambda: setattr(transport, "_trouble", "another unit sends too"),
    )


def on_udp() -> Bench:
    if not is_msgpack_installed(raise_exception=False):
        pytest.skip("UDP multicast needs msgpack, which is not installed here")
    settings = BusSettings(interface="udp_multicast", channel="239.74.163.2")
    try:
        can.Bus(interface="udp_multicast", channel="239.74.163.2").shutdown()
    except (can.CanError, OSError) as error:
        pytest.skip(f"this machine has no UDP multicast: {error}")
    return on_bus(settings)


def on_supply() -> Bench:
    transport = supply()

    def break_it() -> None:
        transport._live.write("TEST:CURR 3.000")

    return Bench(
        transport,
        transport.power(13.5),
        transport.power(12.0),
        volts_command("volts", 13.5),
        ohm_command("fuel", 100.0),
        break_it,
    )


def by_hand() -> Bench:
    return Bench(
        HandTransport(lambda lines: None, lambda: True),
        ohm_command("fuel", 100.0),
        ohm_command("fuel", 50.0),
        frame_command("speed", 0x100, 3),
        None,
        None,
    )


def scripted() -> Bench:
    transport = ExpectedCommands([("fuel", 100.0), ("fuel", 50.0), ("volts", 5.0)])
    transport.carried = (type(ohm_command("", 1.0).stimulus), type(volts_command("", 1.0).stimulus))
    return Bench(
        transport,
        ohm_command("fuel", 100.0),
        ohm_command("fuel", 50.0),
        volts_command("volts", 5.0),
        frame_command("speed", 0x100, 3),
        lambda: setattr(transport, "_fails_at", transport._taken),
    )


def on_bus_of_a_rehearsal() -> Bench:
    plug, now_s = Plug(), [0.0]
    transport = LooseBus(virtual(), lambda: now_s[0], opened_by=plug.open)

    def break_it() -> None:
        plug.plugged = False
        for _ in range(3):
            transport.send_due()
            now_s[0] += PATIENCE_S
        plug.plugged = True

    return Bench(
        transport,
        frame_command("speed", 0x100, 1),
        frame_command("speed", 0x100, 2),
        frame_command("engine", 0x101, 3),
        ohm_command("fuel", 100.0),
        break_it,
    )


def wires_of_a_rehearsal(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    family = family_with(tmp_path_factory.mktemp("family"), DIALS["pair"])
    return replace(by_hand(), transport=OwnWires(SimulatedCluster(family)))


def together() -> Bench:
    power = on_supply()
    transport = TransportsTogether([power.transport, on_bus(virtual()).transport])
    return Bench(
        transport,
        power.first,
        power.first_again,
        frame_command("speed", 0x100, 1),
        ohm_command("fuel", 100.0),
        power.break_it,
    )


BENCHES = {
    "bus, virtual": lambda: on_bus(virtual()),
    "bus, UDP multicast": on_udp,
    "bus, an adapter that can be pulled": lambda: on_bus(virtual(), Plug().open),
    "supply": on_supply,
    "by hand": by_hand,
    "expected dialogue": scripted,
    "a supply and a bus together": together,
    "bus of a rehearsal": on_bus_of_a_rehearsal,
}


@pytest.fixture(params=[*BENCHES, "wires of a rehearsal"])
def bench(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Bench:
    if request.param not in BENCHES:
        return wires_of_a_rehearsal(tmp_path_factory)
    return BENCHES[request.param]()


def test_nothing_is_put_on_before_it_is_open_or_after_it_is_closed(bench):
    with pytest.raises(TransportError, match=r"is closed.*open it first"):
        bench.transport.apply(bench.first)
    with bench.transport:
        assert bench.transport.state == "open"
    assert bench.transport.state == "closed"
    with pytest.raises(TransportError, match="is closed"):
        bench.transport.apply(bench.first)
    with pytest.raises(TransportError, match="is closed"):
        bench.transport.check()
    assert dict(bench.transport.on_wires) == {}


def test_it_is_opened_once(bench):
    with bench.transport, pytest.raises(TransportError, match="is open already"):
        bench.transport.open()


def test_what_is_on_the_wires_is_told_and_replaced(bench):
    with bench.transport as transport:
        transport.apply(bench.first)
        transport.check()
        assert dict(transport.on_wires) == {bench.first.dial: bench.first}
        transport.apply(bench.first_again)
        assert dict(transport.on_wires) == {bench.first.dial: bench.first_again}
        transport.stop()
        assert dict(transport.on_wires) == {}


def test_two_dials_at_once(bench):
    if isinstance(bench.transport, ExpectedCommands):
        bench.transport._left.pop(1)
    with bench.transport as transport:
        transport.apply(bench.first, bench.second)
        assert dict(transport.on_wires) == {
            bench.first.dial: bench.first,
            bench.second.dial: bench.second,
        }


def test_what_cannot_be_carried_is_refused_before_anything_is_put_on(bench):
    if bench.foreign is None:
        pytest.skip("a person carries everything")
    with bench.transport as transport:
        with pytest.raises(TransportError) as refused:
            transport.apply(bench.first, bench.foreign)
        assert f"dial '{bench.foreign.dial}'" in str(refused.value)
        assert transport.name in str(refused.value)
        assert dict(transport.on_wires) == {}
        transport.apply(bench.first)  # and it can still be used
        assert transport.state == "open"


def test_stopping_and_closing_twice_is_once(bench):
    bench.transport.stop()
    with bench.transport as transport:
        transport.apply(bench.first)
        transport.stop()
        transport.stop()
    bench.transport.close()
    assert bench.transport.state == "closed"


def break_off(bench: Bench) -> None:
    with bench.transport as transport:
        transport.apply(bench.first)
        raise KeyboardInterrupt


def test_a_run_that_breaks_off_leaves_nothing_on_the_wires(bench):
    with pytest.raises(KeyboardInterrupt):
        break_off(bench)
    assert bench.transport.state == "closed"
    assert dict(bench.transport.on_wires) == {}


def test_a_failure_stops_everything_until_it_is_opened_again(bench):
    if bench.break_it is None:
        pytest.skip("a person does not fail")
    with bench.transport as transport:
        transport.apply(bench.first)
        bench.break_it()
        with pytest.raises(TransportError):
            transport.check()
        assert (transport.state, dict(transport.on_wires)) == ("failed", {})
        with pytest.raises(TransportError, match=r"is failed.*open it first"):
            transport.apply(bench.first)
    if not isinstance(bench.transport, ExpectedCommands):
        with bench.transport as transport:
            assert transport.state == "open"


def test_where_one_part_fails_the_others_are_stopped():
    power, bus = on_supply(), on_bus(virtual())
    with TransportsTogether([power.transport, bus.transport]) as transport:
        transport.apply(power.first, bus.first)
        assert transport.part_for(bus.first) is bus.transport
        assert dict(bus.transport.on_wires) == {"speed": bus.first}
        power.break_it()
        with pytest.raises(TransportError, match="draws 3 A"):
            transport.check()
        assert dict(bus.transport.on_wires) == {}
        with pytest.raises(TransportError, match="nothing at this bench carries what dial 'fuel'"):
            transport.part_for(bus.foreign)
    assert (power.transport.state, bus.transport.state) == ("closed", "closed")


def test_what_was_opened_is_closed_where_another_part_is_absent():
    power = on_supply()
    absent = BusTransport(BusSettings(interface="smoke"))
    with pytest.raises(TransportError, match="bus interface 'smoke' is not known"):
        TransportsTogether([power.transport, absent]).open()
    assert power.transport.state == "closed"
