"""A geared stepper that runs: coils, rotor, gears, needle and stops, at a temperature."""

from dataclasses import replace
from math import cos, degrees, exp, pi, radians, sin, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.movement import stepper_kernel as kernel
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import (
    DRIVER,
    KELVIN,
    REFERENCE_DEGC,
    STEPPER,
    DriverFigures,
    StepperFigures,
)
from needlewright.rehearsal.movement.run import Run, ticks_s

SUBSTEPS: Final = 20
"""Steps of the physics in one tick of the firmware: 50 microseconds at 1 ms."""
_SETTLE_S: Final = 0.15


class Stepper:
    """One geared stepper, carried on from one call to the next.

    Parameters
    ----------
    figures
        Its parts.
    driver
        Its firmware.
    faults
        What is wrong with it.
    temperature_degc
        Of motor and grease.
    at_deg
        Where the needle stands without current, degrees above the lower stop.
    substeps
        Steps of the physics in one tick of the firmware.
    """

    def __init__(
        self,
        figures: StepperFigures = STEPPER,
        driver: DriverFigures = DRIVER,
        faults: MovementFaults = SOUND,
        *,
        temperature_degc: float = REFERENCE_DEGC,
        at_deg: float = 0.0,
        substeps: int = SUBSTEPS,
    ) -> None:
        self.figures = figures
        self.driver = driver
        self.faults = faults
        self.substeps = substeps
        self.parameters = _pack(figures, faults, temperature_degc)
        self.state = np.zeros(kernel.STATE)
        self.state[kernel.X] = radians(at_deg)
        self.state[kernel.TH] = radians(at_deg) * self.parameters[kernel.P_RATIO]
        self.time_s = 0.0

    @property
    def needle_deg(self) -> float:
        """Where the needle stands, degrees above the lower stop."""
        return degrees(float(self.state[kernel.X]))

    @property
    def tick_s(self) -> float:
        """How often the firmware looks at its target."""
        return self.driver.tick_s

    @property
    def microstep_deg(self) -> float:
        """Needle angle of one microstep."""
        steps = full_steps(self.figures.coil_axes_deg) * self.driver.microsteps
        return self.figures.cycle_deg / steps

    def microsteps(self, run: Run) -> NDArray[np.int64]:
        """Microsteps the firmware had commanded at the ticks of a run, counted from its zero.

        Parameters
        ----------
        run
            What this movement did.

        Returns
        -------
        NDArray[np.int64]
            One a tick.
        """
        return np.floor(run.driver_deg / self.microstep_deg + 0.5).astype(np.int64)

    @property
    def holding_nm(self) -> float:
        """Torque that pulls the rotor out of a standing field, at the rotor."""
        p = self.parameters
        current = p[kernel.P_VOLT] / p[kernel.P_R]
        return float(p[kernel.P_K_COIL] * current * sin(p[kernel.P_AXES]))

    @property
    def natural_hz(self) -> float:
        """Frequency of a small swing about a full step, gears stiff and coils fed with current.

        Source: the derivative of torque by angle over the inertia, any textbook of stepping
        motors; derivation in docs/decisions/0020-movements.md.
        """
        p = self.parameters
        stiff = self.holding_nm + p[kernel.P_DETENTS] * p[kernel.P_DETENT]
        inertia = p[kernel.P_J] + p[kernel.P_I] / p[kernel.P_RATIO] ** 2
        return sqrt(stiff / inertia) / (2 * pi)

    def warm_to(self, temperature_degc: float) -> None:
        """Take another temperature and go on from where the needle stands.

        Parameters
        ----------
        temperature_degc
            Of motor and grease.
        """
        power = self.parameters[kernel.P_POWER]
        self.parameters = _pack(self.figures, self.faults, temperature_degc)
        self.parameters[kernel.P_POWER] *= power

    def follow(self, targets_deg: NDArray[np.float64]) -> Run:
        """Let the firmware follow targets, one a tick, within its rate and acceleration.

        Parameters
        ----------
        targets_deg
            Degrees above the lower stop, as the firmware counts them.

        Returns
        -------
        Run
            One row a tick, at the tick's end.
        """
        return self._drive(targets_deg, self.driver.rate_deg_s)

    def key_on(self) -> Run:
        """Switch the coils on and drive down to the stop without asking where the needle stands.

        Returns
        -------
        Run
            The homing; after it the firmware believes the needle to be on its stop.
        """
        self.parameters[kernel.P_POWER] = 0.0 if self.faults.dead else 1.0
        cycle = self.figures.cycle_deg
        # the field's phase is what it was; only the count of cycles is made up
        phase = float(self.state[kernel.PLAN]) % cycle
        start = phase + cycle * round(self.driver.homing_deg / cycle)
        self.state[kernel.PLAN] = start
        self.state[kernel.PLAN_RATE] = 0.0
        slowly_deg = min(self.driver.homing_last_deg, start)
        down = self._drive_to(slowly_deg, start - slowly_deg, self.driver.homing_deg_s)
        last = self._drive_to(0.0, slowly_deg, self.driver.homing_last_deg_s)
        return down.then(last)

    def key_off(self, settle_s: float = 0.1) -> Run:
        """Take the current away.

        Parameters
        ----------
        settle_s
            How long to watch the needle after it.

        Returns
        -------
        Run
            The needle without current.
        """
        self.parameters[kernel.P_POWER] = 0.0
        before = kernel.stored(self.parameters, self.state)
        self.state[[kernel.IA, kernel.IB]] = 0.0
        self.state[kernel.LOST] += before - kernel.stored(self.parameters, self.state)
        self.state[kernel.PLAN_RATE] = 0.0
        held = np.full(self._ticks(settle_s), self.state[kernel.PLAN])
        return self._drive(held, self.driver.rate_deg_s)

    def _drive_to(self, target_deg: float, way_deg: float, rate_deg_s: float) -> Run:
        brake = self.driver.acceleration_deg_s2
        needed_s = way_deg / rate_deg_s + rate_deg_s / brake + _SETTLE_S
        return self._drive(np.full(self._ticks(needed_s), target_deg), rate_deg_s)

    def _ticks(self, seconds: float) -> int:
        return max(1, round(seconds / self.driver.tick_s))

    def _drive(self, targets_deg: NDArray[np.float64], rate_deg_s: float) -> Run:
        tick = self.driver.tick_s
        d = np.array(
            [
                self.figures.cycle_deg,
                self.microstep_deg,
                rate_deg_s,
                self.driver.acceleration_deg_s2,
                tick / self.substeps,
            ]
        )
        out = np.empty((len(targets_deg), 3))
        wanted = np.ascontiguousarray(targets_deg, dtype=np.float64)
        kernel.drive(self.parameters, d, self.state, wanted, self.substeps, out)
        t_s = ticks_s(self.time_s, tick, len(wanted))
        self.time_s += tick * len(wanted)
        return Run(t_s, out[:, 0], out[:, 1], out[:, 2])


def full_steps(coil_axes_deg: float) -> int:
    """Full steps of one electrical cycle: six for axes 60 degrees apart, four for 90.

    Parameters
    ----------
    coil_axes_deg
        Angle between the coils' axes.

    Returns
    -------
    int
        Positions of the field with each coil full on or off that stand equally far apart.
    """
    return round(360.0 / coil_axes_deg)


def _pack(figures: StepperFigures, faults: MovementFaults, degc: float) -> NDArray[np.float64]:
    """Figures at a temperature, in the kernel's order."""
    warmer_k = degc - REFERENCE_DEGC
    grease = exp(figures.grease_k * (1 / (degc + KELVIN) - 1 / (REFERENCE_DEGC + KELVIN)))
    p = np.zeros(kernel.PARAMETERS)
    p[kernel.P_J] = figures.rotor_kgm2
    p[kernel.P_I] = figures.needle_kgm2
    p[kernel.P_K_COIL] = (
        figures.torque_nm_per_a * (1 + figures.magnet_per_k * warmer_k) * faults.torque_factor
    )
    p[kernel.P_R] = figures.coil_ohm * (1 + figures.copper_per_k * warmer_k)
    p[kernel.P_L] = figures.coil_h
    p[kernel.P_VOLT] = figures.supply_v
    p[kernel.P_AXES] = radians(figures.coil_axes_deg)
    p[kernel.P_AXES_SIN] = sin(radians(figures.coil_axes_deg))
    p[kernel.P_AXES_COS] = cos(radians(figures.coil_axes_deg))
    p[kernel.P_RATIO] = 360.0 / figures.cycle_deg
    p[kernel.P_GEAR] = figures.gear_nm_per_rad
    p[kernel.P_GEAR_D] = figures.gear_nms_per_rad
    p[kernel.P_PLAY] = radians(figures.backlash_deg + faults.more_backlash_deg)
    p[kernel.P_B] = figures.rotor_viscous_nms * grease * faults.grease_factor
    p[kernel.P_C] = figures.needle_viscous_nms
    p[kernel.P_DRY] = figures.rotor_dry_nm
    p[kernel.P_STICK] = figures.rotor_dry_nm * figures.stiction_ratio
    p[kernel.P_DRY_N] = figures.needle_dry_nm
    p[kernel.P_STICK_N] = figures.needle_dry_nm * figures.stiction_ratio
    p[kernel.P_DETENT] = figures.detent_nm
    p[kernel.P_DETENTS] = full_steps(figures.coil_axes_deg)
    p[kernel.P_LOW] = 0.0
    p[kernel.P_HIGH] = p[kernel.P_TOP] = radians(min(figures.travel_deg, faults.block_deg))
    p[kernel.P_SNAG] = radians(faults.snag_deg)
    p[kernel.P_SNAG_GIVES] = faults.snag_deg + faults.snag_gives_deg
    p[kernel.P_BOUNCE] = figures.stop_restitution
    p[kernel.P_DRAG] = faults.needle_dry_nm
    p[kernel.P_DRAG_FROM] = radians(faults.drag_from_deg)
    p[kernel.P_POWER] = 0.0 if faults.dead else 1.0
    return p


def geared(figures: StepperFigures, load_kgm2: float) -> StepperFigures:
    """Figures with another inertia at the needle's shaft.

    Parameters
    ----------
    figures
        The movement.
    load_kgm2
        Of needle, hub and output wheel.

    Returns
    -------
    StepperFigures
        Otherwise the same.
    """
    return replace(figures, needle_kgm2=load_kgm2)
