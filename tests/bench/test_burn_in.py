"""A burn-in on a rehearsed cluster: what happens in it is found, timed, and outlives its end."""

import errno
import json
import os
import signal
from collections.abc import Callable
from dataclasses import replace
from io import FileIO
from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from bench.benches import DIALS, FAMILY, rehearsal_of, whole_devices_of
from needlewright.bench.burn_in.alone import alone, is_on
from needlewright.bench.burn_in.attended import Listeners, Progress, look_every_s
from needlewright.bench.burn_in.journal import (
    JOURNAL,
    Beat,
    Begun,
    Counts,
    Ended,
    GoneOn,
    Happened,
    LampsSeen,
    Looked,
    Visited,
    begin,
    now,
    read_journal,
)
from needlewright.bench.burn_in.lamps import LampWatch, lamps_out
from needlewright.bench.burn_in.pictures import Ring
from needlewright.bench.burn_in.plan import BurnInPlan, dwell_values, points_of, refuse_plan
from needlewright.bench.burn_in.run import BurnInRun
from needlewright.bench.burn_in.shift import ShiftWatch
from needlewright.bench.burn_in.watching import CurrentWatch, StandWatch
from needlewright.bench.devices import Devices
from needlewright.bench.outcome import SweepEvent, SweepFound
from needlewright.bench.sweep_take import SweepFilm
from needlewright.composing.burn_in_known import A_YEAR
from needlewright.composing.burn_in_report import report_document
from needlewright.composing.burn_in_statements import Beforehand, laws_of
from needlewright.errors import RunError
from needlewright.readings.live import LiveDial, LiveLook
from needlewright.rehearsal.cluster.rehearsal import Rehearsal

SHORT = BurnInPlan(
    hours=59 / 3600,
    dwell_s=8.0,
    sweeps_each=0,
    check_every_h=1.0,
    points={"engine": (4.0,), "speed": (100.0,)},
)
NOTHING_STATED = Beforehand(laws_of({}, None), A_YEAR)
REHEARSED = "rehearsed, sound, 23 degC, seed 5"


def struck(rehearsal: Rehearsal, devices: Devices, acts: dict[int, Callable]) -> Devices:
    """Devices that do something to the cluster once the supply was asked so often.

    It is asked once after each key-on and once with each look of a dwell.
    """
    asked = 0

    def supply_a() -> float:
        nonlocal asked
        asked += 1
        amperes = rehearsal.supply_a()
        if asked in acts:
            acts[asked](rehearsal.cluster)
        return amperes

    return replace(devices, supply_a=supply_a)


def kill_lamp(cluster) -> None:
    cluster.lamps._sound["stop"] = 0.0


def turn_needle(cluster) -> None:
    cluster.dials["speed"]._scatter_deg = 3.0


def brown_out(cluster) -> None:
    cluster.key_off()
    cluster.key_on()


@pytest.fixture(scope="module")
def eventful(tmp_path_factory: pytest.TempPathFactory):
    """A minute in which a lamp dies, a needle turns, and the cluster starts anew."""
    folder = tmp_path_factory.mktemp("burn-in") / "unit"
    told: list[Progress] = []
    with rehearsal_of() as rehearsal, rehearsal.transport:
        # the second dwell is looked at with the 10th to 15th time, the third from the 17th on
        acts = {11: kill_lamp, 18: turn_needle, 20: brown_out}
        devices = struck(rehearsal, whole_devices_of(rehearsal), acts)
        journal = begin(folder, FAMILY.name, REHEARSED, "A 1", SHORT)
        run = BurnInRun(journal, FAMILY, devices, 2.0, listeners=Listeners(progress=told.append))
        ended = run.go()
        is_on = rehearsal.cluster.key
    return read_journal(folder), ended, is_on, told


def events_of(journal) -> list[Happened]:
    return [one for one in journal.lines if isinstance(one, Happened)]


def test_every_event_is_named_timed_and_has_pictures_around_it(eventful):
    journal, ended, is_on, told = eventful
    assert (ended.state, ended.words, is_on) == ("finished", "all 59 s are done", False)
    found = [(one.what, one.where) for one in events_of(journal)]
    assert found == [
        ("current_jump", "cluster"),
        ("lamp_out", "stop"),
        ("needle_moved", "speed"),
        ("reset", "cluster"),
    ]
    jump, _, moved, _ = events_of(journal)
    # a lamp of 1.2 W at 13.5 V goes out
    assert jump.size == pytest.approx(-0.0889, abs=0.01)
    assert moved.size == pytest.approx(3.0, abs=0.15)
    assert len(moved.pictures) == len(moved.picture_s) == 10
    assert sum(t < 0 for t in moved.picture_s) == 5
    assert list(moved.picture_s) == sorted(moved.picture_s)
    seen = [cv2.imread(str(journal.folder / name)) for name in moved.pictures]
    assert {one.shape for one in seen} == {(426, 640, 3)}
    # the needle has turned between the first and the last of them
    assert np.percentile(cv2.absdiff(seen[0], seen[-1]), 99.9) > 40
    assert (told[-1].events, told[-1].of_hours) == (4, SHORT.hours)


def test_hours_are_counted_with_the_power_on_only(eventful):
    journal, ended, _, _ = eventful
    assert 59.0 <= ended.counts.powered_s < 75.0
    assert (ended.counts.sweeps, ended.counts.key_ons) == (0, 5)
    counted = [one.counts.powered_s for one in journal.lines]
    assert counted == sorted(counted)


def test_check_points_are_read_at_the_beginning_and_at_the_end(eventful):
    journal = eventful[0]
    looks = [one for one in journal.lines if isinstance(one, Looked)]
    assert [(one.visit, one.dial, one.value) for one in looks] == [
        (visit, dial, SHORT.points[dial][0]) for visit in (0, 1) for dial in DIALS
    ]
    for one in looks:
        dial = FAMILY.dial(one.dial)
        assert dial is not None
        assert one.angle_deg == pytest.approx(dial.programme_angle_deg(one.value), abs=0.3)
        assert (journal.folder / str(one.photo)).is_file()
    lamps = [one.light for one in journal.lines if isinstance(one, LampsSeen)]
    # with the first look of the first dwell, then at the end of each
    assert [one["stop"] > 0.3 for one in lamps] == [True, True, False]
    assert all(one["warning"] > 0.3 for one in lamps)


def short_run(folder: Path, devices: Devices, listeners: Listeners | None = None) -> Ended:
    journal = begin(folder, FAMILY.name, REHEARSED, "A 1", SHORT)
    return BurnInRun(journal, FAMILY, devices, 2.0, listeners=listeners).go()


def test_more_than_the_limit_switches_off_at_once(tmp_path: Path):
    with rehearsal_of() as rehearsal, rehearsal.transport:
        devices = replace(whole_devices_of(rehearsal), supply_a=lambda: 2.4)
        ended = short_run(tmp_path / "unit", devices)
        assert rehearsal.cluster.key is False
        assert not rehearsal.transport.on_wires
    assert ended.state == "failed"
    assert ended.words.startswith("the cluster draws 2.4 A, above the limit of 2 A; it is switched")
    (event,) = events_of(read_journal(tmp_path / "unit"))
    assert (event.what, event.words) == ("over_current", ended.words)
    assert len(event.pictures) > 5


def test_a_program_that_is_killed_goes_on_with_the_hours_counted_so_far(tmp_path: Path):
    folder = tmp_path / "unit"

    def kill_at_the_dwell(progress: Progress) -> None:
        if progress.words == "dwell":
            os.kill(os.getpid(), signal.SIGKILL)

    child = os.fork()
    if child == 0:  # never comes back
        with rehearsal_of() as rehearsal, rehearsal.transport:
            listeners = Listeners(progress=kill_at_the_dwell)
            short_run(folder, whole_devices_of(rehearsal), listeners)
        os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL
    with (folder / JOURNAL).open("ab") as stream:
        stream.write(b'{"at":"2026-')  # the line that was being written
    before = read_journal(folder)
    assert before.counts.powered_s > 5.0
    assert [one.visit for one in before.lines if isinstance(one, Looked)] == [0, 0]
    with rehearsal_of() as rehearsal, rehearsal.transport:

        def stop(progress: Progress) -> None:
            if progress.words == "dwell":
                raise KeyboardInterrupt

        ended = short_run(folder, whole_devices_of(rehearsal), Listeners(progress=stop))
        assert rehearsal.cluster.key is False
    assert (ended.state, ended.words) == ("stopped", "stopped by the person at the bench")
    after = read_journal(folder)
    assert after.lines[: len(before.lines)] == before.lines
    assert isinstance(after.lines[len(before.lines)], GoneOn)
    # the first visit was whole: it is not made again
    assert [one.visit for one in after.lines if isinstance(one, Looked)] == [0, 0]
    assert after.counts.powered_s >= before.counts.powered_s


def test_a_journal_of_something_else_is_refused(tmp_path: Path):
    folder = tmp_path / "unit"
    begin(folder, FAMILY.name, REHEARSED, "A 1", SHORT)
    longer = SHORT.model_copy(update={"hours": 2.0})
    for wrong, asked in (
        ("another cluster ('A 1, rehearsed", (FAMILY.name, REHEARSED, "A 2", SHORT)),
        ("now 'A 1, bench'", (FAMILY.name, "bench", "A 1", SHORT)),
        ("another family", ("other", REHEARSED, "A 1", SHORT)),
        ("was begun with another plan", (FAMILY.name, REHEARSED, "A 1", longer)),
    ):
        with pytest.raises(RunError) as refused:
            begin(folder, *asked)
        assert wrong in str(refused.value)
    journal = read_journal(folder)
    assert len(journal.lines) == 1, "what was refused has written nothing"
    journal.write(Ended(at=now(), counts=Counts(), state="finished", words="done"))
    with pytest.raises(RunError, match="is finished; report it, or name another folder"):
        begin(folder, FAMILY.name, REHEARSED, "A 1", SHORT)


def test_a_damaged_line_inside_is_no_journal_and_one_cut_off_at_the_end_is(tmp_path: Path):
    journal = begin(tmp_path / "unit", FAMILY.name, "bench", "A 1", SHORT)
    journal.write(Beat(at=now(), counts=Counts(powered_s=90.0)))
    path = journal.path
    whole = path.read_bytes()
    path.write_bytes(whole[:-5])
    assert [type(one) for one in read_journal(journal.folder).lines] == [Begun]
    path.write_bytes(whole.replace(b'"beat"', b'"bear"') + whole)
    with pytest.raises(RunError, match=r"journal\.jsonl: line 2 is damaged"):
        read_journal(journal.folder)
    with pytest.raises(RunError, match="name the folder of a burn-in"):
        read_journal(tmp_path)


class Halfway(FileIO):
    """A file on a disk that has room for some more bytes only."""

    room = 40

    def write(self, content) -> int:
        if not self.room:
            raise OSError(errno.ENOSPC, "No space left on device")
        taken = min(self.room, len(content))
        self.room -= taken
        return super().write(bytes(content)[:taken])


def cannot_be_cut(*_: object) -> None:
    raise OSError(errno.EIO, "Input/output error")


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Has every file opened from now on fail halfway, or once more work."""
    real = Path.open

    def opened(path: Path, mode: str = "r", *more, **named):
        return Halfway(path, "a") if mode == "ab" else real(path, mode, *more, **named)

    return lambda *, full=True: monkeypatch.setattr(Path, "open", opened if full else real)


def test_a_full_disk_leaves_no_piece_of_a_line(tmp_path: Path, full_disk):
    journal = begin(tmp_path / "unit", FAMILY.name, "bench", "A 1", SHORT)
    journal.write(Beat(at=now(), counts=Counts(powered_s=90.0)))
    before = journal.path.read_bytes()
    full_disk()
    with pytest.raises(RunError, match=r"cannot be written \(No space left on device\); what"):
        journal.write(Beat(at=now(), counts=Counts(powered_s=150.0)))
    assert journal.path.read_bytes() == before
    full_disk(full=False)
    journal.write(Ended(at=now(), counts=journal.counts, state="failed", words="the disk is full"))
    kinds = [one.kind for one in read_journal(journal.folder).lines]
    assert kinds == ["begun", "beat", "ended"]
    again = begin(journal.folder, FAMILY.name, "bench", "A 1", SHORT)
    assert (again.counts.powered_s, again.lines[-1].kind) == (90.0, "gone_on")


def test_what_cannot_be_cut_back_at_once_is_cut_back_before_the_next_line(
    tmp_path: Path, full_disk, monkeypatch: pytest.MonkeyPatch
):
    journal = begin(tmp_path / "unit", FAMILY.name, "bench", "A 1", SHORT)
    before = journal.path.read_bytes()
    full_disk()
    with monkeypatch.context() as patched:
        patched.setattr(Halfway, "truncate", cannot_be_cut)
        with pytest.raises(RunError, match="cannot be written"):
            journal.write(Beat(at=now(), counts=Counts(powered_s=150.0)))
    assert len(journal.path.read_bytes()) == len(before) + 40
    full_disk(full=False)
    journal.write(Beat(at=now(), counts=Counts(powered_s=180.0)))
    assert [one.counts.powered_s for one in read_journal(journal.folder).lines] == [0.0, 180.0]


def test_a_burn_in_whose_first_line_did_not_fit_can_be_begun(tmp_path: Path, full_disk):
    folder = tmp_path / "unit"
    full_disk()
    with pytest.raises(RunError, match="cannot be written"):
        begin(folder, FAMILY.name, "bench", "A 1", SHORT)
    full_disk(full=False)
    assert len(begin(folder, FAMILY.name, "bench", "A 1", SHORT).lines) == 1
    (folder / JOURNAL).write_bytes((folder / JOURNAL).read_bytes()[:-9])  # as a power cut
    assert len(begin(folder, FAMILY.name, "bench", "A 1", SHORT).lines) == 1


def test_a_line_that_was_cut_off_is_left_out_and_the_report_says_so(tmp_path: Path):
    journal = begin(tmp_path / "unit", FAMILY.name, "bench", "A 1", SHORT)
    journal.write(Beat(at=now(), counts=Counts(powered_s=90.0)))
    journal.path.write_bytes(journal.path.read_bytes()[:-5])
    on = begin(journal.folder, FAMILY.name, "bench", "A 1", SHORT)
    assert [one.kind for one in on.lines] == ["begun", "gone_on"]
    report = report_document(read_journal(on.folder), FAMILY, NOTHING_STATED)
    assert (report["gone_on"], report["lines_cut_off"]) == (1, 1)


def test_a_line_ends_with_a_newline_alone(tmp_path: Path):
    journal = begin(tmp_path / "unit", FAMILY.name, "bench", "A\u20281", SHORT)
    assert read_journal(journal.folder).begun.unit == "A\u20281"


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"hours": 0.0}, "burn-in of 0 h: give more than 0"),
        ({"dwell_s": 0.0}, "dwell of 0 s"),
        ({"sweeps_each": -1}, "-1 sweeps in a turn"),
        ({"check_every_h": 0.0}, "check points every 0 h"),
        ({"points": {}}, "no dial can be told anything without a person"),
        ({"points": {"oil": (1.0,)}}, "has no dial 'oil'"),
        ({"points": {"speed": (100.0, 40.0)}}, "dial 'speed': check points must rise"),
        ({"chamber": ((2.0, -20.0), (1.0, 23.0))}, "chamber: the hours must rise"),
        ({"chamber": ((0.0, -80.0),)}, "chamber: give temperatures from -60 to 120"),
    ],
)
def test_a_plan_that_cannot_be_carried_out_is_refused(change: dict, wrong: str):
    with pytest.raises(RunError) as refused:
        refuse_plan(SHORT.model_copy(update=change), FAMILY)
    assert wrong in str(refused.value)


def test_a_plan_knows_its_points_its_sweeps_and_its_cold():
    plan = BurnInPlan(
        hours=10.0,
        dwell_s=280.0,
        sweeps_each=1,
        check_every_h=1.0,
        points=points_of(FAMILY, DIALS),
        chamber=((1.0, -20.0), (6.0, 23.0)),
    )
    assert plan.points == {"engine": (2.0, 4.0, 6.0), "speed": (40.0, 100.0, 180.0)}
    assert plan.expected_sweeps == 120
    assert [plan.temperature_degc(hour) for hour in (0.5, 1.0, 5.9, 6.0)] == [None, -20, -20, 23]
    assert [dict(told) for told in plan.visit()][1] == {"engine": 4.0, "speed": 100.0}
    assert dwell_values(plan, FAMILY) == {"engine": 5.0, "speed": 140.0}
    assert len(plan.cautions) == 4


def looks(**angles: float) -> LiveLook:
    dials = tuple(LiveDial(one, "", "steady", angle_deg=angle) for one, angle in angles.items())
    return LiveLook(0.0, True, None, dials)


def test_one_look_that_is_off_is_no_event_and_all_needles_at_once_are_one():
    watch = StandWatch(("engine", "speed"))
    assert watch.look(looks(engine=10.0, speed=20.0)) == []
    assert watch.look(looks(engine=10.0, speed=22.0)) == []
    assert watch.look(looks(engine=10.0, speed=20.1)) == []
    assert [one.what for one in watch.look(looks(engine=-60.0, speed=-80.0))] == ["reset"]
    assert watch.look(looks(engine=-60.0, speed=-80.0)) == []
    assert watch.is_away
    assert watch.look(looks(engine=10.1, speed=20.1)) == []
    assert not watch.is_away


def test_a_current_that_stays_at_another_level_jumped_once():
    watch = CurrentWatch()
    values = [0.30] * 6 + [0.40] + [0.30] * 3 + [0.40] * 9
    found = [one for one in map(watch.look, values) if one is not None]
    assert [one.size for one in found] == [pytest.approx(0.10)]
    assert found[0].words == "the current jumped from 0.300 to 0.400 A"
    assert CurrentWatch().look(None) is None


def test_a_lamp_too_weak_to_be_seen_at_first_is_not_watched():
    first = {"bright": 0.5, "weak": 0.02}
    assert [one.where for one in lamps_out(first, {"bright": 0.1, "weak": 0.0})] == ["bright"]
    assert lamps_out(first, {"bright": 0.2}) == []


def dwell_of(light: list[float], room: list[int] | None = None, out=()) -> tuple[LampWatch, list]:
    """A dwell in which a lamp gives so much, look for look, in a room so bright."""
    watch = LampWatch({"stop": 0.6, "drowned": 0.02}, np.zeros((16, 16, 3), np.uint8), out)
    found = []
    for n, one in enumerate(light):
        seen = np.full((16, 16, 3), 100 if room is None else room[n], np.uint8)
        found += [(n, e.what, e.where) for e in watch.look(seen, {"stop": one, "drowned": 0.0})]
    return watch, found


def test_a_lamp_that_dies_in_a_dwell_is_told_at_once_and_one_that_comes_back_flickers():
    watch, found = dwell_of([0.6, 0.6, 0.1, 0.0, 0.0, 0.0])
    assert found == [(3, "lamp_out", "stop")]
    assert (watch.looks, dict(watch.dark), watch.out) == (6, {"stop": 4}, {"stop"})
    # it comes back, and goes again: both are told, and the looks are counted
    watch, found = dwell_of([0.6, 0.0, 0.0, 0.6, 0.6, 0.0, 0.0])
    assert found == [(2, "lamp_out", "stop"), (3, "lamp_flickers", "stop"), (6, "lamp_out", "stop")]
    assert dict(watch.dark) == {"stop": 4}
    # a lamp that was out before the dwell is told when it lights again
    assert dwell_of([0.0, 0.0, 0.6], out=("stop",))[1] == [(2, "lamp_flickers", "stop")]


def test_one_dark_look_is_counted_and_two_of_them_are_a_flicker():
    watch, found = dwell_of([0.6, 0.0, 0.6, 0.6])
    assert (found, dict(watch.dark)) == ([], {"stop": 1})
    assert dwell_of([0.6, 0.0, 0.6, 0.0, 0.6])[1] == [(4, "lamp_flickers", "stop")]
    # dimmed is not dark: a lamp that aged by half in a minute is no lamp that went out
    assert dwell_of([0.6, 0.3, 0.2, 0.3])[1] == []


def test_a_room_that_was_made_dark_is_no_lamp_that_went_out():
    watch, found = dwell_of([0.6, -0.2, -0.2, -0.2, 0.6], [100, 60, 60, 60, 100])
    assert (found, watch.looks, watch.not_judged) == ([], 2, 3)


UP_AND_DOWN = BurnInPlan(
    hours=10.0,
    dwell_s=280.0,
    sweeps_each=1,
    check_every_h=1.0,
    points={"engine": (2.0, 4.0), "speed": (40.0, 100.0)},
)


def visits(angles: list[float], *, degc: list[float] | None = None, also: float = 0.0):
    """Looks of a visit each: one dial reads so, another reads so much otherwise in the end."""
    for visit, angle in enumerate(angles):
        two = {"speed": angle, "engine": also * (visit >= len(angles) - 2)}
        yield [
            Looked(
                at=now(),
                counts=Counts(),
                visit=visit,
                dial=dial,
                value=40.0,
                angle_deg=one,
                u_angle_deg=0.1,
                temperature_c=None if degc is None else degc[visit],
            )
            for dial, one in two.items()
        ]


def shifts(angles: list[float], **more) -> list[tuple[int, str, float | None]]:
    watch = ShiftWatch(UP_AND_DOWN)
    return [
        (visit, one.where, one.size)
        for visit, looks in enumerate(visits(angles, **more))
        for one in watch.look(looks)
    ]


def test_a_needle_that_reads_otherwise_from_an_hour_on_is_told_with_the_second_look():
    steady = [10.0, 10.01, 9.99, 10.0]
    # the friction of 0.4 degrees of lag makes a stepper stand 0.3 degrees low, come to from below
    assert shifts([*steady, 9.7, 9.69]) == [(5, "speed", pytest.approx(-0.31))]
    assert shifts([*steady, 9.7, 9.69, 9.7, 9.7]) == [(5, "speed", pytest.approx(-0.31))]
    assert shifts([*steady, 9.7, 10.0, 9.7, 10.0]) == [], "one look that is off is none"
    assert shifts([*steady, 10.05, 10.06]) == [], "less than a tenth of a degree is never told"
    scattered = [10.0, 10.2, 9.8, 10.1, 9.9]
    assert shifts([*scattered, 10.35, 10.35]) == [], "nor what the looks scatter anyway"
    assert shifts([*scattered, 11.0, 11.0]) == [(6, "speed", pytest.approx(1.0))]


def test_all_needles_at_once_are_the_camera_and_the_cold_is_not_compared():
    assert shifts([10.0] * 4 + [10.5] * 2, also=0.5) == [(5, "cluster", None)]
    cold = [23.0] * 4 + [-20.0] * 2
    assert shifts([10.0] * 4 + [9.0] * 2, degc=cold) == []
    # gone on with: what came before is known
    looks = [one for visit in visits([10.0] * 4 + [10.5]) for one in visit]
    again = list(visits([10.0] * 4 + [10.5] * 2))[-1]
    assert [one.where for one in ShiftWatch(UP_AND_DOWN, looks).look(again)] == ["speed"]


def test_a_needle_that_lags_is_not_compared_with_itself_from_above_where_below_was_not_read():
    # half a degree from above against from below, as a sound air core may have
    watch = ShiftWatch(UP_AND_DOWN)
    looks = [
        Looked(
            at=now(),
            counts=Counts(),
            visit=visit,
            dial="speed",
            value=40.0,
            angle_deg=None if step == 0 and visit in (6, 7) else 10.0 + 0.5 * (step == 2),
            u_angle_deg=0.1,
            photo=f"looks/{visit:04d}-{step}.jpg",
        )
        for visit in range(9)
        for step in (0, 2)
    ]
    told = [watch.look(one for one in looks if one.visit == visit) for visit in range(9)]
    assert told == [[]] * 9
    assert ShiftWatch(UP_AND_DOWN, looks).look([]) == []


def test_the_ring_holds_frames_before_and_after_a_moment_apart():
    ring = Ring()
    for place in range(40):
        ring.keep(np.zeros((8, 8, 3), np.uint8), place / 25)
    strip = [one.t_s for one in ring.strip(0.8)]
    assert strip == pytest.approx([0.12, 0.28, 0.44, 0.6, 0.76, 0.8, 0.96, 1.12, 1.28, 1.44])


def test_a_line_says_what_it_is(eventful):
    journal = eventful[0]
    first = json.loads((journal.folder / JOURNAL).read_text("utf-8").splitlines()[0])
    assert (first["kind"], first["format"], first["unit"]) == ("begun", 1, "A 1")
    assert journal.is_rehearsed
    assert journal.is_finished


def test_what_went_wrong_in_a_sweep_has_the_sweeps_own_pictures(tmp_path: Path):
    plan = SHORT.model_copy(update={"hours": 5 / 3600, "sweeps_each": 1, "lamps": False})
    films: list[SweepFilm] = []

    def look_through(film: SweepFilm) -> SweepFound:
        assert film.video.is_file()
        films.append(film)
        middle_s = film.seconds / 2
        return SweepFound((SweepEvent(middle_s, "speed", "lost_steps", -2.0, 0.1),))

    with rehearsal_of() as rehearsal, rehearsal.transport:
        devices = replace(whole_devices_of(rehearsal), film=None)  # ten frames a second are enough
        journal = begin(tmp_path / "unit", FAMILY.name, REHEARSED, "A 1", plan)
        run = BurnInRun(journal, FAMILY, devices, 2.0, look_through=look_through)
        run._acts.visit = lambda number: journal.write(  # type: ignore[method-assign]
            Visited(at=now(), counts=run._at.counts, visit=number)
        )
        ended = run.go()
    assert (ended.state, ended.counts.sweeps, len(films)) == ("finished", 1, 1)
    (event,) = events_of(journal)
    assert (event.what, event.where, event.size) == ("lost_steps", "speed", -2.0)
    assert event.words == "in the sweep the needle slipped by -2.0 deg"
    assert len(event.pictures) == 10
    assert max(map(abs, event.picture_s)) < 1.1, "frames of the sweep, not of what came after"
    assert not list((tmp_path / "unit").glob("sweep*")), "a film is kept as pictures only"


def test_one_program_at_a_time_is_at_a_burn_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    waited: list[float] = []
    monkeypatch.setattr("needlewright.bench.burn_in.alone.sleep", waited.append)
    with (
        alone(tmp_path),
        pytest.raises(RunError, match="this burn-in is on already, in another window"),
        alone(tmp_path),
    ):
        pass
    assert sum(waited) == pytest.approx(1.0, abs=0.1)
    with alone(tmp_path):
        assert is_on(tmp_path)
    assert not is_on(tmp_path)
    assert not is_on(tmp_path / "gone")
    (tmp_path / "file").touch()
    with pytest.raises(RunError, match="cannot be written"), alone(tmp_path / "file" / "gone"):
        pass


def test_a_look_at_a_burn_in_keeps_nobody_from_beginning_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    import fcntl  # noqa: PLC0415 - not there on every system

    with alone(tmp_path):
        pass
    looking = os.open(tmp_path / ".on", os.O_RDWR)
    fcntl.flock(looking, fcntl.LOCK_SH)  # as a look does, caught in its moment
    assert not is_on(tmp_path), "two that look do not see each other"
    monkeypatch.setattr("needlewright.bench.burn_in.alone.sleep", lambda _: os.close(looking))
    with alone(tmp_path):
        assert is_on(tmp_path)


def kill_backlight(cluster) -> None:
    cluster.lamps._sound["behind-speed"] = 0.0


def test_a_backlight_that_dies_is_told_by_the_print_it_lit_and_the_dark_shows_more(tmp_path: Path):
    plan = SHORT.model_copy(update={"hours": 21 / 3600, "dwell_s": 4.0, "dark_lamps": True})
    with rehearsal_of() as rehearsal, rehearsal.transport:
        # asked after each of two key-ons, then with every look of the dwell
        devices = struck(rehearsal, whole_devices_of(rehearsal), {3: kill_backlight})
        journal = begin(tmp_path / "unit", FAMILY.name, REHEARSED, "A 1", plan)
        acts = BurnInRun(journal, FAMILY, devices, 2.0)._acts
        acts.light_by_hand()
        acts.visit(0)
        acts.dwell()
        assert rehearsal._bench.dark is False, "the bench is light again"
    assert [(one.what, one.where) for one in events_of(journal)] == [("lamp_out", "behind-speed")]
    first, dark = [one for one in journal.lines if isinstance(one, LampsSeen)]
    assert (first.dark_bench, dark.dark_bench) == (False, True)
    assert first.light["behind-speed"] > 0.1
    assert dark.dark == {"behind-speed": dark.looks - 1}
    # by the dark bench every lamp gives more of the picture's white, but for the one that is out
    # and the one that lights two small dials, of whose print too little is seen in either light
    brighter = {lamp for lamp, light in first.light.items() if dark.light[lamp] > light + 0.05}
    assert brighter == set(first.light) - {"behind-speed", "behind-small"}
    report = report_document(journal, FAMILY, NOTHING_STATED)
    assert report["lamps_drowned"] == ["behind-small"]
    assert set(report["lamps_watched"]) == set(first.light) - {"behind-small"}
    assert report["lamp_looks"] == dark.looks >= 3


@pytest.mark.parametrize(
    ("rehearsed", "dwell_s", "every_s"),
    [(False, 280.0, 1.0), (True, 280.0, 7.0), (True, 8.0, 1.0), (True, 3600.0, 10.0)],
)
def test_a_long_dwell_of_a_rehearsed_cluster_is_looked_at_less_often(rehearsed, dwell_s, every_s):
    plan = SHORT.model_copy(update={"dwell_s": dwell_s})
    journal = SimpleNamespace(is_rehearsed=rehearsed, begun=SimpleNamespace(plan=plan))
    assert look_every_s(journal) == every_s
