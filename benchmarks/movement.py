"""What the rehearsed movements can do, and how fast they run: `python benchmarks/movement.py`.

CPU time of one movement over the time it lives through; then the figures of the class that come
out of the physics: natural frequency, start-stop rate, fastest sweep at a temperature.
"""

import time
from dataclasses import replace

import numpy as np
from rich.console import Console
from rich.table import Table

from needlewright.rehearsal.movement.air_core import AirCore
from needlewright.rehearsal.movement.figures import DRIVER, STEPPER
from needlewright.rehearsal.movement.run import Running
from needlewright.rehearsal.movement.stepper import Stepper
from needlewright.rehearsal.movement.thermal import Thermal

LIVED_S = 60.0
LEAST_TIMES_REAL = 100.0
TEMPERATURES_DEGC = (60.0, 23.0, 0.0, -20.0, -40.0)


def times_real(movement: Running) -> float:
    """Seconds lived through in one second of CPU."""
    at_s = np.arange(round(LIVED_S / movement.tick_s)) * movement.tick_s
    targets = 100.0 * np.sin(1.5 * at_s) ** 2
    movement.follow(targets[:10])
    start = time.process_time()
    movement.follow(targets)
    return LIVED_S / (time.process_time() - start)


def fastest_deg_s(degc: float, acceleration_deg_s2: float) -> float:
    """Fastest sweep over 240 degrees and back that loses nothing, degrees a second."""
    low, high = 5.0, min(1500.0, np.sqrt(acceleration_deg_s2 * 240.0))
    for _ in range(9):
        rate = (low + high) / 2
        driver = replace(DRIVER, rate_deg_s=rate, acceleration_deg_s2=acceleration_deg_s2)
        stepper = Stepper(driver=driver, temperature_degc=degc, at_deg=0.0)
        ticks = round((240.0 / rate + 2 * rate / acceleration_deg_s2 + 0.3) / stepper.tick_s)
        run = stepper.follow(np.repeat([240.0, 0.0], ticks))
        lost = np.abs(run.needle_deg - run.driver_deg).max() > 0.75 * STEPPER.cycle_deg
        low, high = (low, rate) if lost else (rate, high)
    return low


def main() -> None:
    """Measure and print."""
    console = Console()
    speed = Table(title="speed, one core", title_justify="left")
    for column in ("movement", "times real time", "required"):
        speed.add_column(column, justify="left" if column == "movement" else "right")
    for name, movement in (
        ("stepper, 60 degrees between the coils", Stepper()),
        ("stepper, 90 degrees", Stepper(replace(STEPPER, coil_axes_deg=90.0))),
        ("air core", AirCore()),
        ("thermal", Thermal()),
    ):
        speed.add_row(name, f"{times_real(movement):.0f}", f">= {LEAST_TIMES_REAL:.0f}")
    console.print(speed)
    table = Table(title="a sound stepper, figures of the class from memory", title_justify="left")
    for column in ("degC", "natural Hz", "start-stop deg/s", "fastest sweep deg/s"):
        table.add_column(column, justify="right")
    for degc in TEMPERATURES_DEGC:
        natural = Stepper(temperature_degc=degc).natural_hz
        table.add_row(
            f"{degc:g}",
            f"{natural:.1f}",
            f"{fastest_deg_s(degc, 1e9):.0f}",
            f"{fastest_deg_s(degc, DRIVER.acceleration_deg_s2):.0f}",
        )
    console.print(table)


if __name__ == "__main__":
    main()
