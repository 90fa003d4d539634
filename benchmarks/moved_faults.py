"""Runs of dials whose needles are turned by the rehearsed movements, one known fault built in.

Lost steps, play, drag, dead and blocked movements come out of the physics, and so does what else
they bring about; see docs/movements.md.
"""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np

from benchmarks.fault_runs import (
    MILE,
    NO_TRACE_DEG,
    Drawn,
    Moved,
    commands,
    invented_dial,
    observed,
)
from needlewright.errors import UsageError
from needlewright.families.model import Dial
from needlewright.rehearsal.cluster.faults import Injected, faults_of
from needlewright.rehearsal.cluster.firmware import DialFirmware

SETTLED_S = 0.35
TRIES = 40


class _Wire:
    """A signal whose stimulus is the value itself."""

    period_s = None

    def stated_by(self, stimulus: Any) -> SimpleNamespace:
        return SimpleNamespace(value=stimulus)


def _injected(rng: np.random.Generator, dial: Dial, fault: str) -> Injected:
    """A size the fault may have in this dial, and for lost steps where it begins."""
    low, high = dial.scale.angles_deg[0], dial.scale.angles_deg[-1]
    sense = dial.scale.sense
    size: float | None = None
    begins = None
    match fault:
        case "needle_offset":
            size = float(rng.choice([-1, 1]) * np.exp(rng.uniform(np.log(0.8), np.log(14))))
        case "scale_factor":
            factors = [MILE, 1 / MILE, rng.uniform(0.6, 0.95), rng.uniform(1.05, 1.5)]
            size = float(rng.choice(factors))
        case "lost_steps":
            size = -sense * float(rng.integers(1, 4))
            begins = float(rng.uniform(*np.quantile(dial.scale.values, [0.1, 0.8])))
        case "backlash":
            size = float(np.exp(rng.uniform(np.log(0.6), np.log(6))))
        case "dragging":
            size = float(np.exp(rng.uniform(np.log(0.8), np.log(8))))
        case "stalled" | "blocked":
            share = rng.uniform(0.0 if fault == "stalled" else 0.15, 0.9)
            size = float(low + share * (high - low))
        case "wrong_face":
            size = float(np.exp(rng.uniform(np.log(0.8), np.log(14))))
        case "erratic":
            size = float(np.exp(rng.uniform(np.log(0.8), np.log(12))))
    return Injected(dial.id, fault, size, begins)


def _movement(dial: Dial, fault: str) -> Dial:
    """Steppers have play and cycles; an air core drags by degrees, a stepper by parts of one."""
    kind: Any = {"lost_steps": "stepper", "backlash": "stepper", "dragging": "air_core"}.get(
        fault, dial.movement.kind
    )
    return replace(dial, movement=replace(dial.movement, kind=kind))


def move(rng: np.random.Generator, fault: str) -> Drawn:
    """One run of one dial, through its movement."""
    for _ in range(TRIES):
        dial = _movement(invented_dial(rng), fault)
        injected = _injected(rng, dial, fault)
        try:
            faults = faults_of(dial, [injected])
        except UsageError:
            continue  # this movement cannot have that size
        told = commands(rng, dial)
        firmware = DialFirmware(dial, _Wire(), faults, rng=rng)  # type: ignore[arg-type]
        shown = _driven(firmware, told)
        path = np.array([dial.programme_angle_deg(value) for value, _ in told])
        effects = np.abs(shown - path)
        if fault != "sound" and effects.max() < NO_TRACE_DEG:
            continue
        if fault != "stalled":
            shown = shown + rng.normal(0, dial.movement.repeatability_deg, len(shown))
        size = injected.size
        if fault == "needle_offset":
            size = float(np.median(shown - path))  # a pin shows what is left after whole cycles
        if fault == "dragging":
            size = float(effects.max())
        return observed(rng, Moved(dial, told, shown, fault, size, effects, "moved"))
    raise RuntimeError(f"no movement was found that can have '{fault}'")


def _driven(firmware: DialFirmware, told: list[tuple[float, str]]) -> np.ndarray:
    """Angles on the face after each command has settled."""
    firmware.key_on()
    rate = firmware.faults.driver.rate_deg_s
    now_s = 0.0

    def go(seconds: float) -> None:
        nonlocal now_s
        ticks = round(seconds / firmware.tick_s)
        firmware.run(ticks, now_s)
        now_s += ticks * firmware.tick_s

    go(4.0)
    shown, before = [], firmware.angle_deg
    for value, _ in told:
        firmware.hear(value, now_s, steady=True)  # type: ignore[arg-type]
        target = firmware.target_deg()
        go(abs(target - before) / rate + SETTLED_S)
        before = target
        shown.append(firmware.angle_deg)
    return np.array(shown)
