"""Typical figures of the movements instruments use, all of them in this one place.

Every number here is from memory: an order of size for the class, no data sheet of anything. What
a family states (`cycle_deg`, `stop_below_deg`) is taken from the family.
"""

from dataclasses import dataclass
from typing import Final

REFERENCE_DEGC: Final = 23.0
"""The temperature the figures hold at."""


KELVIN: Final = 273.15
"""Zero of the Celsius scale, kelvin."""


@dataclass(frozen=True, slots=True)
class StepperFigures:
    """A geared two-coil stepper: a magnet of one pole pair, so one rotor turn is one cycle.

    Torques, inertias and friction of the rotor are at the rotor; those of the needle at the
    needle's shaft. From memory.
    """

    coil_axes_deg: float = 60.0
    """Angle between the two coils' axes: 60 gives six full steps a cycle, 90 four."""
    cycle_deg: float = 2.0
    """Needle angle of one electrical cycle."""
    coil_ohm: float = 280.0
    """At the reference temperature."""
    coil_h: float = 0.25
    supply_v: float = 5.0
    torque_nm_per_a: float = 1.3e-3
    rotor_kgm2: float = 2.5e-10
    needle_kgm2: float = 0.8e-6
    """Needle, hub and output wheel."""
    gear_nm_per_rad: float = 1.6
    """Stiffness of the gear train at the needle's shaft."""
    gear_nms_per_rad: float = 4.0e-4
    """Damping where teeth touch, at the needle's shaft."""
    backlash_deg: float = 0.1
    """Play of the gear train at the needle."""
    rotor_viscous_nms: float = 6.0e-10
    """Grease of rotor and train at the reference temperature."""
    grease_k: float = 4000.0
    """Exponent of the grease's viscosity: it goes as exp(grease_k / absolute temperature)."""
    needle_viscous_nms: float = 2.0e-6
    rotor_dry_nm: float = 4.0e-7
    needle_dry_nm: float = 6.0e-5
    stiction_ratio: float = 1.3
    """Friction that holds over friction that drags."""
    detent_nm: float = 1.2e-6
    """Amplitude of the torque without current; it holds at the full steps."""
    stop_restitution: float = 0.35
    travel_deg: float = 315.0
    """Between the stops."""
    copper_per_k: float = 0.00393
    """Of the coils' resistance; that of copper."""
    magnet_per_k: float = -0.002
    """Of the torque for one ampere; ferrite."""


@dataclass(frozen=True, slots=True)
class AirCoreFigures:
    """Crossed coils round a magnet on the needle's own shaft, damped by oil. From memory."""

    torque_nm: float = 8.0e-4
    """With the needle 90 degrees from the field, at full current."""
    inertia_kgm2: float = 1.0e-6
    viscous_nms: float = 5.0e-5
    """Damping oil at the reference temperature."""
    oil_k: float = 2000.0
    """Exponent of the oil's viscosity: exp(oil_k / absolute temperature); silicone is flat."""
    dry_nm: float = 4.0e-6
    stiction_ratio: float = 1.3
    return_nm: float = 0.0
    """Torque of a magnet that pulls the needle home, at 90 degrees from its stop."""
    stop_restitution: float = 0.2
    travel_deg: float = 315.0


@dataclass(frozen=True, slots=True)
class ThermalFigures:
    """A heated bimetal strip. From memory."""

    lag_s: float = 9.0
    travel_deg: float = 110.0


@dataclass(frozen=True, slots=True)
class DriverFigures:
    """What the firmware of a cluster does with a movement. From memory."""

    microsteps: int = 4
    """Microsteps of one full step: with 1/3 degree a full step, 1/12 degree each."""
    rate_deg_s: float = 400.0
    acceleration_deg_s2: float = 1500.0
    homing_deg_s: float = 150.0
    homing_deg: float = 330.0
    """How far the needle is driven down at key-on, without being asked where it stands."""
    homing_last_deg: float = 6.0
    """The end of that way, which it goes slowly, so that the rotor does not bounce off the stop."""
    homing_last_deg_s: float = 20.0
    tick_s: float = 0.001
    """How often the firmware looks at its target."""


STEPPER: Final = StepperFigures()
AIR_CORE: Final = AirCoreFigures()
THERMAL: Final = ThermalFigures()
DRIVER: Final = DriverFigures()
