"""A bench that drives a movement switches off where a device says so, and where nobody looks on."""

from threading import Event, Thread
from types import SimpleNamespace

import numpy as np
import pytest

from needlewright.bench.devices import Devices, Wishes
from needlewright.errors import TransportError
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.drive_session import ALONE, ALONE_S, LEFT_S, DriveSession

ENDED_WITHIN_S = 180
"""Only keeps a fault from hanging."""


class Wires:
    """Notes what is asked of them; from some look on, the supply limits its current."""

    def __init__(self, limits_from: int | None = None) -> None:
        self.looks, self.limits_from, self.is_off = 0, limits_from, False

    def check(self) -> None:
        self.looks += 1
        if self.limits_from is not None and self.looks >= self.limits_from:
            raise TransportError("supply: limits its current at 1.0 A; find the short first")

    def stop(self) -> None:
        self.is_off = True


class Eye:
    """A camera of thirty frames a second of its own clock."""

    def __init__(self) -> None:
        self.seen = 0

    def frame(self):
        self.seen += 1
        Event().wait(0.001)
        return np.zeros((4, 4, 3), np.uint8), self.seen / 30.0


class Driving:
    """A session on devices that only take notes, and a clock that is set by hand."""

    def __init__(self, wires: Wires) -> None:
        self.wires, self.eye, self.keys, self.now_s = wires, Eye(), [], 0.0
        wishes = Wishes()
        devices = Devices(
            transport=wires, camera=self.eye, key=self.keys.append, wait=lambda _: None
        )
        self.is_let_go = Event()
        self.session = DriveSession(
            SimpleNamespace(family=None, choice=SimpleNamespace(is_rehearsal=True)),
            SimpleNamespace(carry_out=self.carry_out, let_go=self.is_let_go.set),
            devices,
            person=PersonAtPage(wishes),
            wishes=wishes,
            instruments=None,
            clock=lambda: self.now_s,
        )
        self.session.start()

    def carry_out(self, work) -> None:
        Thread(target=work, daemon=True).start()

    def has_ended(self) -> bool:
        return self.session.ended.wait(ENDED_WITHIN_S)


@pytest.fixture
def made():
    begun = []

    def make(wires: Wires | None = None) -> Driving:
        begun.append(Driving(wires or Wires()))
        return begun[-1]

    yield make
    for one in begun:
        one.session.stop()
        assert one.has_ended()


def test_a_supply_that_limits_its_current_ends_it_with_the_next_look(made):
    """The guard stands in the transport's `check`, which has to be asked with every frame."""
    one = made(Wires(limits_from=3))
    assert one.has_ended()
    assert one.wires.looks == 3
    assert one.eye.seen == 2, "no frame is taken past it"
    assert one.session.state.words == "supply: limits its current at 1.0 A; find the short first"
    assert (one.keys, one.wires.is_off, one.is_let_go.is_set()) == ([True, False], True, True)


def test_a_cluster_nobody_looks_at_is_switched_off(made):
    one = made()
    one.now_s = ALONE_S - 0.1
    one.session.look_after()
    assert one.session.state.is_on
    one.session.here()
    one.now_s += ALONE_S - 0.1
    one.session.look_after()
    assert one.session.state.is_on, "a page said that it is there"
    one.now_s += 0.2
    one.session.look_after()
    assert one.has_ended()
    assert (one.session.state.is_on, one.session.state.words) == (False, ALONE)
    assert (one.keys, one.wires.is_off) == ([True, False], True)


def test_a_picture_keeps_it_on_and_a_page_that_is_closed_does_not(made):
    one, frames = made(), []
    picture = SimpleNamespace(offer=frames.append, await_taken=lambda within_s: None)
    one.session.attach(picture)
    one.now_s = 10 * ALONE_S
    one.session.look_after()
    assert one.session.state.is_on
    one.session.leave()
    one.session.look_after()
    assert one.session.state.is_on, "another page has the picture"
    one.session.detach(picture)
    one.now_s += LEFT_S - 0.1
    one.session.look_after()
    assert one.session.state.is_on, "it may be loaded again"
    one.now_s += 0.2
    one.session.look_after()
    assert one.has_ended()
    assert one.session.state.words == ALONE
