"""A simulated cluster on a real virtual bus: what its needles do, with no picture between."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import av
import can
import numpy as np
import pytest

import needlewright
from needlewright.errors import PictureError, TransportError, UsageError
from needlewright.families.folder import load_family
from needlewright.rehearsal.cluster.camera import write_video
from needlewright.rehearsal.cluster.cluster import invented_senders
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.wiring import signals_of

FAMILY = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")
PLAY_DEG = 0.15
"""A sound needle may stand this far off: half its play, half a microstep, and friction."""


@contextmanager
def rehearsing(*faults: str, seed: int = 0) -> Iterator[Rehearsal]:
    unit = Unit(tuple(parse_fault(text, FAMILY) for text in faults), seed=seed)
    rehearsal = Rehearsal(FAMILY, unit, size_px=(320, 213))
    try:
        with rehearsal.transport:
            rehearsal.key(on=True)
            rehearsal.pass_time(5.0)
            yield rehearsal
    finally:
        rehearsal.close()


def tell(rehearsal: Rehearsal, share: float, wait_s: float = 4.0) -> Mapping[str, float]:
    """Tell every dial a share of its scale; how far each needle stands from its programme."""
    signals = signals_of(rehearsal.family)
    commands = [
        signals[d.id].command(d.scale.values[0] + share * d.scale.span)
        for d in rehearsal.family.dials
    ]
    rehearsal.transport.apply(*commands)
    rehearsal.pass_time(wait_s)
    seen = rehearsal.cluster.angles_deg()
    told = {c.dial: c.value for c in commands}
    return {d.id: seen[d.id] - d.programme_angle_deg(told[d.id]) for d in FAMILY.dials}


def off_rest(rehearsal: Rehearsal) -> list[float]:
    seen = rehearsal.cluster.angles_deg()
    return [abs(seen[d.id] - d.rest_angle_deg) for d in FAMILY.dials]


def test_a_sound_cluster_homes_follows_its_programme_and_falls_to_rest_when_frames_stop():
    with rehearsing() as rehearsal:
        assert max(off_rest(rehearsal)) < PLAY_DEG
        for share in (0.3, 0.9, 0.5):
            assert max(map(abs, tell(rehearsal, share).values())) < PLAY_DEG
        assert rehearsal.bus.status.sent > 12 * 50
        rehearsal.transport.stop()
        rehearsal.pass_time(0.9)
        assert min(off_rest(rehearsal)) > 20, "a frame or two missed is not yet the end"
        rehearsal.pass_time(9.0)
        assert max(off_rest(rehearsal)) < PLAY_DEG


def test_frames_say_nothing_to_a_cluster_whose_key_is_off():
    with rehearsing() as rehearsal:
        rehearsal.key(on=False)
        rehearsal.pass_time(3.0)
        tell(rehearsal, 0.6)
        assert max(off_rest(rehearsal)) < 0.6


@pytest.mark.parametrize(
    ("fault", "expected", "within"),
    [
        ("engine:needle_offset=3.5", 3.5, PLAY_DEG),
        ("temp:needle_offset=-2", -2.0, PLAY_DEG),
        ("speed:stalled=-20", None, PLAY_DEG),
        ("speed:lost_steps=-2", -4.0, PLAY_DEG),
        ("engine:wrong_face=3", 3.0 * np.sin(0.7 * np.pi), PLAY_DEG),
    ],
)
def test_a_fault_shows_in_its_own_size(fault: str, expected: float | None, within: float):
    dial = fault.partition(":")[0]
    with rehearsing(fault) as rehearsal:
        tell(rehearsal, 0.3)
        off = tell(rehearsal, 0.7, 6.0)
        if expected is None:
            assert rehearsal.cluster.angles_deg()[dial] == pytest.approx(-20.0, abs=within)
        else:
            assert off[dial] == pytest.approx(expected, abs=within)
        others = [abs(one) for name, one in off.items() if name != dial]
        assert max(others) < PLAY_DEG


def test_a_scale_factor_is_the_ratio_of_what_is_shown_to_what_is_programmed():
    dial = FAMILY.dial("speed")
    assert dial is not None
    with rehearsing("speed:scale_factor=0.94") as rehearsal:
        tell(rehearsal, 0.75)
        told = rehearsal.cluster.dials["speed"].told
        assert told is not None
        shown = dial.scale.value_at(rehearsal.cluster.angles_deg()["speed"])
        assert shown / dial.programme.shown_at(told) == pytest.approx(0.94, abs=0.002)


def test_backlash_is_the_difference_between_rising_and_falling():
    with rehearsing("engine:backlash=1.6") as rehearsal:
        tell(rehearsal, 0.2)
        up = tell(rehearsal, 0.5)["engine"]
        tell(rehearsal, 0.8)
        down = tell(rehearsal, 0.5)["engine"]
        assert down - up == pytest.approx(1.6, abs=PLAY_DEG)


def test_an_offset_against_a_pin_on_the_face_shows_what_whole_cycles_leave_of_it():
    fuel = FAMILY.dial("fuel")
    assert fuel is not None
    assert fuel.rest_pin
    with rehearsing("fuel:needle_offset=4.6") as rehearsal:
        assert tell(rehearsal, 0.5, 7.0)["fuel"] == pytest.approx(0.6, abs=PLAY_DEG)


def test_scatter_is_new_at_each_command_and_the_same_for_the_same_seed():
    def scattered(seed: int) -> list[float]:
        with rehearsing("temp:erratic=2", seed=seed) as rehearsal:
            return [round(tell(rehearsal, 0.3 + i / 20, 1.6)["temp"], 6) for i in range(4)]

    first, again, other = scattered(3), scattered(3), scattered(4)
    assert first == again
    assert first != other
    assert np.std(first) > 0.3


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("speed", "expected DIAL:FAULT=SIZE[@VALUE]"),
        ("turbo:backlash=1", "there is no dial 'turbo' in 'invented-estate': engine, speed"),
        ("speed:lamp_out=1", "'lamp_out' is no fault of a dial"),
        ("speed:backlash=much", "'much' is no number"),
        ("speed:backlash=nan", "'nan' is no number"),
        ("speed:backlash=-1", "the size of 'backlash' is above 0 deg"),
        ("speed:backlash=1e9", "is more than the"),
        ("speed:sound=1", "a sound dial has no size"),
        ("speed:lost_steps=2", "falls back, by a whole number of cycles below 0"),
        ("speed:lost_steps=-1.5", "a whole number of cycles"),
        ("speed:dragging=0.4@400", "it cannot begin at 400 km/h; the marks run from 0 to 220"),
        ("speed:needle_offset=2@50", "'needle_offset' is everywhere"),
        ("speed:scale_factor=0", "a ratio of shown to programmed is between 0.1 and 10"),
    ],
)
def test_a_fault_that_cannot_be_is_refused_in_one_sentence(text: str, words: str):
    with pytest.raises(UsageError) as refused:
        parse_fault(text, FAMILY)
    assert words in str(refused.value)


def test_a_size_no_movement_can_have_names_the_fault():
    with pytest.raises(UsageError, match=r"--fault speed:dragging=5: .*loses steps"):
        Rehearsal(FAMILY, Unit((parse_fault("speed:dragging=5", FAMILY),)))
    with pytest.raises(UsageError, match="rehearse one at a time"):
        Rehearsal(
            FAMILY,
            Unit(tuple(parse_fault(f"speed:blocked={at}", FAMILY) for at in (40, 60))),
        )


def test_a_dial_without_a_signal_gets_an_invented_sender():
    dials = tuple(replace(d, signal=None) if d.id == "fuel" else d for d in FAMILY.dials)
    bare = replace(FAMILY, dials=dials)
    assert [d.id for d in invented_senders(bare)] == ["fuel"]
    rehearsal = Rehearsal(bare, size_px=(320, 213))
    with rehearsal.transport:
        rehearsal.key(on=True)
        rehearsal.pass_time(5.0)
        assert abs(tell(rehearsal, 0.5)["fuel"]) < PLAY_DEG
    rehearsal.close()


def test_a_bus_unplugged_ends_in_a_sentence_after_the_needles_fell_to_rest():
    unplugged = False

    class Adapter:
        def __init__(self, bus: can.BusABC) -> None:
            self.bus = bus

        def send(self, message: can.Message) -> None:
            if unplugged:
                raise can.CanOperationError("the cable is gone")
            self.bus.send(message)

        def recv(self, wait_s: float) -> can.Message | None:
            return self.bus.recv(wait_s)

        def shutdown(self) -> None:
            self.bus.shutdown()

    def opened(settings: BusSettings) -> can.BusABC:
        if unplugged:
            raise TransportError("adapter virtual: cannot be opened")
        return Adapter(open_adapter(settings))  # type: ignore[return-value]

    rehearsal = Rehearsal(FAMILY, size_px=(320, 213), opened_by=opened)
    with rehearsal.transport:
        rehearsal.key(on=True)
        rehearsal.pass_time(5.0)
        tell(rehearsal, 0.5)
        unplugged = True
        rehearsal.pass_time(4.0)
        rehearsal.transport.check()
        rehearsal.pass_time(4.0)
        with pytest.raises(TransportError, match="the bus has been down for 8 s"):
            rehearsal.transport.check()
        assert max(off_rest(rehearsal)) < PLAY_DEG
    rehearsal.close()


def test_the_camera_s_frames_are_a_video_file(tmp_path: Path):
    with rehearsing() as rehearsal:
        frames = (rehearsal.camera.frame() for _ in range(8))
        assert write_video(tmp_path / "sweep.mp4", frames) == 8
    with av.open(str(tmp_path / "sweep.mp4")) as container:
        times = [frame.time for frame in container.decode(video=0)]
    assert np.diff(times) == pytest.approx([0.1] * 7)
    assert [path.name for path in tmp_path.iterdir()] == ["sweep.mp4"]


def test_a_video_that_cannot_be_written_leaves_nothing(tmp_path: Path):
    picture = np.zeros((64, 64, 3), np.uint8)
    with pytest.raises(PictureError, match="the video cannot be written"):
        write_video(tmp_path / "sweep.nothing", [(picture, 0.0)])
    with pytest.raises(PictureError, match="a folder that is there"):
        write_video(tmp_path / "away" / "sweep.mp4", [(picture, 0.0)])
    assert list(tmp_path.iterdir()) == []
