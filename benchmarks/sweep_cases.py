"""Needles in sweeps with known faults, as a camera would report them, for `events.py` and tests.

Sound motion, play, friction, blocks, cold and snags come out of the rehearsed movements' physics. A
needle that falls back by whole cycles between two frames, and one that is held and lets go, are cut
into the angles of a sound one, so that the instant and the size are known exactly.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial, Movement, MovementKind, Needle
from needlewright.families.scale import Scale
from needlewright.readings.track import DialTrack, track_of_angles
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import AIR_CORE, DRIVER, DriverFigures
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.shown import movement_of
from needlewright.rehearsal.movement.sweeps import Law, sweep_targets
from needlewright.rehearsal.movement.watched import Watching, frame_times, watch

FloatArray = NDArray[np.float64]
TICK_S = DRIVER.tick_s
LAWS: tuple[Law, ...] = ("at_once", "smooth", "even")
TOP_DEG = 242.0


@dataclass(frozen=True, slots=True)
class Truth:
    """What happened in truth; size in the vocabulary's sign and unit."""

    t_s: float
    fault: str
    size_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One watched sweep."""

    dial: Dial
    track: DialTrack
    command: tuple[FloatArray, FloatArray]
    happened: tuple[Truth, ...]


def dial_of(kind: MovementKind = "stepper", sense: int = 1, cycle_deg: float = 2.0) -> Dial:
    """An invented dial of 240 degrees, its stop two degrees below its first mark."""
    return Dial(
        id="speed",
        quantity="road speed",
        unit="km/h",
        centre_mm=(50.0, 50.0),
        scale=Scale((0.0, 240.0), (-120.0 * sense, 120.0 * sense)),
        direction="cw" if sense > 0 else "ccw",
        rest_angle_deg=-120.0 * sense,
        rest_pin=False,
        needle=Needle(40.0, 10.0, 2.0, 1.0, 6.0, 3.0, 1.0),
        movement=Movement(kind=kind, cycle_deg=cycle_deg),
    )


def driver_of(rng: np.random.Generator) -> DriverFigures:
    """Firmware of one kind or another."""
    return replace(
        DRIVER,
        rate_deg_s=float(rng.choice([100.0, 200.0, 300.0])),
        acceleration_deg_s2=float(rng.choice([600.0, 1500.0, 3000.0])),
    )


def swept(
    dial: Dial,
    rng: np.random.Generator,
    *,
    law: Law,
    driver: DriverFigures,
    faults: MovementFaults = SOUND,
    degc: float = 23.0,
    top_deg: float = TOP_DEG,
    sweeps: int = 1,
) -> tuple[FloatArray, FloatArray]:
    """Commanded and true angles on the face, one a tick."""
    movement = movement_of(dial, faults, driver=driver, temperature_degc=degc)
    movement.key_on()
    asked, shown = [], []
    for _ in range(sweeps):
        slowest_s = 1.7 * top_deg / driver.rate_deg_s
        one_way_s = max(rng.uniform(1.3, 4.0), slowest_s)
        targets = sweep_targets(law, top_deg, one_way_s, TICK_S, rng)
        run = movement.running.follow(targets)
        asked.append(run.driver_deg)
        shown.append(run.needle_deg)
    sense, stop = dial.scale.sense, dial.stop_angle_deg
    return stop + sense * np.concatenate(asked), stop + sense * np.concatenate(shown)


def seen(
    dial: Dial,
    angles: tuple[FloatArray, FloatArray],
    happened: tuple[Truth, ...],
    watching: Watching,
    rng: np.random.Generator,
) -> Case:
    """The sweep as a camera reports it."""
    asked, shown = angles
    at_s = TICK_S * np.arange(1, len(shown) + 1)
    t_s = frame_times(watching, float(at_s[-1]), rng)
    true = np.interp(t_s, at_s, shown)
    read = watch(t_s, true, watching, rng)
    u_deg = float(np.hypot(watching.noise_deg, watching.shake_deg))
    track = track_of_angles(dial.id, t_s, read, u_deg, watching.noise_deg)
    return Case(dial, track, (at_s, asked), happened)


def sound(watching: Watching, rng: np.random.Generator, sweeps: int = 4) -> Case:
    """Nothing wrong: any law, any firmware, warm or cold, either sense, full or part of the way."""
    dial = dial_of(sense=int(rng.choice([-1, 1])))
    law: Law = str(rng.choice([*LAWS, "points"]))  # type: ignore[assignment]
    top_deg = TOP_DEG if rng.uniform() < 0.7 else rng.uniform(60.0, TOP_DEG)
    angles = swept(
        dial,
        rng,
        law=law,
        driver=driver_of(rng),
        degc=float(rng.choice([23.0, 0.0, -15.0])),
        top_deg=float(top_deg),
        sweeps=sweeps,
    )
    return seen(dial, angles, (), watching, rng)


def fallen_back(
    watching: Watching, rng: np.random.Generator, law: Law | None = None, most: int = 4
) -> Case:
    """Slips of one to five cycles against a motion of 40 deg/s or more; the offset stays."""
    sense = int(rng.choice([-1, 1]))
    dial = dial_of(sense=sense, cycle_deg=float(rng.choice([2.0, 2.0, 3.0])))
    chosen: Law = law or str(rng.choice(LAWS))  # type: ignore[assignment]
    asked, shown = swept(dial, rng, law=chosen, driver=driver_of(rng))
    sound = sense * (shown - dial.stop_angle_deg)
    rate, offset = np.gradient(sound, TICK_S), np.zeros(len(sound))
    happened: list[Truth] = []
    for _ in range(int(rng.integers(1, most + 1))):
        cycles = int(rng.choice([1, 1, 2, 3, 4, 5]))
        moving = (np.abs(rate) > 40.0) & (sound + offset > 25.0)
        for other in happened:
            moving &= np.abs(TICK_S * np.arange(len(rate)) - other.t_s) > 0.35
        places = np.flatnonzero(moving)
        if not len(places):
            break
        at = int(rng.choice(places))
        step = -np.sign(rate[at]) * cycles * dial.movement.cycle_deg
        offset[at:] += step
        happened.append(Truth(at * TICK_S, "lost_steps", sense * float(step)))
    above = np.maximum(sound + offset, 0.0)
    happened = [h for h in happened if above[round(h.t_s / TICK_S) + 150] > 12.0]
    happened.sort(key=lambda event: event.t_s)
    return seen(dial, (asked, dial.stop_angle_deg + sense * above), tuple(happened), watching, rng)


def held(watching: Watching, rng: np.random.Generator) -> Case:
    """Held for a while, then jumping after its command; one to three times a sweep."""
    dial = dial_of(sense=int(rng.choice([-1, 1])))
    law: Law = str(rng.choice(LAWS))  # type: ignore[assignment]
    asked, shown = swept(dial, rng, law=law, driver=driver_of(rng))
    rate = np.abs(np.gradient(shown, TICK_S))
    happened: list[Truth] = []
    for _ in range(int(rng.integers(1, 4))):
        stall, jump = (round(s / TICK_S) for s in (rng.uniform(0.12, 0.4), rng.uniform(0.04, 0.1)))
        places = np.flatnonzero(rate > 25.0)
        places = places[(places > 600) & (places < len(shown) - 900)]
        places = [
            p for p in places if rate[p - 350 : p + stall + jump + 350].min() > 10.0
            and all(abs(p * TICK_S - other.t_s) > 1.2 for other in happened)
        ]  # fmt: skip
        if not places:
            break
        at = int(rng.choice(places))
        lets_go, caught_up = at + stall, at + stall + jump
        lag = abs(float(shown[lets_go] - shown[at]))
        shown = shown.copy()
        shown[at:lets_go] = shown[at]
        shown[lets_go:caught_up] = np.linspace(shown[at], shown[caught_up], jump)
        happened.append(Truth(lets_go * TICK_S, "dragging", lag))
    happened.sort(key=lambda event: event.t_s)
    return seen(dial, (asked, shown), tuple(happened), watching, rng)


def blocked(watching: Watching, rng: np.random.Generator, kind: MovementKind = "stepper") -> Case:
    """Something the needle cannot pass."""
    dial = dial_of(kind)
    block_deg = float(rng.uniform(50.0, 200.0))
    faults = fault_of("blocked", block_deg, kind)
    driver = replace(driver_of(rng), acceleration_deg_s2=600.0)
    angles = swept(dial, rng, law="smooth", driver=driver, faults=faults)
    at_deg = dial.stop_angle_deg + block_deg
    reached = int(np.argmax(angles[1] > at_deg - 0.6)) * TICK_S
    return seen(dial, angles, (Truth(reached, "blocked", at_deg),), watching, rng)


def stalled(watching: Watching, rng: np.random.Generator) -> Case:
    """No current reaches the coils."""
    dial = dial_of()
    faults = fault_of("stalled", 0.0)
    angles = swept(dial, rng, law="smooth", driver=driver_of(rng), faults=faults)
    moved = int(np.argmax(np.abs(angles[0] - angles[0][0]) > 1.0)) * TICK_S
    return seen(dial, angles, (Truth(moved, "stalled", float(angles[1][-1])),), watching, rng)


def worn(watching: Watching, rng: np.random.Generator) -> Case:
    """A worn train: play of 0.8 to 1.8 degrees; with more it also homes a cycle too low."""
    dial = dial_of(sense=int(rng.choice([-1, 1])))
    play_deg = float(rng.uniform(0.8, 1.8))
    driver = replace(driver_of(rng), acceleration_deg_s2=600.0)
    law: Law = str(rng.choice(LAWS))  # type: ignore[assignment]
    faults = fault_of("backlash", play_deg)
    angles = swept(dial, rng, law=law, driver=driver, faults=faults, sweeps=2)
    above = dial.scale.sense * (angles[0] - dial.stop_angle_deg)
    falls = int(np.argmax(np.diff(above) < -0.01)) * TICK_S
    return seen(dial, angles, (Truth(falls, "backlash", play_deg),), watching, rng)


def rubbing(watching: Watching, rng: np.random.Generator) -> Case:
    """An air core with dry friction: sticks until the field is far enough ahead, then jumps."""
    dial = dial_of("air_core")
    lag_deg = float(rng.uniform(4.0, 15.0))
    begins_deg = float(rng.uniform(40.0, 120.0))
    faults = fault_of("dragging", lag_deg, "air_core", begins_deg=begins_deg)
    driver = replace(DRIVER, rate_deg_s=100.0, acceleration_deg_s2=600.0)
    angles = swept(dial, rng, law="smooth", driver=driver, faults=faults, top_deg=200.0)
    # friction that lets go at this lag drags with less, and leaves the needle so far behind
    rests_deg = float(np.degrees(np.arcsin(np.sin(np.radians(lag_deg)) / AIR_CORE.stiction_ratio)))
    return seen(dial, angles, (Truth(-1.0, "dragging", rests_deg),), watching, rng)


def snagged(watching: Watching, rng: np.random.Generator) -> Case:
    """A slow stepper caught by a snag: the physics loses the cycles, and takes its time."""
    dial = dial_of()
    driver = replace(DRIVER, rate_deg_s=30.0)
    at_deg = float(rng.uniform(20.0, 60.0))
    cycles = int(rng.integers(1, 5))
    faults = fault_of("lost_steps", cycles, begins_deg=at_deg, driver=driver)
    angles = swept(dial, rng, law="at_once", driver=driver, faults=faults, top_deg=85.0)
    off = angles[1] - angles[0]
    begins = int(np.argmax(off < -1.0)) * TICK_S
    return seen(dial, angles, (Truth(begins, "lost_steps", -2.0 * cycles),), watching, rng)


def frozen(watching: Watching, rng: np.random.Generator) -> Case:
    """Too cold for so fast a sweep: dozens of cycles are lost at once."""
    dial = dial_of()
    driver = replace(DRIVER, rate_deg_s=300.0)
    angles = swept(dial, rng, law="at_once", driver=driver, degc=-40.0)
    off = angles[1] - angles[0]
    begins = int(np.argmax(off < -1.0)) * TICK_S
    top = int(np.argmax(angles[0] > angles[0].max() - 0.01)) + 250
    lost = 2.0 * round(float(off[top]) / 2.0)
    return seen(dial, angles, (Truth(begins, "lost_steps", lost),), watching, rng)


CASES: dict[str, Callable[[Watching, np.random.Generator], Case]] = {
    "lost steps, cut in": fallen_back,
    "lost steps, smooth sweep": lambda w, rng: fallen_back(w, rng, "smooth"),
    "lost steps, snag (physics)": snagged,
    "lost steps, cold (physics)": frozen,
    "dragging, cut in": held,
    "dragging, air core (physics)": rubbing,
    "blocked, stepper (physics)": blocked,
    "blocked, air core (physics)": lambda w, rng: blocked(w, rng, "air_core"),
    "stalled (physics)": stalled,
    "backlash (physics)": worn,
}
