"""The sweep and the lamps of a run: done, kept, gone on with, and whatever ends them."""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest

from bench.benches import (
    FAMILY,
    Heard,
    kept_after_looks,
    rehearsal_of,
    run_of,
    short_plan,
    whole_devices_of,
)
from bench.test_trouble import Cable, Supply, failed
from needlewright.bench import sweep_course, sweep_take, sweeping
from needlewright.bench.devices import Devices, Wish, Wishes, no_bus
from needlewright.bench.keeping import begin, outcome_path, state_path
from needlewright.bench.outcome import Outcome
from needlewright.bench.run import BenchRun
from needlewright.bench.steps import step_words, with_checks
from needlewright.bench.sweep_course import courses, eased
from needlewright.composing.bench_sweep import looked_through, read_document
from needlewright.errors import CameraError, RunError
from needlewright.families.lamps import LampFrameFile, lamp_groups
from needlewright.families.signal_file import SupplyFile
from needlewright.readings.run_csv import read_run
from needlewright.rehearsal.cluster.rehearsal import Rehearsal
from needlewright.signals.instruments import NO_INSTRUMENTS
from needlewright.signals.model import Command
from needlewright.signals.settings import SupplySettings
from needlewright.signals.transports.by_hand import HandTransport
from needlewright.signals.transports.supply import SupplyTransport
from needlewright.signals.transports.together import TransportsTogether

LOOKS = 1
GROUPS = ["backlight", "tell-tales", "indicators"]


@pytest.fixture
def quick(monkeypatch) -> None:
    """A sweep of a second: for what does not look at the needles' way."""
    monkeypatch.setattr(sweep_course, "LEAST_WAY_S", 0.2)
    monkeypatch.setattr(sweep_course, "STEP_DEG", 1000.0)
    monkeypatch.setattr(sweep_take, "MOST_WAY_S", 0.2)  # no needle is waited for
    for name in ("BEGIN_S", "TOP_S", "END_S", "REST_S"):
        monkeypatch.setattr(sweep_take, name, 0.2)


def outcome_of(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(outcome_path(folder / "as-found.csv").read_text("utf-8"))
    return found


def files(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_a_run_ends_with_the_sweep_and_then_the_lamps_on_a_dark_bench():
    plan = with_checks(short_plan(points=1, key_ons=(0,)), FAMILY)
    assert [(step.number, step.kind, step.group) for step in plan.steps] == [
        (0, "look", ""),
        (1, "look", ""),
        (2, "sweep", ""),
        *((3 + n, "lamps", group) for n, group in enumerate(GROUPS)),
    ]
    assert step_words(plan.steps[2], FAMILY) == "all dials to full scale and back"
    assert step_words(plan.steps[3], FAMILY) == "lamps: backlight"
    assert with_checks(short_plan(), FAMILY, sweep=False, lamps=False) == short_plan()


def test_a_needle_is_told_an_even_way_that_slows_at_its_end():
    shares = np.linspace(0.0, 1.0, 201)
    way = np.array([eased(float(share)) for share in shares])
    assert (way[0], way[-1]) == (0.0, 1.0)
    rates = np.diff(way) * 200
    assert rates[16:140] == pytest.approx(1 / 0.81)
    assert np.all(np.diff(rates[:16]) > 0)
    assert np.all(np.diff(rates[140:]) < 0)
    assert rates[-1] == pytest.approx(0.0, abs=0.01)


def test_what_a_person_puts_on_is_told_its_ends_only():
    hand = HandTransport(lambda lines: None, lambda: True)
    together = TransportsTogether([hand])
    assert not any(
        one.is_even for one in courses(FAMILY, ("engine", "speed"), together, NO_INSTRUMENTS)
    )
    with rehearsal_of() as rehearsal:
        engine, speed = courses(FAMILY, ("engine", "speed"), rehearsal.transport, NO_INSTRUMENTS)
    assert engine.is_even
    assert engine.command(1.0, NO_INSTRUMENTS).stimulus.period_s == 0.02  # type: ignore[union-attr]
    assert engine.angle_deg(engine.command(0.5, NO_INSTRUMENTS)) == pytest.approx(0.98, abs=0.05)
    # the programme reads high, so full scale comes before the last mark is told
    dial = FAMILY.dial("speed")
    assert dial is not None
    assert speed.values[-1] < dial.scale.values[-1]
    assert dial.programme.shown_at(speed.values[-1]) == pytest.approx(220.0, abs=1.5)


def test_a_whole_sweep_is_filmed_followed_and_held_against_what_was_told(
    tmp_path: Path, monkeypatch
):
    monkeypatch.setattr(sweep_course, "STEP_DEG", 4.5)
    monkeypatch.setattr(sweep_course, "LEAST_WAY_S", 2.0)
    kept = kept_after_looks(tmp_path, lamps=False)
    seen = []
    with rehearsal_of("engine:backlash=1.6") as rehearsal, rehearsal.transport:
        run = BenchRun(
            kept,
            whole_devices_of(rehearsal),
            listeners=replace(Heard().listeners, sweep=seen.append),
            look_through=looked_through(FAMILY),
        )
        ended = run.go()
        assert (rehearsal.cluster.key, dict(rehearsal.transport.on_wires)) == (False, {})
    assert (ended.state, ended.done, ended.of) == ("finished", 2, 2)
    sweep = ended.outcome.sweep
    assert sweep is not None
    assert seen == [sweep]
    assert (sweep.dials, sweep.at_once) == (("engine", "speed"), ())
    assert sweep.found is not None
    (event,) = sweep.found.events
    assert (event.dial, event.fault) == ("engine", "backlash")
    assert event.size_deg == pytest.approx(1.6, abs=0.3)
    document = read_document(tmp_path, sweep)
    assert document is not None
    assert len(document["frames"]) == sweep.frames
    assert document["summary"]["speed"]["swept_deg"] == pytest.approx(228, abs=2)
    with av.open(str(tmp_path / "as-found-sweep.mp4")) as video:
        assert video.streams.video[0].frames == sweep.frames
    # coils turn through all phases: 1.5 times V^2 / R at the most, 3/4 at rest
    (rest,) = ended.outcome.rest_current
    assert (rest.key_ons, rest.volts) == (2, 13.5)
    assert sweep.volts == 13.5
    assert sweep.mean_a is not None
    assert sweep.peak_a is not None
    assert rest.amperes < sweep.mean_a < sweep.peak_a < rest.amperes + 2 * 0.75 * 5 / 280
    assert outcome_of(tmp_path)["sweep"]["found"]["events"][0]["fault"] == "backlash"
    assert files(tmp_path) == {
        "as-found.csv",
        "as-found.outcome.json",
        "as-found-sweep.json",
        "as-found-sweep.mp4",
    }


def brightest(path: Path) -> float:
    picture = cv2.imread(str(path))
    assert picture is not None
    return float(np.percentile(picture, 99.5))


def test_each_group_of_lamps_has_its_photo_on_a_dark_bench(tmp_path: Path):
    photos = []
    with rehearsal_of() as rehearsal, rehearsal.transport:
        run = BenchRun(
            kept_after_looks(tmp_path, sweep=False),
            whole_devices_of(rehearsal),
            listeners=replace(Heard().listeners, lamp=photos.append),
        )
        ended = run.go()
        light = rehearsal.camera.frame()[0]
        assert rehearsal.cluster.lit() == {}
    assert ended.state == "finished"
    assert tuple(photos) == ended.outcome.lamps
    assert [(p.group, p.lit, p.not_lit) for p in photos] == [
        ("backlight", ("behind-engine", "behind-speed", "behind-small"), ()),
        ("tell-tales", ("stop", "warning"), ()),
        ("indicators", ("turn", "ready"), ()),
    ]
    names = [f"as-found-photos/00{1 + n}-lamps-{group}.png" for n, group in enumerate(GROUPS)]
    assert [p.photo for p in photos] == names
    (rest,) = ended.outcome.rest_current
    for photo, count in zip(photos, (3, 2, 2), strict=True):
        assert photo.amperes == pytest.approx(rest.amperes + count * 1.2 / 13.5, abs=0.002)
    dark = cv2.imread(str(tmp_path / names[1]))
    assert dark is not None
    assert np.median(dark) < 12 < np.median(light)
    assert np.sum(dark[..., 2] > 150) > 10  # what is red of stop and warning
    assert brightest(tmp_path / names[0]) > 90


def test_lamps_nobody_can_switch_are_named_and_what_frames_light_is_lit(tmp_path: Path):
    with rehearsal_of() as rehearsal, rehearsal.transport:
        devices = replace(whole_devices_of(rehearsal), light=lambda group, on: False)
        ended = run_of(kept_after_looks(tmp_path, sweep=False), devices).go()
    assert [(p.lit, p.not_lit) for p in ended.outcome.lamps] == [
        ((), ("behind-engine", "behind-speed", "behind-small")),
        (("stop", "warning"), ()),
        ((), ("turn", "ready")),
    ]


def test_a_lamp_that_a_frame_keeps_on_is_off_in_the_next_photo(tmp_path: Path, monkeypatch):
    frame = LampFrameFile(kind="can_frame", frame="18D0FF00#C8FF", period_ms=100)
    lamps = (replace(FAMILY.lamps[0], signal=frame),)
    family = replace(FAMILY, lamps=lamps, tell_tales=FAMILY.tell_tales[:1])
    monkeypatch.setattr("bench.benches.FAMILY", family)
    lit = []
    with rehearsal_of() as rehearsal, rehearsal.transport:
        devices = whole_devices_of(rehearsal)
        frame_of = rehearsal.camera.frame

        def seen():
            lit.append(dict(rehearsal.cluster.lit()))
            return frame_of()

        rehearsal.camera.frame = seen  # type: ignore[method-assign]
        ended = run_of(kept_after_looks(tmp_path, sweep=False), devices).go()
    assert ended.state == "finished"
    assert lit == [{"behind-engine": 1.0}, {"stop": 1.0}]


@contextmanager
def interrupted(
    at: int, happens: Callable[[Rehearsal], None], **options: object
) -> Iterator[tuple[Rehearsal, Devices]]:
    """A bench where something happens at a frame of the sweep's camera, and of the other's."""
    with rehearsal_of(**options) as rehearsal:  # type: ignore[arg-type]
        devices = whole_devices_of(rehearsal)
        assert devices.film is not None
        for camera in (devices.film, rehearsal.camera):
            frame, count = camera.frame, 0

            def seen(frame=frame):
                nonlocal count
                count += 1
                if count == at:
                    happens(rehearsal)
                return frame()

            camera.frame = seen  # type: ignore[method-assign]
        yield rehearsal, devices


def test_a_sweep_that_is_stopped_leaves_no_half_video_and_is_taken_anew(tmp_path: Path, quick):
    wishes = Wishes()
    with interrupted(9, lambda bench: wishes.want("stop")) as (rehearsal, devices):
        with rehearsal.transport:
            kept = kept_after_looks(tmp_path, lamps=False)
            ended = run_of(kept, devices, wishes=wishes).go()
        assert (ended.state, ended.done, ended.of) == ("stopped", LOOKS, LOOKS + 1)
        assert not [name for name in files(tmp_path) if "sweep" in name]
    with rehearsal_of() as rehearsal, rehearsal.transport:
        plan = with_checks(short_plan(points=1), FAMILY, lamps=False)
        again = begin(tmp_path / "as-found.csv", FAMILY, plan)
        assert again.state.done == LOOKS
        ended = run_of(again, whole_devices_of(rehearsal)).go()
    assert ended.state == "finished"
    assert ended.outcome.sweep is not None
    assert ended.outcome.sweep.found is None
    assert [one.key_ons for one in ended.outcome.rest_current] == [2, 3]
    assert "as-found-sweep.mp4" in files(tmp_path)
    assert len(read_run(tmp_path / "as-found.csv").rows) == 2


def test_a_needle_that_is_turned_slower_than_it_is_told_is_given_more_time(
    tmp_path: Path, quick, monkeypatch
):
    """The rehearsed firmware of a dial that slips turns by 60 degrees a second at the most."""
    monkeypatch.setattr(sweep_course, "LEAST_WAY_S", 1.6)
    monkeypatch.setattr(sweeping, "SLOWER", 2.5)
    monkeypatch.setattr(sweep_take, "MOST_WAY_S", 20.0)
    with rehearsal_of("speed:lost_steps=-2@60") as rehearsal, rehearsal.transport:
        kept = kept_after_looks(tmp_path, lamps=False)
        ended = run_of(kept, whole_devices_of(rehearsal)).go()
    assert ended.state == "finished"
    assert ended.outcome.sweep is not None
    # twice the way of 4 s, and a second before, between and after
    assert ended.outcome.sweep.seconds == pytest.approx(2 * 4.0 + 1.0, abs=0.5)


def test_dials_put_on_by_hand_are_filmed_while_the_person_is_at_it(tmp_path: Path, quick):
    put_on: list[tuple[str, float]] = []

    class Hand(HandTransport):
        """A person with an adapter of another program, at this cluster."""

        def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
            put_on.extend((command.dial, command.value) for command in new)
            rehearsal.cluster.wire(new)

    with rehearsal_of() as rehearsal:
        hand = Hand(lambda lines: None, lambda: True)
        devices = replace(whole_devices_of(rehearsal, TransportsTogether([hand])), bus=no_bus)
        with devices.transport:
            ended = run_of(kept_after_looks(tmp_path, lamps=False), devices).go()
    assert ended.state == "finished"
    assert ended.outcome.sweep is not None
    assert ended.outcome.sweep.at_once == ("engine", "speed")
    assert put_on[:2] == [("engine", 0.0), ("speed", 0.0)]
    assert [dial for dial, _ in put_on] == ["engine", "speed"] * 3
    assert put_on[2][1] == pytest.approx(8.0)
    assert put_on[4:] == put_on[:2]


@pytest.mark.parametrize(
    ("wish", "state", "has"), [("skip", "finished", False), ("pause", "finished", True)]
)
def test_a_person_skips_a_sweep_or_pauses_it(tmp_path: Path, quick, wish: Wish, state, has: bool):
    wishes = Wishes()
    with interrupted(9, lambda bench: wishes.want(wish)) as (rehearsal, devices):
        waited = devices.wait

        def wait(seconds: float) -> None:
            waited(seconds)
            if wishes._now == "pause":
                wishes.want("go_on")

        with rehearsal.transport:
            kept = kept_after_looks(tmp_path, lamps=False)
            ended = run_of(kept, replace(devices, wait=wait), wishes=wishes).go()
    assert (ended.state, ended.done) == (state, LOOKS + 1)
    assert (ended.outcome.sweep is not None) == has
    assert ("as-found-sweep.mp4" in files(tmp_path)) == has


def gone(rehearsal: Rehearsal) -> None:
    raise CameraError("camera 0: sends no pictures any more")


def test_a_camera_that_goes_in_the_sweep_ends_the_run(tmp_path: Path, quick):
    with interrupted(9, gone) as (rehearsal, devices), rehearsal.transport:
        ended = run_of(kept_after_looks(tmp_path), devices).go()
    failed(ended, "camera 0: sends no pictures any more", LOOKS)
    assert not [name for name in files(tmp_path) if "sweep" in name]
    assert state_path(tmp_path / "as-found.csv").is_file()


def test_a_camera_that_goes_at_the_lamps_keeps_the_photos_before(tmp_path: Path):
    with interrupted(2, gone) as (rehearsal, devices), rehearsal.transport:
        kept = kept_after_looks(tmp_path, sweep=False)
        ended = run_of(kept, devices).go()
        assert not rehearsal._bench.dark
    failed(ended, "camera 0: sends no pictures any more", LOOKS + 1)
    assert [photo["group"] for photo in outcome_of(tmp_path)["lamps"]] == ["backlight"]
    with rehearsal_of() as again, again.transport:
        plan = with_checks(short_plan(points=1), FAMILY, sweep=False)
        kept = begin(tmp_path / "as-found.csv", FAMILY, plan)
        heard = Heard()
        ended = run_of(kept, whole_devices_of(again), heard).go()
    assert [now.words for now in heard.progress] == ["lamps: tell-tales", "lamps: indicators"]
    assert (heard.progress[1].left_s or 0.0) > 0.0
    assert [photo.group for photo in ended.outcome.lamps] == GROUPS


@pytest.mark.parametrize("checks", [{"lamps": False}, {"sweep": False}])
def test_a_bus_that_is_unplugged_in_the_checks_ends_the_run(tmp_path: Path, quick, checks):
    cable = Cable()
    # the tell-tales are lit by a frame
    at = 9 if checks == {"lamps": False} else 1
    pull = interrupted(at, lambda bench: setattr(cable, "pulled", True), opened_by=cable.open)
    with pull as (rehearsal, devices), rehearsal.transport:
        ended = run_of(kept_after_looks(tmp_path, **checks), devices).go()
    assert ended.state == "failed"
    assert "the bus has been down for" in ended.words
    assert ended.done in (LOOKS, LOOKS + 1)
    assert "as-found-sweep.mp4" not in files(tmp_path)


def test_a_bus_that_drops_in_a_sweep_and_comes_back_is_swept_anew(tmp_path: Path, quick):
    cable = Cable()
    frames: list[bool] = []

    def happens(bench: Rehearsal) -> None:
        cable.pulled = True

    with interrupted(9, happens, opened_by=cable.open) as (rehearsal, devices):
        waited = devices.wait

        def wait(seconds: float) -> None:
            frames.append(cable.pulled)
            waited(seconds)
            cable.pulled = False

        with rehearsal.transport:
            kept = kept_after_looks(tmp_path, lamps=False)
            ended = run_of(kept, replace(devices, wait=wait)).go()
        assert rehearsal.bus.status.drops == 1
    assert ended.state == "finished"
    assert frames.count(True) == 1
    assert ended.outcome.sweep is not None


def test_a_cluster_that_hears_nothing_in_the_sweep_is_no_finding(tmp_path: Path, quick):
    cable = Cable()
    cut = interrupted(3, lambda bench: setattr(cable, "dead", True), opened_by=cable.open)
    with cut as (rehearsal, devices), rehearsal.transport:
        ended = run_of(kept_after_looks(tmp_path, lamps=False), devices).go()
    failed(ended, "engine, speed fell to rest although told otherwise (in the sweep, on the", LOOKS)
    assert "as-found-sweep.mp4" not in files(tmp_path)


@pytest.mark.parametrize(
    ("checks", "at", "done"), [({"lamps": False}, 9, LOOKS), ({"sweep": False}, 1, LOOKS + 1)]
)
def test_a_supply_over_its_current_in_the_checks_is_off(tmp_path: Path, quick, checks, at, done):
    instrument = Supply()
    supply = SupplyTransport(
        SupplySettings(resource="invented"), SupplyFile(), lambda settings: instrument
    )
    with interrupted(at, lambda bench: setattr(instrument, "amperes", 2.6)) as (rehearsal, devices):
        parts = TransportsTogether([supply, *rehearsal.transport._parts])

        def key(on: bool) -> None:
            if on:
                parts.apply(supply.power())
            rehearsal.key(on)

        fed = replace(devices, transport=parts, key=key, supply_a=lambda: supply.reading().amperes)
        with parts:
            ended = run_of(kept_after_looks(tmp_path, **checks), fed).go()
    failed(ended, "the cluster draws 2.6 A, above the family's limit of 2 A", done)
    assert not instrument.on
    assert outcome_of(tmp_path)["rest_current"][0]["amperes"] == 0.4


def test_a_needle_that_hunts_in_the_sweep_is_filmed_as_it_is(tmp_path: Path, quick):
    with rehearsal_of() as rehearsal:
        whole = rehearsal.cluster.angles_deg
        rehearsal.cluster.angles_deg = lambda: {  # type: ignore[method-assign]
            n: a + 4.0 * np.sin(5.0 * rehearsal.cluster.now_s) for n, a in whole().items()
        }
        with rehearsal.transport:
            kept = kept_after_looks(tmp_path, lamps=False)
            ended = run_of(kept, whole_devices_of(rehearsal)).go()
    assert ended.state == "finished"
    assert ended.outcome.sweep is not None


def test_a_video_nobody_can_follow_ends_no_run(tmp_path: Path, quick):
    with rehearsal_of() as rehearsal, rehearsal.transport:
        devices = whole_devices_of(rehearsal)
        assert devices.film is not None
        whole = devices.film.frame
        blank = np.full((64, 96, 3), 90, np.uint8)
        devices.film.frame = lambda: (blank, whole()[1])  # type: ignore[method-assign]
        run = BenchRun(
            kept_after_looks(tmp_path, lamps=False), devices, look_through=looked_through(FAMILY)
        )
        ended = run.go()
    assert ended.state == "finished"
    assert ended.outcome.sweep is not None
    assert ended.outcome.sweep.found is not None
    assert "the face of family invented-estate is in none of its" in (
        ended.outcome.sweep.found.problem or ""
    )


def test_what_follows_the_looks_may_be_left_out_or_wanted_after_all_until_it_is_done(
    tmp_path: Path,
):
    path, looks = tmp_path / "as-found.csv", short_plan(points=1)
    kept = kept_after_looks(tmp_path)
    assert [s.kind for s in begin(path, FAMILY, looks).plan.steps] == ["look"]
    assert begin(path, FAMILY, with_checks(looks, FAMILY)).plan == kept.plan
    kept.keep_check(None, LOOKS + 1, 2)
    with pytest.raises(RunError, match="has done a sweep or lamps that it is now told to leave"):
        begin(path, FAMILY, with_checks(looks, FAMILY, sweep=False))


def test_a_state_of_before_there_were_sweeps_is_gone_on_with(tmp_path: Path):
    path, looks = tmp_path / "as-found.csv", short_plan(points=1)
    kept_after_looks(tmp_path)
    old = json.loads(state_path(path).read_text("utf-8"))
    del old["outcome"]
    old["steps"] = [
        {k: v for k, v in step.items() if k not in ("kind", "group")}
        for step in old["steps"]
        if step["kind"] == "look"
    ]
    state_path(path).write_text(json.dumps(old), encoding="utf-8")
    kept = begin(path, FAMILY, with_checks(looks, FAMILY))
    assert (kept.state.done, len(kept.plan.steps), kept.state.outcome) == (LOOKS, 5, Outcome())


def test_a_group_that_is_no_more_is_said(tmp_path: Path):
    kept = kept_after_looks(tmp_path, sweep=False)
    kept.family = replace(FAMILY, lamps=(), tell_tales=())
    with rehearsal_of() as rehearsal, rehearsal.transport:
        ended = run_of(kept, whole_devices_of(rehearsal)).go()
    failed(ended, "has no lamps of the group 'backlight' any more", LOOKS)
    assert lamp_groups(()) == ()
