"""Drives nobody drove: logs of the port and photos of the dashboard, by rules of their own.

A drive is what a value did for a minute. The control unit measures it, rounds or cuts it off, and
answers a few times a second; the cluster's needle follows behind; the camera's clock is off. What
is wrong is drawn by sizes of its own, not by those the judging believes in.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from needlewright.families.model import Dial
from needlewright.findings.port_and_photo import Look
from needlewright.readings.model import Reading
from needlewright.signals.obd import Pid
from needlewright.signals.port_log.answers import PortAnswer, PortLog
from needlewright.signals.port_log.dial_pid import pid_of
from needlewright.signals.port_log.told import said_at
from needlewright.units import convert

DRIVE_S = 60.0
FAULTS = ("offset", "factor", "dead", "slipped", "sticking", "loose")
LEAST_DEG = 5.0
"""A wrong needle is off by this much in at least one photo, or the drive is drawn again."""


@dataclass(frozen=True)
class Drive:
    """One dial of one check in a vehicle."""

    dial: Dial
    fault: str
    """`sound`, or one of `FAULTS`."""
    looks: tuple[Look, ...]
    off_deg: tuple[float, ...]
    """How far each needle truly stood from where it belongs."""


def drive(dial: Dial, fault: str, rng: np.random.Generator) -> Drive:
    """Draw one drive; a fault that shows in no photo is drawn anew."""
    for _ in range(200):
        drawn = _drive(dial, fault, rng)
        if fault == "sound" or max(map(abs, drawn.off_deg)) >= LEAST_DEG:
            return drawn
    raise RuntimeError(f"{dial.id}: fault {fault} never shows")


def _drive(dial: Dial, fault: str, rng: np.random.Generator) -> Drive:
    pid = pid_of(dial)
    assert pid is not None
    at_s, course = _course(dial, rng)
    log = _log(dial, pid, at_s, course, rng)
    doubt_s = float(rng.choice([0.5, 1.0, 2.0]))
    clock_off_s = float(rng.uniform(-doubt_s, doubt_s))
    taken = np.sort(rng.uniform(6.0, DRIVE_S - 6.0, int(rng.integers(1, 4))))
    wrong = _Wrong(dial, fault, rng)
    lag_s = float(rng.uniform(0.05, 0.45))
    looks, off = [], []
    for number, shot_s in enumerate(taken):
        true = float(np.interp(shot_s - lag_s, at_s, course))
        belongs = dial.programme_angle_deg(max(true, dial.scale.values[0]))
        stands = wrong.stands(belongs, number)
        off.append(stands - belongs)
        reading = _read(dial, stands, rng)
        said = said_at(log, pid, float(shot_s) + clock_off_s, doubt_s)
        looks.append(Look(f"{number}.jpg", reading, said))
    return Drive(dial, fault, tuple(looks), tuple(off))


def _course(dial: Dial, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """What the true value did: held, with ramps between, and a little restless."""
    low, high = dial.scale.values[0], dial.scale.values[-1]
    held = rng.uniform(low + 0.12 * (high - low), high - 0.1 * (high - low), 4)
    at_s = np.linspace(0, DRIVE_S, 601)
    knots = np.sort(rng.uniform(0, DRIVE_S, 6))
    course = np.interp(at_s, knots, np.repeat(held, 2)[1:7])
    restless = rng.normal(0, 1, 601)
    restless = np.convolve(restless, np.ones(10) / 10, "same")
    return at_s, np.clip(course + restless * 0.002 * (high - low), low, high)


def _log(
    dial: Dial, pid: Pid, at_s: np.ndarray, course: np.ndarray, rng: np.random.Generator
) -> PortLog:
    """Answers a few times a second; some control units round, others cut off."""
    step_s = float(rng.uniform(0.1, 0.6))
    cut = rng.uniform() < 0.5
    answers = []
    for t in np.arange(float(rng.uniform(0, step_s)), DRIVE_S, step_s):
        there = convert(float(np.interp(t, at_s, course)), dial.unit, pid.unit)
        raw = (there - pid.offset) / pid.factor
        raw = np.floor(raw) if cut else np.round(raw)
        answers.append(PortAnswer(float(t), pid.number, raw * pid.factor + pid.offset, "7E8"))
    return PortLog(Path("drawn"), "utc", 0.0, DRIVE_S, tuple(answers))


class _Wrong:
    """Where a needle stands that belongs somewhere."""

    def __init__(self, dial: Dial, fault: str, rng: np.random.Generator) -> None:
        self._dial, self._fault, self._rng = dial, fault, rng
        self._side = float(rng.choice([-1, 1]))
        self._size = float(rng.uniform(5, 25))
        self._factor = float(rng.choice([0.621, 1.609, 0.8, 1.25, 0.9, 1.12]))
        self._rest = float(dial.rest_angle_deg)
        span = dial.scale.span
        house = span * 0.01 / 2  # a sound needle is seated this well, k = 1
        self._seat = float(np.clip(rng.normal(0, house / 2), -house, house))

    def stands(self, belongs: float, number: int) -> float:
        dial, rng = self._dial, self._rng
        zero, end = dial.scale.angles_deg[0], dial.scale.angles_deg[-1]
        per_value = abs(end - zero) / dial.scale.span
        at = belongs + self._seat * per_value + rng.normal(0, dial.movement.repeatability_deg)
        match self._fault:
            case "offset":
                at += self._side * self._size
            case "factor":
                at = zero + (at - zero) * self._factor
            case "dead":
                at = self._rest
            case "slipped":
                at += (
                    self._side * dial.movement.cycle_deg * round(1 + self._size / 2) * (number + 1)
                )
            case "sticking":
                at -= dial.scale.sense * self._side * abs(rng.normal(8, 3))
            case "loose":
                at += rng.normal(0, 12)
        low, high = sorted((zero - dial.scale.sense * 2, end + dial.scale.sense * 8))
        return float(np.clip(at, low, high))


def _read(dial: Dial, stands: float, rng: np.random.Generator) -> Reading:
    u = float(rng.choice([0.1, 0.2, 0.4]))
    seen = stands + float(rng.normal(0, u))
    if not dial.scale.reaches_angle(seen):
        return Reading(dial.id, "read", dial.unit, None, seen, u)
    value = dial.scale.value_at(seen)
    return Reading(
        dial.id, "read", dial.unit, None, seen, u, value, u * abs(dial.scale.slope_at(seen))
    )
