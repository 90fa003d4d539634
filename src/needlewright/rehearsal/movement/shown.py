"""The movement behind one dial of a family: angles on the face in, angles on the face out."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.rehearsal.movement.air_core import AirCore
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import (
    AIR_CORE,
    DRIVER,
    REFERENCE_DEGC,
    STEPPER,
    THERMAL,
    DriverFigures,
)
from needlewright.rehearsal.movement.run import Run, Running, ticks_s
from needlewright.rehearsal.movement.stepper import Stepper
from needlewright.rehearsal.movement.thermal import Thermal

_PAST_SCALE_DEG = 10.0


@dataclass(slots=True)
class DialMovement:
    """A running movement, told and read in angles of its dial's face."""

    running: Running
    stop_angle_deg: float
    """Where the lower stop stands on the face, degrees clockwise from 12 o'clock."""
    sense: int
    """+1 where the needle turns clockwise as the value rises."""

    @property
    def angle_deg(self) -> float:
        """Direction of the needle now, degrees clockwise from 12 o'clock."""
        return self.stop_angle_deg + self.sense * self.running.needle_deg

    def above_stop(self, angle_deg: NDArray[np.float64]) -> NDArray[np.float64]:
        """Angles of the face as degrees above the lower stop.

        Parameters
        ----------
        angle_deg
            Degrees clockwise from 12 o'clock, on the scale's branch.

        Returns
        -------
        NDArray[np.float64]
            Rising with the value whichever way the needle turns.
        """
        return self.sense * (np.asarray(angle_deg, dtype=np.float64) - self.stop_angle_deg)

    def key_on(self) -> NDArray[np.float64]:
        """Switch on; the firmware finds its zero.

        Returns
        -------
        NDArray[np.float64]
            Angles on the face, one a tick.
        """
        return self._shown(self.running.key_on())

    def key_off(self) -> NDArray[np.float64]:
        """Switch off.

        Returns
        -------
        NDArray[np.float64]
            Angles on the face, one a tick.
        """
        return self._shown(self.running.key_off())

    def follow(self, targets_deg: NDArray[np.float64]) -> NDArray[np.float64]:
        """Follow target angles, one a tick of the firmware.

        Parameters
        ----------
        targets_deg
            Degrees clockwise from 12 o'clock, on the scale's branch.

        Returns
        -------
        NDArray[np.float64]
            Angles the needle took, at the ticks' ends.
        """
        return self._shown(self.running.follow(self.above_stop(targets_deg)))

    def _shown(self, run: Run) -> NDArray[np.float64]:
        return self.stop_angle_deg + self.sense * run.needle_deg


def movement_of(
    dial: Dial,
    faults: MovementFaults = SOUND,
    *,
    driver: DriverFigures = DRIVER,
    temperature_degc: float = REFERENCE_DEGC,
    at_angle_deg: float | None = None,
) -> DialMovement:
    """Make the movement a dial's family states, with typical figures for the rest.

    Parameters
    ----------
    dial
        Its movement's kind and cycle, its stop and its scale.
    faults
        What is wrong with it, degrees above the lower stop.
    driver
        The firmware.
    temperature_degc
        Of the movement.
    at_angle_deg
        Where the needle stands before key-on, degrees clockwise from 12 o'clock; None: on its stop.

    Returns
    -------
    DialMovement
        Not keyed on yet.
    """
    sense = dial.scale.sense
    stop_deg = dial.stop_angle_deg
    reach_deg = sense * (dial.scale.angles_deg[-1] - stop_deg) + _PAST_SCALE_DEG
    at_deg = 0.0 if at_angle_deg is None else sense * (at_angle_deg - stop_deg)
    running: Running
    if dial.movement.kind == "stepper":
        stepper = replace(
            STEPPER,
            cycle_deg=dial.movement.cycle_deg,
            coil_axes_deg=dial.movement.coil_axes_deg,
            travel_deg=max(STEPPER.travel_deg, reach_deg),
        )
        running = Stepper(stepper, driver, faults, temperature_degc=temperature_degc, at_deg=at_deg)
    elif dial.movement.kind == "air_core":
        crossed = replace(AIR_CORE, travel_deg=max(AIR_CORE.travel_deg, reach_deg))
        running = AirCore(crossed, driver, faults, temperature_degc=temperature_degc, at_deg=at_deg)
    else:
        strip = replace(THERMAL, travel_deg=max(THERMAL.travel_deg, reach_deg))
        running = Thermal(strip, driver, faults, temperature_degc=temperature_degc, at_deg=at_deg)
    return DialMovement(running, stop_deg, sense)


def shown_track(
    movement: DialMovement,
    target: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    t_s: NDArray[np.float64],
    temperature_degc: float = REFERENCE_DEGC,
) -> NDArray[np.float64]:
    """Where the needle stands at given times while the firmware follows a target.

    Parameters
    ----------
    movement
        Keyed on before, or it follows from wherever its needle stands.
    target
        Target angle on the face at times from 0 on, seconds to degrees.
    t_s
        Times to look at the needle, from 0 on, rising, not evenly spaced in general.
    temperature_degc
        Of the movement.

    Returns
    -------
    NDArray[np.float64]
        Degrees clockwise from 12 o'clock, one for each time.
    """
    movement.running.warm_to(temperature_degc)
    tick = movement.running.tick_s
    ticks = int(np.ceil(float(t_s[-1]) / tick)) + 1
    at_s = ticks_s(-tick, tick, ticks)
    before = movement.angle_deg
    shown = movement.follow(np.asarray(target(at_s), dtype=np.float64))
    known_s = np.append(at_s, ticks * tick)
    at_times = np.interp(t_s, known_s, np.append(np.array([before]), shown))
    return np.asarray(at_times, dtype=np.float64)


def key_cycles(movement: DialMovement, count: int) -> NDArray[np.float64]:
    """Switch off and on again a number of times, and look where the needle rests each time.

    Parameters
    ----------
    movement
        As it stands.
    count
        How many key-ons.

    Returns
    -------
    NDArray[np.float64]
        Rest angles on the face: before the first key-on, then after each.
    """
    rests = [movement.angle_deg]
    for _ in range(count):
        movement.key_off()
        movement.key_on()
        rests.append(movement.angle_deg)
    return np.array(rests)
