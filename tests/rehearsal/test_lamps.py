"""Lamps of a simulated cluster: what switches them, what a camera sees of them, what they draw."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import needlewright
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.families.lamps import LampFrameFile
from needlewright.families.model import Family
from needlewright.rehearsal.camera import project
from needlewright.rehearsal.cluster.camera import view_of
from needlewright.rehearsal.cluster.consumption import ELECTRONICS_A
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit
from needlewright.rehearsal.lamp_light import LampLight
from needlewright.rehearsal.movement.figures import STEPPER
from needlewright.rehearsal.sheet import sheet_of
from needlewright.signals.dm1 import lamp_command
from needlewright.signals.model import Command, Frame

FAMILY = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")
BACKLIGHT = [lamp.id for lamp in FAMILY.lamps]
BULB_A = 1.2 / 13.5


@contextmanager
def powered(*faults: str, family: Family = FAMILY) -> Iterator[Rehearsal]:
    unit = Unit(tuple(parse_fault(text, family) for text in faults))
    rehearsal = Rehearsal(family, unit, size_px=(640, 426))
    try:
        with rehearsal.transport:
            rehearsal.key(True)
            rehearsal.pass_time(4.0)
            yield rehearsal
    finally:
        rehearsal.close()


def brightness(rehearsal: Rehearsal, at_mm: tuple[float, float], half: int) -> np.ndarray:
    """Mean of the brightest tenth of the pixels about a point of the face, blue, green, red."""
    picture = rehearsal.camera.frame()[0]
    view = rehearsal.camera._bench.view
    x, y = project(view.camera, view.pose, np.array([[*at_mm, 0.0]]))[0]
    near = picture[round(y) - half : round(y) + half, round(x) - half : round(x) + half]
    order = np.argsort(near.sum(axis=2).ravel())[-max(near.shape[0] * near.shape[1] // 10, 1) :]
    return near.reshape(-1, 3)[order].mean(axis=0)


def test_a_lamp_that_is_out_leaves_its_part_of_the_face_dark():
    sound, dark = {}, {}
    for faults, seen in (((), sound), (("behind-engine:lamp_out",), dark)):
        with powered(*faults) as rehearsal:
            rehearsal.darken(True)
            rehearsal.cluster.lamps.switch(BACKLIGHT, True)
            for dial in FAMILY.dials[:2]:
                seen[dial.id] = brightness(rehearsal, dial.centre_mm, 60).mean()
    assert dark["engine"] < 0.55 * sound["engine"]
    assert dark["speed"] > 0.9 * sound["speed"]


def test_a_frame_lights_its_tell_tales_and_no_others_until_it_stops():
    stop, warning, *_ = FAMILY.tell_tales
    with powered("warning:tell_tale_dead") as rehearsal:
        rehearsal.darken(True)
        before = brightness(rehearsal, stop.centre_mm, 4)
        told = lamp_command({"red_stop": "on", "amber_warning": "on"})
        rehearsal.transport.apply(Command("tell-tales", "", 1.0, 1.0, 0.0, told))
        rehearsal.pass_time(1.2)
        assert rehearsal.cluster.lit() == {"stop": 1.0, "warning": 0.0}
        blue, green, red = brightness(rehearsal, stop.centre_mm, 4)
        assert red > before[2] + 150
        assert max(blue, green) < red / 2
        assert brightness(rehearsal, warning.centre_mm, 4).max() < 60
        rehearsal.transport.stop()
        rehearsal.pass_time(5.2)
        assert rehearsal.cluster.lit() == {}


def test_a_lamp_may_be_switched_by_a_frame_of_its_own():
    frame = LampFrameFile(kind="can_frame", frame="18D0FF00#C8FF", period_ms=100)
    family = replace(FAMILY, lamps=(replace(FAMILY.lamps[0], signal=frame),), tell_tales=())
    with powered(family=family) as rehearsal:
        lamps, now_s = rehearsal.cluster.lamps, rehearsal.cluster.now_s
        lamps.hear(Frame.parse("18D0FF00#00FF"), now_s)
        assert lamps.shares(now_s) == {}
        lamps.hear(Frame.parse("18D0FF00#C8FF"), now_s)
        assert lamps.shares(now_s + 0.4) == {"behind-engine": 1.0}
        assert lamps.shares(now_s + 0.6) == {}


def test_nothing_is_lit_or_drawn_with_the_key_off():
    with powered() as rehearsal:
        rehearsal.cluster.lamps.switch(BACKLIGHT, True)
        rehearsal.key(False)
        rehearsal.pass_time(3.0)
        assert (rehearsal.supply_v(), rehearsal.supply_a()) == (0.0, 0.0)
        assert rehearsal.cluster.lit() == {}


def test_the_supply_feeds_electronics_coils_and_lamps():
    """A field that turns in two coils 60 degrees apart, standing at angle a, takes
    V^2 / R (sin^2(60 - a) + sin^2 a) of a coil's own supply: derived, no source. A lamp of
    1.2 W takes that over its voltage."""
    with powered() as rehearsal:
        at_rest_a = rehearsal.supply_a()
        rehearsal.cluster.lamps.switch(BACKLIGHT, True)
        with_lamps_a = rehearsal.supply_a()
    assert with_lamps_a - at_rest_a == pytest.approx(3 * BULB_A, abs=0.001)
    # rest is a whole cycle above the stop, where the field stands at 0: sin^2 60 = 3/4
    coil_a = STEPPER.supply_v / STEPPER.coil_ohm * 0.75
    assert at_rest_a - ELECTRONICS_A == pytest.approx(len(FAMILY.dials) * coil_a, abs=0.001)


def test_current_shows_a_dead_coil_and_no_block():
    drawn = {}
    for faults in ((), ("speed:stalled=20",), ("speed:blocked=0",)):
        with powered(*faults) as rehearsal:
            rehearsal.pass_time(0.5)
            drawn[faults] = rehearsal.supply_a()
    sound_a, dead_a, blocked_a = drawn.values()
    assert sound_a - dead_a == pytest.approx(STEPPER.supply_v / STEPPER.coil_ohm * 0.75, abs=0.001)
    assert blocked_a == pytest.approx(sound_a, abs=0.001)


def test_an_aged_lamp_draws_a_little_less_and_a_dead_one_nothing():
    """Source: lamps by their voltage, Standard Handbook for Electrical Engineers, 11th ed., 22-8,
    seen second-hand: light goes as v^3.4, current as v^0.55."""
    drawn = {}
    for faults in ((), ("behind-speed:lamp_dim=0.3",), ("behind-speed:lamp_out",)):
        with powered(*faults) as rehearsal:
            before_a = rehearsal.supply_a()
            rehearsal.cluster.lamps.switch(BACKLIGHT, True)
            drawn[faults] = rehearsal.supply_a() - before_a
    sound_a, dim_a, out_a = drawn.values()
    assert sound_a - dim_a == pytest.approx(BULB_A * (1 - 0.3 ** (0.55 / 3.4)), abs=0.0015)
    assert sound_a - out_a == pytest.approx(BULB_A, abs=0.0015)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("behind-roof:lamp_out", "there is no lamp 'behind-roof' in 'invented-estate': behind-e"),
        ("behind-speed:tell_tale_dead", "there is no tell-tale 'behind-speed'"),
        ("behind-speed:lamp_out=1", "'lamp_out' has no size"),
        ("behind-speed:lamp_dim=1.5", "between 0 and 1"),
        ("behind-speed:lamp_dim", "'' is no number"),
    ],
)
def test_a_fault_no_lamp_can_have_is_one_sentence(text: str, words: str):
    with pytest.raises(UsageError) as refused:
        parse_fault(text, FAMILY)
    assert words in str(refused.value)


def test_sound_lamps_together_light_a_face_evenly_but_for_its_signs():
    view = view_of(FAMILY, size_px=(320, 213))
    light = LampLight(FAMILY, view.camera, view.pose, sheet_of(FAMILY))
    level = light._level(dict.fromkeys(BACKLIGHT, 1.0))
    assert set(np.unique(np.round(level, 5))) == {0.0, 1.0}
    assert 0.0 < np.mean(level == 0.0) < 0.01
    assert light.glow({"stop": 0.0}) is None
