"""The geared stepper against what textbooks of stepping motors and mechanics say of one."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from needlewright.rehearsal.movement import stepper_kernel as kernel
from needlewright.rehearsal.movement.faults import MovementFaults
from needlewright.rehearsal.movement.figures import DRIVER, STEPPER, StepperFigures
from needlewright.rehearsal.movement.stepper import Stepper, full_steps

SMOOTH = replace(
    STEPPER, rotor_dry_nm=0.0, needle_dry_nm=0.0, backlash_deg=0.0, stop_restitution=0.0
)
"""No dry friction and no play: plain differential equations."""

FED_BY_CURRENT = replace(
    SMOOTH,
    torque_nm_per_a=STEPPER.torque_nm_per_a / 20,
    supply_v=STEPPER.supply_v * 20,
    coil_h=STEPPER.coil_h / 20,
    gear_nm_per_rad=STEPPER.gear_nm_per_rad * 40,
    gear_nms_per_rad=STEPPER.gear_nms_per_rad * 4,
    rotor_viscous_nms=0.0,
    needle_viscous_nms=0.0,
    detent_nm=0.0,
)
"""The textbook's motor: the same torque, without back-EMF and lag of the current, stiff gears."""


def settled(stepper: Stepper, at_deg: float, seconds: float = 1.0) -> float:
    return float(stepper.follow(np.full(round(seconds / stepper.tick_s), at_deg)).needle_deg[-1])


def standing(figures: StepperFigures, at_deg: float) -> Stepper:
    """A stepper whose firmware knows where it stands."""
    stepper = Stepper(figures, at_deg=at_deg)
    stepper.state[kernel.PLAN] = at_deg
    settled(stepper, at_deg, 0.1)
    return stepper


@pytest.mark.parametrize(("axes_deg", "steps"), [(60.0, 6), (90.0, 4)])
def test_torque_against_angle_is_a_sine_of_one_period_a_cycle(axes_deg: float, steps: int) -> None:
    # Source: two-coil machine with one pole pair, any textbook: T = -k I sin(angle - field).
    stepper = Stepper(replace(FED_BY_CURRENT, coil_axes_deg=axes_deg))
    assert full_steps(axes_deg) == steps
    p, y = stepper.parameters, stepper.state.copy()
    y[kernel.IA] = p[kernel.P_VOLT] * np.sin(p[kernel.P_AXES]) / p[kernel.P_R]
    y[kernel.IB] = 0.0
    lag_deg = np.linspace(0.0, 360.0, 73)
    torque = []
    for lag in np.radians(lag_deg):
        y[kernel.TH], y[kernel.OM], y[kernel.V] = lag, 0.0, 0.0
        y[kernel.X] = lag / p[kernel.P_RATIO]
        torque.append(kernel.rotor_torque(p, y))
    expected = -stepper.holding_nm * np.sin(np.radians(lag_deg))
    assert torque == pytest.approx(expected, abs=1e-9 * stepper.holding_nm)


@pytest.mark.parametrize("axes_deg", [60.0, 90.0])
def test_every_microstep_pulls_equally_and_no_coil_gets_more_than_the_supply(
    axes_deg: float,
) -> None:
    figures = replace(SMOOTH, coil_axes_deg=axes_deg, detent_nm=0.0)
    stepper = standing(figures, 10.0)
    microstep = figures.cycle_deg / (full_steps(axes_deg) * DRIVER.microsteps)
    most = figures.supply_v / figures.coil_ohm
    field = []
    for n in range(full_steps(axes_deg) * DRIVER.microsteps):
        assert settled(stepper, 10.0 + n * microstep, 0.4) == pytest.approx(
            10.0 + n * microstep, abs=0.01
        )
        ia, ib = stepper.state[[kernel.IA, kernel.IB]]
        assert max(abs(ia), abs(ib)) <= most * 1.001
        field.append(abs(ia + ib * np.exp(1j * np.radians(axes_deg))))
    longest = most * np.sin(np.radians(axes_deg))
    assert field == pytest.approx([longest] * len(field), rel=2e-3)


@pytest.mark.parametrize("detent_nm", [0.0, 1.2e-6])
@pytest.mark.parametrize("load", [0.05, 3.0])
def test_natural_frequency_is_stiffness_over_inertia(detent_nm: float, load: float) -> None:
    # Source: small swing of a rotor about its step, any textbook: sqrt(dT/dangle / J) / 2 pi.
    figures = replace(FED_BY_CURRENT, detent_nm=detent_nm, needle_kgm2=needle_of(load))
    figures = replace(figures, gear_nms_per_rad=0.0)
    stepper = standing(figures, 10.0)
    stepper.state[kernel.TH] += np.radians(2.0)
    stepper.state[kernel.X] += np.radians(2.0) / stepper.parameters[kernel.P_RATIO]
    swing = stepper.follow(np.full(2000, 10.0)).needle_deg - 10.0
    turns = np.nonzero((swing[:-1] < 0) & (swing[1:] >= 0))[0]
    at = turns - swing[turns] / (swing[turns + 1] - swing[turns])
    measured_hz = (len(at) - 1) / ((at[-1] - at[0]) * stepper.tick_s)
    assert measured_hz == pytest.approx(stepper.natural_hz, rel=0.01)


def needle_of(load: float) -> float:
    """Inertia of a needle that the rotor feels as so many times its own."""
    return float(STEPPER.rotor_kgm2 * (360 / STEPPER.cycle_deg) ** 2 * load)


def fastest_hz(figures: StepperFigures, stops: bool) -> float:
    """Most cycles a second a resting rotor falls in with at once, and stops from if asked."""
    low, high = 1.0, 400.0
    for _ in range(11):
        rate = (low + high) / 2
        driver = replace(
            DRIVER, rate_deg_s=rate * figures.cycle_deg, acceleration_deg_s2=1e9, microsteps=64
        )
        stepper = standing(figures, 20.0)
        stepper.driver = driver
        ticks = round(12 / rate / stepper.tick_s)
        target = 20.0 + (12 if stops else 100) * figures.cycle_deg
        run = stepper.follow(np.full(ticks + (100 if stops else 0), target))
        slipped = np.abs(run.rotor_deg - run.driver_deg).max() > 0.75 * figures.cycle_deg
        low, high = (low, rate) if slipped else (rate, high)
    return low


def test_without_friction_a_rotor_falls_in_up_to_twice_its_natural_frequency() -> None:
    # Source: the field passes a sine's barrier of height 2 T when J w^2 / 2 does: w = 2 w_natural.
    for load in (0.05, 1.0, 3.0):
        figures = replace(FED_BY_CURRENT, needle_kgm2=needle_of(load))
        natural = Stepper(figures).natural_hz
        assert fastest_hz(figures, stops=False) == pytest.approx(2 * natural, rel=0.03)


def test_start_stop_rate_falls_with_the_root_of_the_inertia() -> None:
    # Source: f = f0 / sqrt(1 + J_load / J_rotor), textbooks and makers' notes on stepping motors;
    # the whole movement with all its friction keeps to it within 5 %.
    loads = (0.05, 1.0, 3.0)
    rates = [fastest_hz(replace(STEPPER, needle_kgm2=needle_of(x)), stops=True) for x in loads]
    expected = [rates[0] * np.sqrt((1 + loads[0]) / (1 + load)) for load in loads]
    assert rates == pytest.approx(expected, rel=0.05)


def test_smooth_motion_agrees_with_scipy_at_tight_tolerance() -> None:
    stepper = Stepper(SMOOTH, at_deg=50.0)
    p, y0 = stepper.parameters, stepper.state.copy()
    y0[kernel.TH] += 0.8
    volts = p[kernel.P_VOLT]
    va, vb = 0.6 * volts, 0.3 * volts
    ratio, axes = p[kernel.P_RATIO], p[kernel.P_AXES]

    def rates(_: float, s: np.ndarray) -> list[float]:
        th, om, x, v, ia, ib = s
        force = SMOOTH.gear_nm_per_rad * (th / ratio - x)
        force += SMOOTH.gear_nms_per_rad * (om / ratio - v)
        k = p[kernel.P_K_COIL]
        turning = -k * ia * np.sin(th) - k * ib * np.sin(th - axes)
        turning -= SMOOTH.detent_nm * np.sin(6 * th)
        return [
            om,
            (turning - p[kernel.P_B] * om - force / ratio) / SMOOTH.rotor_kgm2,
            v,
            (force - SMOOTH.needle_viscous_nms * v) / SMOOTH.needle_kgm2,
            (va - SMOOTH.coil_ohm * ia + k * np.sin(th) * om) / SMOOTH.coil_h,
            (vb - SMOOTH.coil_ohm * ib + k * np.sin(th - axes) * om) / SMOOTH.coil_h,
        ]

    until = 0.2
    exact = solve_ivp(rates, (0, until), y0[:6], method="DOP853", rtol=1e-11, atol=1e-14)
    ours, room, dt = y0.copy(), np.zeros((5, 8)), 5e-5
    for _ in range(round(until / dt)):
        kernel.step(p, ours, va, vb, dt, room)
    assert ours[kernel.TH] == pytest.approx(exact.y[0, -1], abs=1e-6)
    assert ours[kernel.X] == pytest.approx(exact.y[2, -1], abs=1e-8)
    assert ours[kernel.IA] == pytest.approx(exact.y[4, -1], abs=1e-8)


@pytest.mark.parametrize(
    "faults",
    [
        MovementFaults(),
        MovementFaults(needle_dry_nm=1e-3),
        MovementFaults(more_backlash_deg=1.0),
        MovementFaults(block_deg=60.0),
        MovementFaults(needle_dry_nm=4e-3, drag_from_deg=50.0),
    ],
)
def test_energy_given_is_energy_lost_and_stored(faults: MovementFaults) -> None:
    stepper = Stepper(STEPPER, faults=faults, at_deg=30.0)
    before = kernel.stored(stepper.parameters, stepper.state)
    stepper.key_on()
    stepper.follow(np.repeat([90.0, 10.0, 70.0], 700))
    after = kernel.stored(stepper.parameters, stepper.state)
    given, lost = stepper.state[[kernel.GIVEN, kernel.LOST]]
    copper_apart = 1e-5 * given
    assert given > 0.1
    assert given - lost == pytest.approx(after - before, abs=copper_apart)


@pytest.mark.parametrize("axes_deg", [60.0, 90.0])
@pytest.mark.parametrize("cycle_deg", [2.0, 3.0])
def test_a_slip_is_whole_cycles(axes_deg: float, cycle_deg: float) -> None:
    figures = replace(STEPPER, coil_axes_deg=axes_deg, cycle_deg=cycle_deg, needle_dry_nm=2e-6)
    figures = replace(figures, rotor_dry_nm=1e-8, backlash_deg=0.0)
    slips = []
    for snag_deg in (30.3, 41.7, 55.0):
        for gives in (1.0, 2.5, 4.0, 7.0):
            faults = MovementFaults(snag_deg=snag_deg, snag_gives_deg=gives)
            driver = replace(DRIVER, rate_deg_s=40.0)
            stepper = Stepper(figures, driver, faults)
            stepper.key_on()
            slips.append((settled(stepper, 90.0, 3.0) - 90.0) / cycle_deg)
    assert slips == pytest.approx(np.round(slips), abs=0.01)
    assert min(np.round(slips)) <= -2


@pytest.mark.parametrize("degc", [-40.0, 23.0, 70.0])
def test_homing_finds_the_stop_wherever_the_needle_stood(degc: float) -> None:
    for at_deg in np.linspace(0.0, 314.0, 12):
        driver = replace(DRIVER, rate_deg_s=150.0)
        stepper = Stepper(driver=driver, temperature_degc=degc, at_deg=float(at_deg))
        stepper.key_on()
        assert stepper.needle_deg == pytest.approx(0.0, abs=0.08)
        assert settled(stepper, 60.0) == pytest.approx(60.0, abs=0.12)


def test_cold_takes_the_torque_a_fast_sweep_needs_and_leaves_that_of_a_slow_one() -> None:
    lost = {}
    for degc in (23.0, -40.0):
        for rate in (150.0, 500.0):
            driver = replace(DRIVER, rate_deg_s=rate)
            stepper = Stepper(driver=driver, temperature_degc=degc)
            stepper.key_on()
            lost[degc, rate] = abs(settled(stepper, 200.0, 2.5) - 200.0)
    assert lost[23.0, 150.0] < 0.1
    assert lost[23.0, 500.0] < 0.1
    assert lost[-40.0, 150.0] < 0.1
    assert lost[-40.0, 500.0] > 20.0
    assert lost[-40.0, 500.0] / 2.0 == pytest.approx(round(lost[-40.0, 500.0] / 2.0), abs=0.05)


def test_play_is_the_difference_of_rising_and_falling() -> None:
    # braked so gently that the needle does not coast across the play
    driver = replace(DRIVER, acceleration_deg_s2=400.0)
    stepper = Stepper(driver=driver, faults=MovementFaults(more_backlash_deg=0.9))
    stepper.key_on()
    rising = settled(stepper, 100.0)
    settled(stepper, 150.0)
    assert settled(stepper, 100.0) - rising == pytest.approx(1.0, abs=0.05)


def test_friction_leaves_the_needle_behind_by_the_angle_the_torque_needs() -> None:
    # Source: static balance, T_hold sin(2 pi lag / cycle) ratio = dry friction; stiff gears.
    dry = 1.5e-3
    figures = replace(FED_BY_CURRENT, needle_dry_nm=dry, rotor_viscous_nms=2e-9, stiction_ratio=1.0)
    driver = replace(DRIVER, rate_deg_s=10.0, microsteps=64)
    stepper = Stepper(figures, driver)
    run = stepper.follow(np.full(3000, 25.0))
    lag_deg = (run.driver_deg - run.needle_deg)[1000:2000]
    ratio = 360 / figures.cycle_deg
    gear_deg = np.degrees(dry / figures.gear_nm_per_rad)
    expected = np.degrees(np.arcsin(dry / ratio / stepper.holding_nm)) / ratio + gear_deg
    assert np.median(lag_deg) == pytest.approx(expected, abs=0.02)


def test_a_slipping_needle_creeps_home_over_key_ons() -> None:
    driver = replace(DRIVER, rate_deg_s=60.0, homing_deg=4.0, homing_last_deg=2.0)
    stepper = Stepper(driver=driver)
    stepper.key_on()
    settled(stepper, 14.0)
    # the way down is asked for faster than any rotor can begin: it stays behind
    stepper.driver = replace(driver, rate_deg_s=600.0, acceleration_deg_s2=1e6)
    settled(stepper, 0.0)
    stepper.driver = driver
    rests = [stepper.needle_deg]
    for _ in range(5):
        stepper.key_off()
        stepper.key_on()
        rests.append(stepper.needle_deg)
    slipped = round(rests[0] / 2.0) * 2.0
    assert slipped >= 6.0
    assert rests == pytest.approx([max(0.0, slipped - 4.0 * n) for n in range(6)], abs=0.12)


def test_the_firmware_commands_microsteps_within_its_rate_and_acceleration() -> None:
    stepper = Stepper()
    stepper.key_on()
    run = stepper.follow(np.repeat([100.0, 20.0], 700))
    steps = stepper.microsteps(run)
    assert stepper.microstep_deg == pytest.approx(1 / 12, abs=1e-12)
    assert (steps[699], steps[-1]) == (1200, 240)
    rate = np.diff(run.driver_deg) / stepper.tick_s
    assert np.max(np.abs(rate)) <= DRIVER.rate_deg_s * (1 + 1e-9)
    assert np.max(np.abs(rate)) > 0.8 * np.sqrt(80.0 * DRIVER.acceleration_deg_s2)
    hardest = np.max(np.abs(np.diff(rate))) / stepper.tick_s
    assert hardest == pytest.approx(DRIVER.acceleration_deg_s2, rel=0.1)


def test_without_current_nothing_moves() -> None:
    stepper = Stepper(faults=MovementFaults(dead=True), at_deg=35.0)
    stepper.key_on()
    run = stepper.follow(np.full(1000, 120.0))
    assert np.ptp(run.needle_deg) < 0.01
    assert stepper.needle_deg == pytest.approx(35.0, abs=0.2)
