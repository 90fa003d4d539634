"""From a fault's code and size to what is wrong inside the movement.

Sizes are those of the one vocabulary: degrees for backlash, dragging, stalled and blocked, whole
cycles for lost steps, degC for a cold stall. The part that gives that size is solved for; whether
the size comes out is up to the physics, and a size the movement cannot have is refused.
"""

from dataclasses import replace
from itertools import product
from math import asin, degrees, radians, sin
from typing import Final

import numpy as np

from needlewright.errors import UsageError
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import (
    AIR_CORE,
    DRIVER,
    STEPPER,
    DriverFigures,
    StepperFigures,
)
from needlewright.rehearsal.movement.stepper import Stepper

CODES: Final = ("lost_steps", "backlash", "dragging", "stalled", "blocked", "cold_stall")
_TRIALS: Final = 14
_GREASE: Final = (0.05, 400.0)


def fault_of(
    code: str,
    size: float,
    kind: str = "stepper",
    *,
    begins_deg: float = 0.0,
    figures: StepperFigures = STEPPER,
    driver: DriverFigures = DRIVER,
) -> MovementFaults:
    """Make the inside of a movement that has a fault.

    Parameters
    ----------
    code
        One of `CODES`.
    size
        As the vocabulary says; for `stalled` and `blocked` degrees above the lower stop.
    kind
        `stepper` or `air_core`.
    begins_deg
        Where it begins on the way up, degrees above the lower stop.
    figures
        The sound stepper's.
    driver
        Its firmware's: how fast it goes decides what friction it can bear.

    Returns
    -------
    MovementFaults
        For the movement's maker.

    Raises
    ------
    UsageError
        If no inside of this movement gives a fault of that size.
    """
    if code == "backlash":
        if kind != "stepper" or size < figures.backlash_deg:
            raise UsageError(
                f"backlash of {size:g} deg: only a geared stepper has play, and a sound one "
                f"{figures.backlash_deg:g} deg of it already; ask for more"
            )
        return MovementFaults(more_backlash_deg=size - figures.backlash_deg)
    if code == "dragging":
        return MovementFaults(
            needle_dry_nm=_friction(size, kind, figures), drag_from_deg=begins_deg
        )
    if code == "stalled":
        return MovementFaults(dead=True)
    if code == "blocked":
        return MovementFaults(block_deg=size)
    if code == "lost_steps" and kind == "stepper":
        return _snag(round(size), begins_deg, figures, driver)
    if code == "cold_stall" and kind == "stepper":
        return _grease(size, figures, driver)
    raise UsageError(
        f"fault '{code}' of a movement of kind '{kind}' is not one the physics can give; a "
        f"stepper has {', '.join(CODES)}, an air core dragging, stalled and blocked"
    )


def _friction(lag_deg: float, kind: str, figures: StepperFigures) -> float:
    """Dry friction that holds a needle until it is so far behind, and drags it from then on."""
    if kind == "air_core":
        if not 0.0 < lag_deg < 90.0:
            raise UsageError(f"an air core lags between 0 and 90 deg, not {lag_deg:g}")
        holds = AIR_CORE.torque_nm * sin(radians(lag_deg))
        return max(0.0, holds / AIR_CORE.stiction_ratio - AIR_CORE.dry_nm)
    stepper = Stepper(figures)
    ratio = 360.0 / figures.cycle_deg
    most_nm = 0.98 * (stepper.holding_nm - figures.rotor_dry_nm) * ratio

    def lag_at(holds_nm: float) -> float:
        share = (holds_nm / ratio + figures.rotor_dry_nm) / stepper.holding_nm
        stretched = holds_nm / figures.gear_nm_per_rad
        return figures.backlash_deg / 2 + degrees(stretched + asin(share) / ratio)

    if not lag_at(0.0) < lag_deg < lag_at(most_nm):
        raise UsageError(
            f"dragging of {lag_deg:g} deg: a stepper of {figures.cycle_deg:g} deg a cycle lags "
            f"between {lag_at(0.0):.2f} and {lag_at(most_nm):.2f} deg, then loses steps; ask for "
            "a size between them, or for lost_steps"
        )
    from scipy.optimize import brentq  # noqa: PLC0415 (slow to load, and no start waits for it)

    holds = float(brentq(lambda nm: lag_at(nm) - lag_deg, 0.0, most_nm))
    return max(0.0, holds / figures.stiction_ratio - figures.needle_dry_nm)


def _snag(
    cycles: int, begins_deg: float, figures: StepperFigures, driver: DriverFigures
) -> MovementFaults:
    """Find how long a snag must hold for so many cycles to be lost."""
    lost = -abs(cycles)
    top_deg = min(begins_deg + 4 * figures.cycle_deg * abs(cycles) + 30.0, figures.travel_deg)
    rise_s = top_deg / driver.rate_deg_s + driver.rate_deg_s / driver.acceleration_deg_s2
    targets = np.full(round((rise_s + 0.4) / driver.tick_s), top_deg)
    found = []
    quarter_deg = figures.cycle_deg / 4
    # where the rotor stands in its cycle when it is caught decides which numbers can be lost
    for shift, quarter in product(range(4), range(1, 4 * abs(cycles) + 8)):
        faults = replace(
            SOUND,
            snag_deg=begins_deg + shift * quarter_deg,
            snag_gives_deg=quarter * quarter_deg,
        )
        stepper = Stepper(figures, driver, faults)
        stepper.follow(targets)
        found.append(round((stepper.needle_deg - top_deg) / figures.cycle_deg))
        if found[-1] == lost:
            return faults
    seen = sorted({-number for number in found if number})
    raise UsageError(
        f"at {driver.rate_deg_s:g} deg/s a snag does not lose {abs(cycles)} cycles but "
        f"{', '.join(str(number) for number in seen[:4]) or 'none'}: once out of step a fast rotor "
        "does not catch its field again; ask for a slower drive"
    )


def _grease(stalls_degc: float, figures: StepperFigures, driver: DriverFigures) -> MovementFaults:
    """Find the grease that is just too thick at a temperature."""
    top_deg = min(240.0, figures.travel_deg - 10.0)
    rise_s = top_deg / driver.rate_deg_s + 2 * driver.rate_deg_s / driver.acceleration_deg_s2
    targets = np.full(round((rise_s + 0.2) / driver.tick_s), top_deg)

    def loses(factor: float) -> bool:
        faults = MovementFaults(grease_factor=factor)
        stepper = Stepper(figures, driver, faults, temperature_degc=stalls_degc)
        stepper.follow(targets)
        return abs(stepper.needle_deg - top_deg) > figures.cycle_deg / 2

    thin, thick = np.log(_GREASE)
    for _ in range(_TRIALS):
        middle = (thin + thick) / 2
        thin, thick = (thin, middle) if loses(float(np.exp(middle))) else (middle, thick)
    factor = float(np.exp(thick))
    if not loses(factor):
        raise UsageError(
            f"a cold stall at {stalls_degc:g} degC: no grease stalls this movement at "
            f"{driver.rate_deg_s:g} deg/s; ask for a faster drive"
        )
    return MovementFaults(grease_factor=factor)
