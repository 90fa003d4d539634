"""How cold a movement works, from its rates at room temperature."""

from dataclasses import replace
from math import exp

import numpy as np
import pytest

from needlewright.findings.cold.sweep_rate import KELVIN, RateTrial, cold_limit
from needlewright.rehearsal.movement.faults import MovementFaults
from needlewright.rehearsal.movement.figures import DRIVER, STEPPER
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.stepper import Stepper

GREASE_K = (4000.0, 0.0)
ROOM = (21.0, 0.0)


def trials(held: float, slipped: float | None = None) -> list[RateTrial]:
    found = [RateTrial(held, True)]
    return found if slipped is None else [*found, RateTrial(slipped, False)]


def test_the_warm_end_is_where_the_grease_is_as_much_thicker():
    """Reference: Andrade's law by hand, exp(k (1/T - 1/T0)) of the returned temperature."""
    found = cold_limit(trials(600.0, 700.0), 400.0, ROOM, GREASE_K)
    ratio = exp(4000.0 * (1 / (found.high_c + KELVIN) - 1 / (21.0 + KELVIN)))
    assert ratio == pytest.approx(1.5, rel=1e-6)
    assert found.low_c < found.high_c - 5
    assert found.ratio_high == pytest.approx(1.75**3)


def test_what_is_not_known_widens_the_range():
    exact = cold_limit(trials(600.0, 700.0), 400.0, ROOM, GREASE_K)
    unsure = cold_limit(trials(600.0, 700.0), 400.0, (21.0, 1.0), (4000.0, 400.0))
    assert unsure.high_c > exact.high_c + 2
    assert unsure.low_c < exact.low_c - 2


def test_nothing_slipped_gives_one_end():
    found = cold_limit(trials(600.0), 400.0, ROOM, GREASE_K)
    assert found.low_c is None
    assert found.high_c == pytest.approx(12.4, abs=0.3)


@pytest.mark.parametrize(
    ("given", "asked", "grease", "said"),
    [
        (trials(600.0, 700.0), 400.0, None, "how the grease of this movement thickens"),
        (trials(600.0, 700.0), None, GREASE_K, "the rate the cluster asks of it is not known"),
        ([RateTrial(300.0, False)], 400.0, GREASE_K, "no rate is known at which it holds"),
        (trials(600.0, 500.0), 400.0, GREASE_K, "slips at 500°/s and holds at 600"),
        (trials(400.0), 400.0, GREASE_K, "nothing slipped up to 400°/s"),
        ([], 400.0, GREASE_K, "no rate is known"),
    ],
)
def test_not_enough_data_is_said_plainly(given, asked, grease, said):
    found = cold_limit(given, asked, ROOM, grease)
    assert (found.low_c, found.high_c) == (None, None)
    assert found.reason.startswith("not enough data: ")
    assert said in found.reason


def holds(faults: MovementFaults, rate_deg_s: float) -> bool:
    """Whether the rehearsed movement goes 300 degrees at a rate without losing a cycle."""
    brake = DRIVER.acceleration_deg_s2 * rate_deg_s / DRIVER.rate_deg_s  # so that it is reached
    driver = replace(DRIVER, rate_deg_s=rate_deg_s, acceleration_deg_s2=brake)
    stepper = Stepper(STEPPER, driver, faults, temperature_degc=21.0)
    stepper.follow(np.full(2500, 300.0))
    return abs(stepper.needle_deg - 300.0) < 1.0


@pytest.mark.parametrize("stalls_degc", [-20.0, -8.0, 4.0])
def test_the_physics_stalls_inside_the_range(stalls_degc):
    """Rates found in the rehearsed movement at 21 degC; where it stalls at 400 was put in."""
    faults = fault_of("cold_stall", stalls_degc)
    rates = [400.0, 440.0, 480.0, 530.0, 600.0, 680.0, 780.0, 900.0, 1050.0]
    tried = [RateTrial(rate, holds(faults, rate)) for rate in rates]
    found = cold_limit(tried, DRIVER.rate_deg_s, ROOM, (STEPPER.grease_k, 200.0))
    assert found.low_c is None or found.low_c <= stalls_degc
    assert stalls_degc <= found.high_c
