"""The coil angle a family states reaches the motor, and its slips stay whole cycles of the dial."""

from dataclasses import replace
from pathlib import Path

import pytest

import needlewright
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit
from needlewright.rehearsal.movement.shown import movement_of
from needlewright.rehearsal.movement.stepper import Stepper
from needlewright.signals.wiring import signals_of

WHOLE = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")
PLAY_DEG = 0.15
"""A sound needle may stand this far off: half its play, half a microstep, and friction."""


def family_of(coil_axes_deg: float, cycle_deg: float) -> Family:
    """One dial, the engine's, with such a motor."""
    engine = WHOLE.dial("engine")
    assert engine is not None
    motor = replace(engine.movement, coil_axes_deg=coil_axes_deg, cycle_deg=cycle_deg)
    return replace(WHOLE, dials=(replace(engine, movement=motor),))


def error_deg(family: Family, *faults: str) -> float:
    """How far off the needle stands after it went up from 1 to 6."""
    unit = Unit(tuple(parse_fault(text, family) for text in faults))
    rehearsal = Rehearsal(family, unit, size_px=(320, 213))
    (dial,) = rehearsal.family.dials
    signal = signals_of(rehearsal.family)[dial.id]
    try:
        with rehearsal.transport:
            rehearsal.key(on=True)
            rehearsal.pass_time(5.0)
            for told in (1.0, 6.0):
                rehearsal.transport.apply(signal.command(told))
                rehearsal.pass_time(6.0)
            return rehearsal.cluster.angles_deg()[dial.id] - dial.programme_angle_deg(6.0)
    finally:
        rehearsal.close()


def the_dial(family: Family) -> Dial:
    (dial,) = family.dials
    return dial


@pytest.mark.parametrize(("coil_axes_deg", "full_steps"), [(60.0, 6), (90.0, 4)])
def test_the_steps_of_a_cycle_are_those_of_the_coil_angle(coil_axes_deg: float, full_steps: int):
    # 360 degrees of one cycle over the angle between two axes; from memory, any textbook of motors
    running = movement_of(the_dial(family_of(coil_axes_deg, 3.0))).running
    assert isinstance(running, Stepper)
    steps = running.figures.cycle_deg / (running.microstep_deg * running.driver.microsteps)
    assert steps == pytest.approx(full_steps)


@pytest.mark.parametrize("cycle_deg", [2.0, 3.0])
def test_a_sound_motor_of_90_degrees_follows_its_programme(cycle_deg: float):
    assert abs(error_deg(family_of(90.0, cycle_deg))) < PLAY_DEG


@pytest.mark.parametrize(("cycle_deg", "cycles"), [(2.0, -2), (3.0, -2)])
def test_a_motor_of_90_degrees_slips_whole_cycles_of_its_dial(cycle_deg: float, cycles: int):
    off_deg = error_deg(family_of(90.0, cycle_deg), f"engine:lost_steps={cycles}@3")
    assert off_deg == pytest.approx(cycles * cycle_deg, abs=PLAY_DEG)
