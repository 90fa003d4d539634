"""An air-core movement: a magnet on the needle's shaft, turned by the field of two crossed coils.

    I x'' = T sin(field - x) - b x' - dry friction - R sin(x - home)

The needle points where the two currents say; there are no cycles to lose. Friction leaves it
behind the field, by far more than a geared stepper could lag, because the field's pull grows only
with the sine of the lag.

Source: torque of a dipole in a field, any textbook; derivation in docs/decisions/0020-movements.md.
"""

from math import atan2, degrees, exp, inf, pi, radians, sin, sqrt
from typing import Any, Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import (
    AIR_CORE,
    DRIVER,
    KELVIN,
    REFERENCE_DEGC,
    AirCoreFigures,
    DriverFigures,
)
from needlewright.rehearsal.movement.run import Run, ticks_s
from needlewright.rehearsal.movement.stepper_kernel import plan

SUBSTEPS: Final = 4
X, V, PLAN, PLAN_RATE = range(4)
_AT_REST_RAD_S: Final = 2e-3


def field_deg(sine_current: float, cosine_current: float) -> float:
    """Direction of the field of two crossed coils: where a needle without friction points.

    Parameters
    ----------
    sine_current
        Of the coil that pulls toward 90 degrees, any unit, signed.
    cosine_current
        Of the coil that pulls toward 0 degrees, the same unit.

    Returns
    -------
    float
        Degrees from the cosine coil's axis, 0 to 360.
    """
    return degrees(atan2(sine_current, cosine_current)) % 360.0


@njit(cache=True, nogil=True, error_model="numpy")
def _pull(p: Any, x: float, field: float) -> float:
    """Torque of coils and return magnet, N m."""
    return float(p[1] * sin(field - x) - p[6] * sin(x))


@njit(cache=True, nogil=True, error_model="numpy")
def _drive(p: Any, d: Any, y: Any, targets: Any, out: Any) -> None:
    """Follow targets; p: inertia, torque, viscous, dry, extra dry, its angle, return, ..."""
    inertia, viscous, dt = p[0], p[2], d[4]
    for n in range(targets.shape[0]):
        for _ in range(SUBSTEPS):
            plan(d, y, PLAN, targets[n])
            field = y[PLAN] * pi / 180.0
            dry = p[3] + (p[4] if y[X] >= p[5] else 0.0)
            pull = _pull(p, y[X], field)
            way = 1.0 if y[V] > 0.0 or (y[V] == 0.0 and pull > 0.0) else -1.0
            if y[V] == 0.0 and abs(pull) <= dry * p[7]:
                continue
            if (y[X] <= 0.0 and y[V] == 0.0 and pull < 0.0) or (
                y[X] >= p[8] and y[V] == 0.0 and pull > 0.0
            ):
                continue
            # the middle of the step first, then the step with what holds there
            mid_x = y[X] + 0.5 * dt * y[V]
            mid_v = y[V] + 0.5 * dt * (pull - viscous * y[V] - dry * way) / inertia
            y[X] += dt * mid_v
            y[V] += dt * (_pull(p, mid_x, field) - viscous * mid_v - dry * way) / inertia
            if dry > 0.0 and y[V] * way < 0.0:
                y[V] = 0.0
            if y[X] < 0.0 or y[X] > p[8]:
                y[X] = 0.0 if y[X] < 0.0 else p[8]
                y[V] *= -p[9]
                if abs(y[V]) < _AT_REST_RAD_S:
                    y[V] = 0.0
        out[n, 0] = y[X] * 180.0 / pi
        out[n, 1] = out[n, 2] = y[PLAN]


class AirCore:
    """One air-core movement, carried on from one call to the next.

    Parameters
    ----------
    figures
        Its parts.
    driver
        What feeds its coils.
    faults
        What is wrong with it; a snag and play are a stepper's and mean nothing here.
    temperature_degc
        Of the damping oil.
    at_deg
        Where the needle stands without current, degrees above the lower stop.
    """

    def __init__(
        self,
        figures: AirCoreFigures = AIR_CORE,
        driver: DriverFigures = DRIVER,
        faults: MovementFaults = SOUND,
        *,
        temperature_degc: float = REFERENCE_DEGC,
        at_deg: float = 0.0,
    ) -> None:
        self.figures = figures
        self.driver = driver
        self.faults = faults
        self.temperature_degc = temperature_degc
        self.powered = not faults.dead
        self.state = np.zeros(4)
        self.state[X] = radians(at_deg)
        self.state[PLAN] = at_deg
        self.time_s = 0.0

    @property
    def needle_deg(self) -> float:
        """Where the needle stands, degrees above the lower stop."""
        return degrees(float(self.state[X]))

    @property
    def tick_s(self) -> float:
        """How often the target is looked at."""
        return self.driver.tick_s

    @property
    def natural_hz(self) -> float:
        """Frequency of a small swing about the field, without friction."""
        return sqrt(self.figures.torque_nm / self.figures.inertia_kgm2) / (2 * pi)

    def warm_to(self, temperature_degc: float) -> None:
        """Take another temperature and go on from where the needle stands.

        Parameters
        ----------
        temperature_degc
            Of the damping oil.
        """
        self.temperature_degc = temperature_degc

    def key_on(self) -> Run:
        """Feed the coils and point the field at the lower stop.

        Returns
        -------
        Run
            The needle coming home.
        """
        self.powered = not self.faults.dead
        self.state[PLAN] = self.state[PLAN_RATE] = 0.0
        return self.follow(np.zeros(round(2.0 / self.tick_s)))

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
        self.powered = False
        return self.follow(np.full(max(1, round(settle_s / self.tick_s)), self.state[PLAN]))

    def follow(self, targets_deg: NDArray[np.float64]) -> Run:
        """Point the field at targets, one a tick, within the driver's rate and acceleration.

        Parameters
        ----------
        targets_deg
            Degrees above the lower stop.

        Returns
        -------
        Run
            One row a tick, at the tick's end.
        """
        wanted = np.ascontiguousarray(targets_deg, dtype=np.float64)
        out = np.empty((len(wanted), 3))
        driver = np.array(
            [
                360.0,
                1.0,
                self.driver.rate_deg_s,
                self.driver.acceleration_deg_s2,
                self.tick_s / SUBSTEPS,
            ]
        )
        _drive(self._parameters(), driver, self.state, wanted, out)
        t_s = ticks_s(self.time_s, self.tick_s, len(wanted))
        self.time_s += self.tick_s * len(wanted)
        return Run(t_s, out[:, 0], out[:, 1], out[:, 2])

    def _parameters(self) -> NDArray[np.float64]:
        figures, faults = self.figures, self.faults
        inverse = 1 / (self.temperature_degc + KELVIN) - 1 / (REFERENCE_DEGC + KELVIN)
        oil = exp(figures.oil_k * inverse) * faults.grease_factor
        torque = figures.torque_nm * faults.torque_factor if self.powered else 0.0
        return np.array(
            [
                figures.inertia_kgm2,
                torque,
                figures.viscous_nms * oil,
                figures.dry_nm,
                faults.needle_dry_nm,
                radians(faults.drag_from_deg) if faults.drag_from_deg > -inf else -inf,
                figures.return_nm,
                figures.stiction_ratio,
                radians(min(figures.travel_deg, faults.block_deg)),
                figures.stop_restitution,
            ]
        )
