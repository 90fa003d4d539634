"""What ends a step that waits: nothing new is put on, nothing is taken for done, nothing lost."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Event, Thread
from threading import enumerate as threads

import pytest

from bench.benches import (
    DIALS,
    FAMILY,
    Heard,
    kept_after_looks,
    kept_in,
    rehearsal_of,
    run_of,
    short_plan,
    whole_devices_of,
)
from bench.test_checks import interrupted, quick
from needlewright.bench import keeping
from needlewright.bench.bus_watch import wait_for_bus
from needlewright.bench.devices import CutShort, Devices, Wish, Wishes, no_bus
from needlewright.bench.fallen import Fallen
from needlewright.bench.keeping import begin, state_path
from needlewright.bench.key import HOMING_S, KEY_OFF_S, ClusterKey
from needlewright.bench.lamp_check import LampCheck
from needlewright.bench.sweep_take import TooFast
from needlewright.bench.sweeping import Sweeping
from needlewright.composing.bench_devices import Person, _key_of
from needlewright.errors import CameraError, RunError, TransportError
from needlewright.families.lamps import lamp_groups
from needlewright.readings.evidence import (
    Evidence,
    evidence_path,
    read_evidence,
    write_evidence,
)
from needlewright.readings.live import LiveReader
from needlewright.readings.model import PhotoReadings
from needlewright.readings.run_csv import read_run, write_run
from needlewright.signals.instruments import NO_INSTRUMENTS
from needlewright.signals.settings import BenchSettings
from needlewright.signals.transports.bench import Bench
from needlewright.signals.transports.bus_link import BusStatus
from needlewright.signals.transports.by_hand import HandTransport
from needlewright.signals.transports.together import TransportsTogether
from needlewright.web.bench_person import PersonAtPage

__all__ = ["quick"]
WITHIN_S = 180.0


@dataclass
class KeyBench:
    """A key, wires nothing is on, and somebody who stops in a wait."""

    stop_in: float | None = None
    wishes: Wishes = field(default_factory=Wishes)
    turned: list[bool] = field(default_factory=list)
    counted: list[int] = field(default_factory=list)

    def key(self, turn: Callable[[bool], None] | None = None) -> ClusterKey:
        transport = HandTransport(lambda lines: None, lambda: True).open()
        devices = Devices(transport, None, turn or self.turned.append, self.wait)  # type: ignore[arg-type]
        return ClusterKey(
            devices,
            self.wishes,
            0,
            wait=self.wait,
            counted=self.counted.append,
            drawn=lambda current: None,
        )

    def wait(self, seconds: float) -> None:
        if seconds == self.stop_in:
            self.wishes.want("stop")


def test_a_stop_while_needles_fall_to_rest_leaves_the_cluster_off():
    bench = KeyBench()
    key = bench.key()
    assert key.come_to(1, on=True) is None
    bench.stop_in = KEY_OFF_S
    assert key.come_to(2, on=True) == "stop"
    assert bench.turned == [False, True, False]
    assert (key.on, key.key_ons) == (False, 1)
    assert key.turn(on=True) is False
    assert bench.turned == [False, True, False]


def test_a_stop_while_needles_find_their_zero_tells_the_cluster_nothing_more():
    bench = KeyBench(stop_in=HOMING_S)
    key = bench.key()
    assert key.come_to(1, on=True) == "stop"
    assert (bench.turned, bench.counted) == ([False, True], [1])


def away() -> BusStatus:
    with rehearsal_of() as rehearsal:
        return replace(rehearsal.bus.status, up=False)


def test_a_stop_ends_the_wait_for_the_bus_and_nothing_is_told_after_it():
    wishes, waits = Wishes(), []
    status = away()
    with rehearsal_of() as rehearsal, rehearsal.transport as transport:

        def wait(seconds: float) -> None:
            waits.append(seconds)
            wishes.want("stop")

        devices = replace(whole_devices_of(rehearsal), wait=wait, bus=lambda: status)
        wait_for_bus(devices, wishes)
        assert waits == [0.5]
        fallen = Fallen(FAMILY, ())
        sweeping = Sweeping(
            FAMILY, devices, NO_INSTRUMENTS, wishes, reader=LiveReader(FAMILY), fallen=fallen
        )
        for wish in ("go_on", "stop"):  # in the wait for the bus, and before it
            wishes.want(wish)  # type: ignore[arg-type]
            assert sweeping.take(DIALS, Path("no.mp4"), print, lambda: None) == "stop"
            assert dict(transport.on_wires) == {}
        told = next(g for g in lamp_groups(FAMILY.tell_tales) if g.name == "tell-tales")
        wishes.want("go_on")
        check = LampCheck(devices, wishes)
        with pytest.raises(CutShort):
            check.take(told)
        assert dict(transport.on_wires) == {}
    assert len(waits) == 3


def test_a_sweep_that_is_to_find_its_zero_again_is_stopped_there(monkeypatch):
    wishes = Wishes()
    with rehearsal_of() as rehearsal, rehearsal.transport as transport:
        monkeypatch.setattr("needlewright.bench.sweeping.SweepTake", _TooFast)
        sweeping = Sweeping(
            FAMILY,
            whole_devices_of(rehearsal),
            NO_INSTRUMENTS,
            wishes,
            reader=LiveReader(FAMILY),
            fallen=Fallen(FAMILY, ()),
        )
        assert sweeping.take(DIALS, Path("no.mp4"), print, lambda: "stop") == "stop"
        assert set(transport.on_wires) == set(DIALS)


class _TooFast:
    def __init__(self, *given: object, slower: float) -> None:
        del given, slower

    def go(self) -> None:
        raise TooFast


@pytest.mark.parametrize("wish", ["skip", "redo"])
def test_a_key_nobody_turned_is_not_taken_for_turned(wish: Wish):
    bench = KeyBench()
    page, asked = PersonAtPage(bench.wishes), Event()
    page.changed = asked.set
    lines: list[str] = []

    def show(told: list[str]) -> None:
        lines.extend(told)
        page.show(told)

    def wait() -> bool:
        if len(lines) == 2:  # on is asked for the first time
            page.changed = lambda: page.asked and cut()  # type: ignore[assignment,func-returns-value]
            return page.wait()
        page.changed = lambda: page.asked and page.say(page.asked, is_done=True)  # type: ignore[assignment,func-returns-value]
        return page.wait()

    def cut() -> None:
        page.changed = lambda: None
        bench.wishes.want(wish)
        page.cut_short()

    with Bench(BenchSettings(), None, show=show, wait=wait) as hand:
        key = bench.key(_key_of(hand, Person(show, wait)))
        assert key.come_to(1, on=True) == wish
        assert (key.on, key.key_ons, key.may_be_on) == (None, 0, True)
        assert key.come_to(1, on=True) is None
    assert (key.on, key.key_ons) == (True, 1)
    assert lines == [f"switch the cluster {how} (key and supply)" for how in ("off", "on") * 2]


def test_a_disk_that_is_full_at_the_last_look_loses_no_row_and_no_evidence(
    tmp_path: Path, monkeypatch
):
    plan = short_plan(points=2)
    kept = kept_in(tmp_path, plan)
    source = kept_after_looks_rows(tmp_path / "other", points=2)
    whole = keeping.write_run

    def full(path: Path, run: object) -> None:
        raise RunError(f"{path}: cannot be written (no space left on device)")

    for place, rows in enumerate(source):
        photo = PhotoReadings(str(tmp_path / f"{place}.png"), True, None, ())
        named = tuple(replace(row, photo=f"{place}.png") for row in rows)
        if place == len(source) - 1:
            monkeypatch.setattr(keeping, "write_run", full)
            with pytest.raises(RunError, match="no space left"):
                kept.keep_step(named, photo, place + 1, 1)
        else:
            kept.keep_step(named, photo, place + 1, 1)
    path = tmp_path / "as-found.csv"
    assert len(read_run(path).rows) == 4
    assert len(read_evidence(path).photos) == 3
    with pytest.raises(RunError, match="no space left"):  # full still: nothing is taken away
        kept.finish()
    assert state_path(path).is_file()
    monkeypatch.setattr(keeping, "write_run", whole)
    again = begin(path, FAMILY, plan)
    assert again.state.done == len(plan.steps)
    assert len(read_run(path).rows) == 6
    path.unlink()
    again.finish()
    assert len(read_run(path).rows) == 6
    assert not state_path(path).exists()


def kept_after_looks_rows(folder: Path, *, points: int) -> list[tuple]:
    folder.mkdir()
    kept = kept_after_looks(folder, sweep=False, lamps=False, points=points)
    numbers = sorted({row.step or 0 for row in kept.state.rows})
    return [tuple(r for r in kept.state.rows if r.step == number) for number in numbers]


def test_a_key_on_is_kept_at_once(tmp_path: Path):
    wishes = Wishes()
    with rehearsal_of() as rehearsal, rehearsal.transport:
        waited = rehearsal.pass_time

        def wait(seconds: float) -> None:
            waited(seconds)
            if rehearsal.cluster.key:
                wishes.want("stop")

        devices = replace(whole_devices_of(rehearsal), wait=wait, supply_a=lambda: None)
        ended = run_of(kept_in(tmp_path, short_plan()), devices, wishes=wishes).go()
        assert (ended.state, ended.done) == ("stopped", 0)
        assert (rehearsal.cluster.key, dict(rehearsal.transport.on_wires)) == (False, {})
    assert kept_in(tmp_path, short_plan()).state.key_ons == 1


def test_ctrl_c_at_the_lamps_switches_all_off_and_makes_the_bench_light(tmp_path: Path):
    def ctrl_c(bench: object) -> None:
        raise KeyboardInterrupt

    with interrupted(2, ctrl_c) as (rehearsal, devices), rehearsal.transport:
        ended = run_of(kept_after_looks(tmp_path, sweep=False), devices).go()
        assert (rehearsal.cluster.key, rehearsal._bench.dark) == (False, False)
        assert dict(rehearsal.transport.on_wires) == {}
    assert (ended.state, ended.words) == ("stopped", "stopped by the person at the bench")
    assert [photo.group for photo in ended.outcome.lamps] == ["backlight"]


def test_ctrl_c_at_a_key_turned_by_hand_asks_for_it_to_be_switched_off(tmp_path: Path):
    asked: list[str] = []

    def show(lines: list[str]) -> None:
        asked.extend(lines)

    def wait() -> bool:
        if len(asked) == 2:
            raise KeyboardInterrupt
        return True

    with rehearsal_of() as rehearsal, Bench(BenchSettings(), None, show=show, wait=wait) as hand:
        devices = replace(
            whole_devices_of(rehearsal, hand), key=_key_of(hand, Person(show, wait)), bus=no_bus
        )
        ended = run_of(kept_in(tmp_path, short_plan()), devices).go()
    assert (ended.state, ended.done) == ("stopped", 0)
    assert asked == [f"switch the cluster {how} (key and supply)" for how in ("off", "on", "off")]


def test_a_run_whose_disk_does_not_answer_keeps_its_older_file(tmp_path: Path, monkeypatch):
    kept = kept_after_looks(tmp_path, sweep=False, lamps=False)
    before = kept.path.read_bytes()

    def refuse(handle: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("os.fsync", refuse)
    for write in (
        lambda: write_run(kept.path, kept.run),
        lambda: write_evidence(evidence_path(kept.path), Evidence()),
    ):
        with pytest.raises(RunError, match="cannot be written"):
            write()
    assert kept.path.read_bytes() == before
    assert {path.name for path in tmp_path.iterdir()} == {"as-found.csv", "as-found.bench.json"}


def test_wires_that_cannot_be_cleared_leave_the_cluster_off_and_the_bench_light(
    tmp_path: Path, monkeypatch
):
    with interrupted(2, _gone) as (rehearsal, devices), rehearsal.transport as transport:

        def refuse() -> None:
            raise TransportError("the adapter does not answer")

        with monkeypatch.context() as patch:
            patch.setattr(transport, "stop", refuse)
            run = run_of(kept_after_looks(tmp_path, sweep=False), devices)
            run._key.on = True
            ended = run.go()
        assert (rehearsal.cluster.key, rehearsal._bench.dark) == (False, False)
    assert ended.state == "failed"
    assert ended.words.endswith("and it could not be switched off: the adapter does not answer")


def _gone(bench: object) -> None:
    raise CameraError("camera 0: sends no pictures any more")


@pytest.mark.usefixtures("quick")
def test_nobody_puts_anything_on_once_an_attempt_at_a_sweep_is_over(tmp_path: Path):
    let_go, asked = Event(), []

    def wait() -> bool:
        asked.append(rehearsal.cluster.now_s)
        if len(asked) <= len(DIALS):  # brought to their first marks
            return True
        assert let_go.wait(WITHIN_S)
        raise CutShort

    with interrupted(9, _gone) as (rehearsal, devices):
        hand = HandTransport(lambda lines: None, wait)
        together = TransportsTogether([hand])
        by_hand = replace(devices, transport=together, bus=no_bus, let_go=let_go.set)
        with together:
            ended = run_of(kept_after_looks(tmp_path, lamps=False), by_hand).go()
            assert not [one for one in threads() if one.name == "telling"]
            assert dict(together.on_wires) == {}
    assert ended.state == "failed"
    assert len(asked) == len(DIALS) + 1


@pytest.mark.usefixtures("quick")
def test_lamps_after_a_sweep_that_is_skipped_find_needles_that_are_told_nothing(tmp_path: Path):
    wishes, seen = Wishes(), []
    with interrupted(6, lambda bench: wishes.want("skip")) as (rehearsal, devices):
        dark = rehearsal.darken

        def darken(on: bool) -> None:
            seen.append((on, set(rehearsal.transport.on_wires) & set(DIALS)))
            dark(on)

        with rehearsal.transport:
            run = run_of(
                kept_after_looks(tmp_path), replace(devices, darken=darken), Heard(), wishes
            )
            ended = run.go()
    assert (ended.state, ended.outcome.sweep) == ("finished", None)
    assert [photo.group for photo in ended.outcome.lamps] == [
        "backlight",
        "tell-tales",
        "indicators",
    ]
    assert seen == [(True, set()), (False, set())]


def test_a_page_tells_done_given_up_and_cut_short_apart():
    page = PersonAtPage(Wishes())
    page.show(["something"])
    for answer in (True, False):
        page.changed = lambda answer=answer: page.asked and page.say(page.asked, is_done=answer)  # type: ignore[misc]
        assert page.wait() is answer
    page.changed = lambda: None
    given: list[str] = []

    def wait() -> None:
        try:
            page.wait()
        except CutShort:
            given.append("cut short")

    thread = Thread(target=wait)
    thread.start()
    while thread.is_alive():
        page.cut_short()
        thread.join(0.01)
    assert given == ["cut short"]
