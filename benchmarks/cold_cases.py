"""Temperature series with known truth, for `cold.py` and tests.

The movements are turned by the rehearsed physics, at temperatures that differ from what is stated
as far as start, surroundings, time constant and the thermometer's place may; or they fail by a
logistic rule of the temperature that is written down here.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.sweep_cases import dial_of
from needlewright.bench.warming import Known, Warming
from needlewright.families.model import Dial
from needlewright.findings.cold.moves import RunInCold
from needlewright.readings.runs import Run, RunRow
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.shown import DialMovement, movement_of

ASKED = (
    (-20.0, -10.0, 0.0, 21.0),
    (-20.0, -15.0, -10.0, -5.0, 0.0, 21.0),
    (-17.0, -14.0, -11.0, -8.0, -5.0, -2.0),
    (-18.0, 0.0, 21.0),
)
STEP_S = 20.0
SETTLES_TICKS = 1500
FREEZER_C, ROOM_C = -25.0, 21.0
OTHERS = {
    "drags": (0.1, 0.6),
    "scatters": (1.0, 6.0),
    "wrong face": (0.02, 0.12),
    "slips": (0.1, 0.6),
}
"""Kind to its size: lag in degrees, standard deviation in degrees, share of the way that the face
is off, share of long moves that lose steps at any temperature."""


@dataclass(frozen=True, slots=True)
class Series:
    """One series of one dial."""

    dial: Dial
    runs: tuple[RunInCold, ...]
    onset_c: float | None
    """Below it the physics loses steps on a long fast move; None: at no temperature tried."""
    at_c: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Cold:
    """How warm it is said to be, and how warm it is."""

    stated: Warming
    truth: Warming

    def begins_s(self, degc: float) -> float:
        return self.stated.seconds_until(degc - 1.0) or 0.0

    def parts(self, seconds: float) -> dict[str, float]:
        return dict(self.stated.at(seconds).parts_degc)


def _cold(rng: np.random.Generator) -> _Cold:
    place = float(rng.choice([0.5, 1.0]))
    stated = Warming(Known(FREEZER_C, 1.0), Known(ROOM_C + 2.0, 1.0), Known(900.0, 90.0), place)
    start, around, tau, off = rng.standard_normal(4)
    truth = Warming(
        Known(FREEZER_C + start + place * off, 0.0),
        Known(ROOM_C + 2.0 + around + place * off, 0.0),
        Known(float(900.0 * np.exp(0.1 * tau)), 0.0),
        place,
    )
    return _Cold(stated, truth)


def turned(rng: np.random.Generator, onset_c: float | None, also: MovementFaults = SOUND) -> Series:
    """A series whose needle the physics turns."""
    dial = dial_of(sense=int(rng.choice([-1, 1])))
    grease = SOUND if onset_c is None else fault_of("cold_stall", onset_c)
    faults = replace(also, grease_factor=grease.grease_factor)

    def needle(degc: float) -> "_Needle":
        return _Turned(movement_of(dial, faults, temperature_degc=degc))

    return _taken(rng, dial, onset_c, needle)


def ruled(rng: np.random.Generator, onset_c: float | None) -> Series:
    """A series whose long moves fail by a logistic rule: some cycles are left behind."""
    dial = dial_of(sense=int(rng.choice([-1, 1])))
    width = float(np.exp(rng.normal(0.0, 0.7)))

    def needle(degc: float) -> "_Needle":
        return _Ruled(dial, rng, onset_c, width, degc)

    return _taken(rng, dial, onset_c, needle)


def other(rng: np.random.Generator, kind: str) -> Series:
    """A series whose needle is off warm and cold alike, from no fault of the cold.

    Parameters
    ----------
    rng
        What is drawn with.
    kind
        One of `OTHERS`.

    Returns
    -------
    Series
        Without an onset.
    """
    if kind == "drags":
        # less than a cycle, or its motor would lose its step
        return turned(rng, None, fault_of("dragging", float(rng.uniform(*OTHERS["drags"]))))
    dial = dial_of(sense=int(rng.choice([-1, 1])))
    size = float(rng.uniform(*OTHERS[kind]))
    side = float(rng.choice([-1, 1]))

    def needle(degc: float) -> "_Needle":
        del degc
        return _Off(dial, rng, kind, size, side)

    return _taken(rng, dial, None, needle)


class _Needle:
    """Something that is told where to go and shows where it stands."""

    def stand(self, want_deg: float, degc: float) -> float:
        raise NotImplementedError


class _Turned(_Needle):
    def __init__(self, movement: DialMovement) -> None:
        self.movement = movement
        movement.key_on()

    def stand(self, want_deg: float, degc: float) -> float:
        self.movement.running.warm_to(degc)
        self.movement.follow(np.full(SETTLES_TICKS, want_deg))
        return self.movement.angle_deg


class _Ruled(_Needle):
    def __init__(
        self, dial: Dial, rng: np.random.Generator, onset_c: float | None, width: float, degc: float
    ) -> None:
        del degc
        self.dial, self.rng, self.onset_c, self.width = dial, rng, onset_c, width
        self.lost_deg, self.at_deg = 0.0, dial.stop_angle_deg

    def stand(self, want_deg: float, degc: float) -> float:
        way_deg, self.at_deg = want_deg - self.at_deg, want_deg
        if self.onset_c is not None and abs(way_deg) > 60.0:
            odds = (degc - self.onset_c) / self.width
            if self.rng.random() < 1 / (1 + np.exp(odds)):
                cycles = int(self.rng.integers(1, 20))
                self.lost_deg -= np.sign(way_deg) * cycles * self.dial.movement.cycle_deg
        sense, stop = self.dial.scale.sense, self.dial.stop_angle_deg
        above = sense * (want_deg + self.lost_deg - stop)
        if above < 0:  # the stop gives it its zero again
            self.lost_deg = stop - want_deg
        return stop + sense * max(above, 0.0)


class _Off(_Needle):
    """Off by the same law at every temperature."""

    def __init__(
        self, dial: Dial, rng: np.random.Generator, kind: str, size: float, side: float
    ) -> None:
        self.dial, self.rng, self.kind, self.size, self.side = dial, rng, kind, size, side
        self.lost_deg, self.at_deg = 0.0, dial.stop_angle_deg

    def stand(self, want_deg: float, degc: float) -> float:
        del degc
        stop, sense = self.dial.stop_angle_deg, self.dial.scale.sense
        way_deg, self.at_deg = want_deg - self.at_deg, want_deg
        off = 0.0
        if self.kind == "scatters":
            off = float(self.rng.normal(0.0, self.size))
        elif self.kind == "wrong face":
            off = self.side * self.size * (want_deg - stop)
        elif abs(way_deg) > 60.0 and self.rng.random() < self.size:
            cycles = int(self.rng.integers(1, 20))
            self.lost_deg -= np.sign(way_deg) * cycles * self.dial.movement.cycle_deg
        above = sense * (want_deg + off + self.lost_deg - stop)
        if above < 0 and self.kind == "slips":  # the stop gives it its zero again
            self.lost_deg = stop - want_deg
        return stop + sense * max(above, 0.0)


def _taken(
    rng: np.random.Generator,
    dial: Dial,
    onset_c: float | None,
    needle: Callable[[float], _Needle],
) -> Series:
    cold, asked = _cold(rng), ASKED[int(rng.integers(len(ASKED)))]
    few = ((20.0, 220.0, 20.0), (20.0, 120.0, 220.0, 120.0, 20.0), (20.0, 220.0, 20.0, 220.0, 20.0))
    points = few[int(rng.integers(len(few)))]
    read_u = float(rng.choice([0.05, 0.1, 0.3]))
    runs = []
    for at in asked:
        begins_s = cold.begins_s(at)
        moves = needle(cold.truth.degc_at(begins_s))
        rows, parts, last = [], {}, 0.0
        for step, value in enumerate(points):
            seconds = begins_s + STEP_S * step
            want_deg = dial.programme_angle_deg(value)
            stands = moves.stand(want_deg, cold.truth.degc_at(seconds))
            rows.append(
                RunRow(
                    f"at {at:g}",
                    dial.id,
                    dial.unit,
                    "up" if value > last else "down",
                    value,
                    cold.stated.degc_at(seconds),
                    stands + float(rng.normal(0.0, np.hypot(read_u, 0.1))),
                    read_u,
                    step=step,
                )
            )
            parts[step], last = cold.parts(seconds), value
        runs.append(RunInCold(Run(f"at {at:g}", tuple(rows)), parts))
    return Series(dial, tuple(runs), onset_c, asked)
