"""Runs of invented dials with one known fault, drawn by rules of their own.

Nothing of `needlewright.findings` is used: what each fault does to a needle is written down here
from what the trade says of it, one command after the other, as a needle would go through them.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from needlewright.families.model import Dial, Family, Movement, Needle, Programme
from needlewright.families.scale import Scale
from needlewright.readings.complete import complete_run
from needlewright.readings.runs import Run, RunRow

SINGLE = (
    "sound",
    "needle_offset",
    "scale_factor",
    "lost_steps",
    "backlash",
    "dragging",
    "stalled",
    "blocked",
    "wrong_face",
    "erratic",
)
STEP_DEG = 0.25
PAST_END_DEG = 8.0
MILE = 1.609344
NO_TRACE_DEG = 0.3
"""A fault whose largest effect on a row stays below twice a movement's repeatability is not in the
run: a block above the highest command, an offset that homing against a pin takes away."""
UNITS = {1.0: "fraction of full", 8.0: "1000 r/min", 16.0: "V", 120.0: "degC", 240.0: "km/h"}

Stands = tuple[np.ndarray, float | None]
"""Where a needle stands at each command, degrees of rise, and its fault's size."""


@dataclass(frozen=True)
class Drawn:
    """One dial's run and its truth."""

    dial: Dial
    rows: tuple[RunRow, ...]
    fault: str
    size: float | None
    """In the vocabulary's unit; angles positive clockwise."""
    effect_deg: float
    """Largest error the fault makes in a row that was read."""
    u_deg: float
    """Median uncertainty of the readings."""
    identifiable: bool
    source: str = "drawn"


@dataclass(frozen=True)
class Moved:
    """What really happened, before anybody looked."""

    dial: Dial
    told: list[tuple[float, str]]
    true_deg: np.ndarray
    """Clockwise from 12 o'clock."""
    fault: str
    size: float | None
    effects_deg: np.ndarray
    """Of the fault on each row, without the movement's own scatter."""
    source: str

    @property
    def path_deg(self) -> np.ndarray:
        """Where a sound needle would stand."""
        return np.array([self.dial.programme_angle_deg(value) for value, _ in self.told])


def invented_dial(rng: np.random.Generator, kind: str | None = None) -> Dial:
    """A dial that no family has: any span, direction, kind of stop and movement."""
    marks = int(rng.integers(5, 13))
    sense = 1 if rng.random() < 0.75 else -1
    span = float(rng.uniform(80, 270))
    steps = np.ones(marks - 1) if rng.random() < 0.7 else rng.uniform(0.7, 1.3, marks - 1)
    angles = np.concatenate([[0.0], np.cumsum(steps) / steps.sum() * span])
    top = float(rng.choice(list(UNITS)))
    values = np.linspace(0.0, top, marks)
    first = -sense * span / 2 + float(rng.uniform(-20, 20))
    rises = rng.random() < 0.3
    programme = Programme((0.0, top), (0.0, top * 1.02)) if rises else Programme()
    chosen: Any = kind or str(rng.choice(["stepper", "stepper", "stepper", "air_core"]))
    return Dial(
        id="dial",
        quantity="drawn",
        unit=UNITS[top],
        centre_mm=(50.0, 50.0),
        scale=Scale(tuple(map(float, values)), tuple(map(float, first + sense * angles))),
        direction="cw" if sense > 0 else "ccw",
        rest_angle_deg=first,
        rest_pin=bool(rng.random() < 0.5),
        needle=Needle(40.0, 8.0, 3.0, 1.0, 5.0, 4.0, 1.0),
        programme=programme,
        movement=Movement(kind=chosen),
        graduation=float(values[1] - values[0]) / 5,
    )


def commands(rng: np.random.Generator, dial: Dial) -> list[tuple[float, str]]:
    """5 to 25 uneven points, up and mostly down again."""
    count = int(rng.integers(5, 26))
    low, high = dial.scale.values[0], dial.scale.values[-1]
    up_only = rng.random() < 0.2
    ups = count if up_only else max(2, (count + 1) // 2)
    rising = np.sort(rng.uniform(low, high, ups))
    if rng.random() < 0.5:
        rising = np.linspace(low, high, ups)
    told = [(float(v), "up") for v in rising]
    if not up_only:
        other = np.sort(rng.uniform(low, rising[-1], ups))
        falling = (rising[:-1] if rng.random() < 0.7 else other)[::-1]
        told += [(float(v), "down") for v in falling[: count - ups]]
    return told


class _Needle:
    """A needle's dial in degrees of rise, its stops, and how it sits."""

    def __init__(self, dial: Dial) -> None:
        self.dial = dial
        self.sense = dial.scale.sense
        self.knots = self.sense * np.array(dial.scale.angles_deg)
        self.span = float(self.knots[-1] - self.knots[0])
        self.low = self.sense * dial.stop_angle_deg
        self.high = float(self.knots[-1]) + PAST_END_DEG
        self.seat = 0.0

    def rise(self, value: float) -> float:
        marks = np.array(self.dial.scale.values)
        i = int(np.clip(np.searchsorted(marks, value, side="right") - 1, 0, len(marks) - 2))
        slope = (self.knots[i + 1] - self.knots[i]) / (marks[i + 1] - marks[i])
        return float(self.knots[i] + (value - marks[i]) * slope)

    def stopped(self, at: float) -> float:
        seat = 0.0 if self.dial.rest_pin else self.seat
        return float(np.clip(at, self.low + seat, self.high + seat))


@dataclass(frozen=True)
class _Way:
    """What a needle is told, one command after the other."""

    rng: np.random.Generator
    needle: _Needle
    shown: np.ndarray
    path: np.ndarray
    up: np.ndarray

    @classmethod
    def of(cls, rng: np.random.Generator, needle: _Needle, told: list[tuple[float, str]]) -> "_Way":
        shown = np.array([needle.dial.programme.shown_at(value) for value, _ in told])
        path = np.array([needle.rise(value) for value in shown])
        return cls(rng, needle, shown, path, np.array([way == "up" for _, way in told]))


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _stuck_and_let_go(rng: np.random.Generator, path: np.ndarray, lag: float) -> np.ndarray:
    """A needle that sticks until it is pulled far enough, then jumps most of the way."""
    at, stands = path[0], []
    wanted = path[0]
    for target in path:
        way = np.arange(wanted, target, STEP_DEG * np.sign(target - wanted or 1.0))
        for step in (*way, target):
            if abs(step - at) > lag:
                at = step - np.sign(step - at) * lag * rng.uniform(0.0, 0.4)
        wanted = target
        stands.append(at)
    return np.array(stands)


def _sound(way: _Way) -> Stands:
    return way.path, None


def _needle_offset(way: _Way) -> Stands:
    way.needle.seat = _log_uniform(way.rng, 0.5, 15.0) * float(way.rng.choice([-1, 1]))
    return way.path + way.needle.seat, way.needle.sense * way.needle.seat


def _scale_factor(way: _Way) -> Stands:
    rng = way.rng
    ratio = float(rng.choice([MILE, 1 / MILE, rng.uniform(0.6, 0.96), rng.uniform(1.04, 1.5)]))
    return np.array([way.needle.rise(ratio * value) for value in way.shown]), ratio


def _lost_steps(way: _Way) -> Stands:
    rng, lost = way.rng, np.zeros(len(way.path))
    for _ in range(1 + int(rng.random() < 0.1)):
        at = int(rng.integers(1, len(way.path)))
        back = 1 if rng.random() < 0.9 else -1
        lost[at:] -= back * (1 if way.up[at] else -1) * int(rng.integers(1, 6))
    cycle_deg = way.needle.dial.movement.cycle_deg
    return way.path + cycle_deg * lost, way.needle.sense * float(lost[-1])


def _backlash(way: _Way) -> Stands:
    play, share = _log_uniform(way.rng, 0.4, 7.0), float(way.rng.uniform(0, 1))
    return way.path + np.where(way.up, -share * play, (1 - share) * play), play


def _dragging(way: _Way) -> Stands:
    lag = _log_uniform(way.rng, 0.6, 9.0)
    from_rest = np.concatenate([[way.path[0] - 20.0], way.path])
    stands = _stuck_and_let_go(way.rng, from_rest, lag)[1:]
    return stands, float(np.max(np.abs(stands - way.path)))


def _stalled(way: _Way) -> Stands:
    knots, rng = way.needle.knots, way.rng
    at = float(knots[0] if rng.random() < 0.4 else rng.uniform(knots[0], knots[-1]))
    return np.full(len(way.path), at), way.needle.sense * at


def _blocked(way: _Way) -> Stands:
    at = float(way.needle.knots[0] + way.needle.span * way.rng.uniform(0.15, 0.9))
    return np.minimum(way.path, at), way.needle.sense * at


def _wrong_face(way: _Way) -> Stands:
    rng, x = way.rng, (way.path - way.needle.knots[0]) / way.needle.span
    shape = int(rng.integers(3))
    if shape == 0:
        bent = np.sin(np.pi * rng.uniform(1.0, 2.2) * x + rng.uniform(0, 6.3))
    elif shape == 1:
        bent = 4 * x * (1 - x) * rng.choice([-1, 1])
    else:
        bent = 4 * (np.clip(x, 0, 1) ** rng.choice([0.7, 1.4]) - x)
    error = _log_uniform(rng, 0.6, 14.0) * bent
    return way.path + error, float(np.max(np.abs(error)))


def _erratic(way: _Way) -> Stands:
    rng, count = way.rng, len(way.path)
    sd, share = _log_uniform(rng, 0.6, 12.0), float(rng.choice([1.0, 1.0, 0.5]))
    hit = rng.random(count) < share
    return way.path + np.where(hit, rng.normal(0, sd, count), 0.0), sd


_RULES = (
    _sound,
    _needle_offset,
    _scale_factor,
    _lost_steps,
    _backlash,
    _dragging,
    _stalled,
    _blocked,
    _wrong_face,
    _erratic,
)
FAULTY = dict(zip(SINGLE, _RULES, strict=True))


def draw(rng: np.random.Generator, fault: str) -> Drawn:
    """One run of one invented dial in which the fault left a trace."""
    while True:
        dial = invented_dial(rng, "stepper" if fault in ("backlash", "lost_steps") else None)
        told = commands(rng, dial)
        needle = _Needle(dial)
        way = _Way.of(rng, needle, told)
        stands, size = FAULTY[fault](way)
        effects = np.abs(np.array([needle.stopped(at) for at in stands]) - way.path)
        if fault != "stalled":
            stands = stands + rng.normal(0, dial.movement.repeatability_deg, len(stands))
        true_deg = needle.sense * np.array([needle.stopped(at) for at in stands])
        if fault == "sound" or effects.max() >= NO_TRACE_DEG:
            return observed(rng, Moved(dial, told, true_deg, fault, size, effects, "drawn"))


def observed(rng: np.random.Generator, moved: Moved) -> Drawn:
    """Read the needles with an uncertainty, by camera or by eye, one row perhaps wildly wrong."""
    dial, fault, count = moved.dial, moved.fault, len(moved.told)
    typed = rng.random() < 0.2
    u = _log_uniform(rng, 0.05, 1.0)
    if typed:
        assert dial.graduation is not None
        u = dial.graduation / 2 / 3**0.5 / abs(dial.scale.slope_at(dial.scale.middle_deg))
    seen = moved.true_deg + rng.normal(0, u, count)
    if rng.random() < 0.15:
        seen[int(rng.integers(count))] += rng.choice([-1, 1]) * rng.uniform(5, 40)
    rows = tuple(
        _row(dial, *one, u_deg=None if typed else u) for one in zip(moved.told, seen, strict=True)
    )
    family = Family("drawn", (100.0, 100.0), 10.0, (dial,), Path("."))
    run = complete_run(Run("drawn", rows), family)
    median_u = float(np.median([row.u_angle_deg for row in run.rows]))
    effect = float(np.max(moved.effects_deg)) if fault != "sound" else 0.0
    if fault in ("needle_offset", "backlash"):
        effect = abs(moved.size or 0.0)
    plain_deg = max(0.8, 5 * median_u)
    can = fault == "sound" or (effect >= plain_deg and rows_suffice(moved, plain_deg))
    return Drawn(dial, run.rows, fault, moved.size, effect, median_u, can, moved.source)


def _row(dial: Dial, told: tuple[float, str], seen_deg: float, *, u_deg: float | None) -> RunRow:
    scale = dial.scale
    common: dict[str, Any] = {"run": "drawn", "dial": dial.id, "unit": dial.unit}
    common |= {"commanded": told[0], "approach": told[1]}
    if u_deg is not None:
        return RunRow(**common, angle_deg=float(seen_deg), u_angle_deg=u_deg)
    low, high = sorted((scale.angles_deg[0], scale.angles_deg[-1]))
    inside = float(np.clip(seen_deg, low - 15.0, high + 15.0))
    return RunRow(**common, indicated=scale.value_at(inside))


def rows_suffice(moved: Moved, plain_deg: float) -> bool:  # noqa: PLR0911
    """Whether there are rows enough: pairs for play and drag, rows on either side of a slip.

    A fault that is plain in one row alone may as well be a wild row.
    """
    plain, count = moved.effects_deg >= plain_deg, len(moved.told)
    ways = [way for _, way in moved.told]
    match moved.fault:
        case "backlash" | "dragging":
            return min(ways.count("up"), ways.count("down")) >= 3
        case "lost_steps":
            return _rows_beside_slips(moved)
        case "scale_factor":
            return count >= 6 and bool(plain.sum() >= 2)
        case "wrong_face":
            return count >= 6 and _has_a_shape(moved, plain_deg)
        case "erratic":
            return count >= 6 and bool(plain.sum() >= max(3, count // 5))
        case "blocked":
            return _held_and_free(moved, plain)
        case "stalled":
            return bool(plain.sum() >= 2)
    return True


def _rows_beside_slips(moved: Moved) -> bool:
    error = moved.dial.scale.sense * (moved.true_deg - moved.path_deg)
    jumps = np.flatnonzero(np.abs(np.diff(error)) > 0.6 * moved.dial.movement.cycle_deg) + 1
    sides = np.diff(np.concatenate([[0], jumps, [len(error)]]))
    return bool(len(jumps)) and bool(sides.min() >= 2)


def _held_and_free(moved: Moved, plain: np.ndarray) -> bool:
    """Two rows at the block, and two in which the needle still follows."""
    sense = moved.dial.scale.sense
    path, seen = sense * moved.path_deg, sense * moved.true_deg
    held = plain & (np.abs(seen - seen.max()) < 3.0) & (path > seen.max())
    return bool(held.sum() >= 2 and plain.sum() <= len(path) - 2)


def _has_a_shape(moved: Moved, plain_deg: float) -> bool:
    """Whether the error is plainly neither the same everywhere nor proportional."""
    path = moved.path_deg
    error, way = moved.true_deg - path, path - moved.dial.scale.angles_deg[0]
    constant = error - np.median(error)
    proportional = error - way * float(way @ error) / max(float(way @ way), 1e-9)
    return all((np.abs(left) >= plain_deg).sum() >= 2 for left in (constant, proportional))
