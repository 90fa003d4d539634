"""Air-core and thermal movements, faults by code, and a dial of a family."""

from dataclasses import replace
from math import exp, sin

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from needlewright.errors import UsageError
from needlewright.families.model import Dial, Movement, Needle
from needlewright.families.scale import Scale
from needlewright.rehearsal.movement.air_core import AirCore, field_deg
from needlewright.rehearsal.movement.faults import MovementFaults
from needlewright.rehearsal.movement.figures import AIR_CORE, DRIVER, THERMAL
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.shown import key_cycles, movement_of, shown_track
from needlewright.rehearsal.movement.stepper import Stepper
from needlewright.rehearsal.movement.thermal import Thermal


def dial(kind: str = "stepper", sense: int = 1) -> Dial:
    return Dial(
        id="speed",
        quantity="road speed",
        unit="km/h",
        centre_mm=(50.0, 50.0),
        scale=Scale((0.0, 240.0), (-120.0 * sense, 120.0 * sense)),
        direction="cw" if sense > 0 else "ccw",
        rest_angle_deg=-125.0 * sense,
        rest_pin=False,
        needle=Needle(40.0, 10.0, 2.0, 1.0, 6.0, 3.0, 1.0),
        movement=Movement(kind=kind),  # type: ignore[arg-type]
    )


def settled(movement: Stepper | AirCore | Thermal, at_deg: float, seconds: float) -> float:
    return float(movement.follow(np.full(round(seconds / 0.001), at_deg)).needle_deg[-1])


def test_the_field_points_where_the_two_currents_say() -> None:
    angles = np.arange(0.0, 360.0, 7.5)
    found = [field_deg(np.sin(np.radians(a)), np.cos(np.radians(a))) for a in angles]
    assert found == pytest.approx(angles, abs=1e-9)


def test_an_air_core_without_dry_friction_agrees_with_scipy() -> None:
    figures = replace(AIR_CORE, dry_nm=0.0, viscous_nms=1e-5)
    movement = AirCore(figures, at_deg=100.0)
    start, field = np.radians(100.0), np.radians(130.0)
    movement.state[2] = 130.0

    def rates(_: float, s: np.ndarray) -> list[float]:
        pull = figures.torque_nm * sin(field - s[0])
        return [s[1], (pull - figures.viscous_nms * s[1]) / figures.inertia_kgm2]

    times = np.arange(1, 301) * 0.001
    exact = solve_ivp(
        rates, (0, 0.3), [start, 0.0], method="DOP853", rtol=1e-10, atol=1e-12, t_eval=times
    )
    ours = movement.follow(np.full(300, 130.0)).needle_deg
    assert ours == pytest.approx(np.degrees(exact.y[0]), abs=0.005)


def test_friction_leaves_an_air_core_behind_by_the_arc_sine_of_its_share() -> None:
    for lag_deg in (3.0, 12.0, 30.0):
        faults = fault_of("dragging", lag_deg, "air_core")
        movement = AirCore(driver=replace(DRIVER, rate_deg_s=10.0), faults=faults)
        run = movement.follow(np.full(9000, 80.0))
        lag = run.driver_deg - run.needle_deg
        viscous_deg = np.degrees(AIR_CORE.viscous_nms * np.radians(10.0) / AIR_CORE.torque_nm)
        assert np.max(lag) == pytest.approx(lag_deg, abs=viscous_deg)
        held = np.sin(np.radians(lag_deg)) / AIR_CORE.stiction_ratio + np.radians(viscous_deg)
        assert lag[6000] == pytest.approx(np.degrees(np.arcsin(held)), abs=0.01)


def test_a_thermal_needle_goes_63_hundredths_of_the_way_in_one_lag() -> None:
    # Source: first-order lag, 1 - exp(-t / lag).
    movement = Thermal()
    assert settled(movement, 100.0, THERMAL.lag_s) == pytest.approx(100 * (1 - exp(-1)), abs=1e-6)
    assert settled(movement, 0.0, THERMAL.lag_s) == pytest.approx(
        100 * (1 - exp(-1)) * exp(-1), abs=1e-6
    )


@pytest.mark.parametrize("cycles", [1, 2, 3, 5])
def test_a_snag_loses_the_cycles_asked_for(cycles: int) -> None:
    driver = replace(DRIVER, rate_deg_s=30.0)
    faults = fault_of("lost_steps", -cycles, begins_deg=60.0, driver=driver)
    stepper = Stepper(driver=driver, faults=faults)
    assert settled(stepper, 120.0, 5.0) == pytest.approx(120.0 - 2.0 * cycles, abs=0.12)


def test_a_fast_drive_that_cannot_lose_one_cycle_says_so() -> None:
    with pytest.raises(UsageError, match="at 400 deg/s a snag does not lose 1 cycles but"):
        fault_of("lost_steps", -1, begins_deg=100.0)


def test_a_cold_stall_begins_at_its_temperature() -> None:
    driver = replace(DRIVER, rate_deg_s=250.0)
    faults = fault_of("cold_stall", -12.0, driver=driver)
    for degc, sound in ((-8.0, True), (-16.0, False)):
        stepper = Stepper(driver=driver, faults=faults, temperature_degc=degc)
        lost = abs(settled(stepper, 230.0, 2.0) - 230.0)
        assert (lost < 0.3) is sound


def test_backlash_and_dragging_of_a_stepper_have_the_size_asked_for() -> None:
    gently = replace(DRIVER, acceleration_deg_s2=400.0)
    stepper = Stepper(driver=gently, faults=fault_of("backlash", 1.4))
    rising = settled(stepper, 80.0, 2.0)
    settled(stepper, 120.0, 2.0)
    assert settled(stepper, 80.0, 2.0) - rising == pytest.approx(1.4, abs=0.08)
    slowly = replace(DRIVER, rate_deg_s=10.0)
    stepper = Stepper(driver=slowly, faults=fault_of("dragging", 0.3))
    run = stepper.follow(np.full(4000, 30.0))
    lag = (run.driver_deg - run.needle_deg)[500:]
    assert np.max(lag) == pytest.approx(0.3, abs=0.06)


@pytest.mark.parametrize(
    ("code", "size", "kind", "words"),
    [
        ("dragging", 0.7, "stepper", "lags between 0.06 and 0.6. deg, then loses steps"),
        ("backlash", 1.0, "air_core", "only a geared stepper has play"),
        ("lost_steps", 1.0, "air_core", "is not one the physics can give"),
        ("needle_offset", 1.0, "stepper", "is not one the physics can give"),
    ],
)
def test_what_a_movement_cannot_have_is_refused(
    code: str, size: float, kind: str, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        fault_of(code, size, kind)


@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize("kind", ["stepper", "air_core"])
def test_a_dial_of_a_family_shows_its_target(kind: str, sense: int) -> None:
    movement = movement_of(dial(kind, sense), at_angle_deg=10.0 * sense)
    movement.key_on()
    assert movement.angle_deg == pytest.approx(-127.0 * sense, abs=0.5)
    t_s = np.array([0.0, 0.013, 0.5, 1.0, 2.9, 3.0])
    shown = shown_track(movement, lambda t: np.full_like(t, 60.0 * sense), t_s)
    assert shown[0] == pytest.approx(-127.0 * sense, abs=0.5)
    assert shown[-1] == pytest.approx(60.0 * sense, abs=0.5)
    assert np.all(np.diff(sense * shown) > -0.5)


def test_a_blocked_needle_stands_and_a_key_cycle_leaves_a_sound_one_at_rest() -> None:
    movement = movement_of(dial(), faults=MovementFaults(block_deg=90.0))
    shown = shown_track(movement, lambda t: 60.0 * np.minimum(t, 1.5) - 127.0, np.array([1.5]))
    # the rotor, driven on against the block, falls back by up to a cycle each time it slips
    assert -127.0 + 90.0 - 2.1 <= shown[0] <= -127.0 + 90.0 + 1e-9
    movement = movement_of(dial())
    movement.key_on()
    assert key_cycles(movement, 3) == pytest.approx([-127.0] * 4, abs=0.06)
