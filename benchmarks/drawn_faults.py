"""Faulty movements in drawn sweeps, told by `sweep --told`: `python benchmarks/drawn_faults.py`.

Every needle of some invented faces is moved by the physics of a movement with one fault of its own,
drawn, coded as video and followed; the table of what the dials were told runs on another clock.
Lost steps are cut in: the needle falls back by two cycles between two frames. Dragging is that of
an air core, as a stepper that lags further than 0.6 degrees loses steps. Then, needle by needle,
which fault was in it and which was named, with the table and without.
"""

import argparse
import sys
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1]))

import av
import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from benchmarks.events import NOTHING
from needlewright.composing.sweeps import events_of
from needlewright.composing.told_sweeps import place_told
from needlewright.families.model import Dial, Family
from needlewright.findings.event import EVENT_FAULTS, Event
from needlewright.readings.sweep import follow_video
from needlewright.readings.told_sweep import Told, ToldSweep
from needlewright.readings.track import Track
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.rehearsal.invent import generate_family
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import DRIVER
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.shown import movement_of
from needlewright.rehearsal.movement.sweeps import sweep_targets

FloatArray = NDArray[np.float64]
FIRST_SEED = 201
FRAMES_PER_S = 25
SIZE = (640, 426)
ONE_WAY_S = 2.2
CLOCK_S = 17.3
"""The table's clock less the video's."""
TICK_S = DRIVER.tick_s

FAULTS = ("sound", "backlash", "blocked", "stalled", "lost_steps", "dragging")
SLIP_DEG = 4.0
ALSO = {"blocked": {"lost_steps"}, "lost_steps": {"blocked"}}
"""True as well: a rotor driven on against a block loses cycles."""


@dataclass(frozen=True, slots=True, eq=False)
class Needle:
    """One needle with its fault, over the ticks of its movement."""

    dial: Dial
    fault: str
    asked_deg: FloatArray
    shown_deg: FloatArray


def moved(dial: Dial, fault: str, rng: np.random.Generator) -> Needle:
    """What the movement of a dial makes of a smooth sweep."""
    if fault == "dragging":
        dial = replace(dial, movement=replace(dial.movement, kind="air_core"))
    sense, stop = dial.scale.sense, dial.stop_angle_deg
    top_deg = sense * (dial.scale.angles_deg[-1] - stop)
    movement = movement_of(dial, faults_of(fault, top_deg))
    movement.key_on()
    targets = sweep_targets("smooth", top_deg, ONE_WAY_S, TICK_S, rng)
    run = movement.running.follow(targets)
    shown_deg = run.needle_deg.copy()
    if fault == "lost_steps":
        shown_deg[int(np.argmax(shown_deg > 0.6 * top_deg)) :] -= SLIP_DEG
        shown_deg = np.maximum(shown_deg, 0.0)
    return Needle(dial, fault, stop + sense * run.driver_deg, stop + sense * shown_deg)


def faults_of(fault: str, top_deg: float) -> MovementFaults:
    """The inside of a movement with a fault."""
    if fault in ("sound", "lost_steps"):
        return SOUND
    size = {"backlash": 1.6, "blocked": 0.6 * top_deg, "stalled": 0.0, "dragging": 9.0}[fault]
    kind = "air_core" if fault == "dragging" else "stepper"
    return fault_of(fault, size, kind, begins_deg=0.3 * top_deg)


def needles_of(family: Family, seed: int) -> list[Needle]:
    """A fault for each needle, another order for each face."""
    needles = []
    for number, dial in enumerate(family.dials):
        fault = FAULTS[(seed + 2 * number + number // 3) % len(FAULTS)]
        # every dial of a face rests as long as the others
        needles.append(moved(dial, fault, np.random.default_rng(seed)))
    return needles


def written(path: Path, family: Family, needles: list[Needle], seed: int) -> Path:
    """The sweep as a video file."""
    rng = np.random.default_rng(seed)
    wide, high = family.face_size_mm
    focal = float(rng.uniform(620, 900))
    pose = place_camera(
        pitch_deg=float(rng.uniform(-10, 10)),
        yaw_deg=float(rng.uniform(-10, 10)),
        distance_mm=max(wide / SIZE[0], high / SIZE[1]) / 0.8 * focal,
        target_mm=(wide / 2, high / 2),
    )
    view = FixedView(family, Camera(*SIZE, focal, 319.5, 212.5), pose, seed=seed)
    frames = int(min(len(one.shown_deg) for one in needles) * TICK_S * FRAMES_PER_S)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=FRAMES_PER_S)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.options = {"crf": "20", "preset": "veryfast"}
        for number in range(frames):
            tick = round(number / FRAMES_PER_S / TICK_S)
            angles = {one.dial.id: float(one.shown_deg[tick]) for one in needles}
            frame = av.VideoFrame.from_ndarray(
                np.ascontiguousarray(view.frame(angles)), format="rgb24"
            )
            frame.pts, frame.time_base = number, Fraction(1, FRAMES_PER_S)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path


def told_of(needles: list[Needle], track: Track) -> ToldSweep:
    """What the dials were told, on a clock of its own, ten lines a second."""
    every = round(0.1 / TICK_S)
    until = int(track.t_s[-1] / TICK_S)
    dials = {}
    for one in needles:
        at = np.arange(0, min(until, len(one.asked_deg)), every)
        dials[one.dial.id] = Told(at * TICK_S + CLOCK_S, one.asked_deg[at])
    return ToldSweep(Path("told.csv"), dials)


def table_of(rows: list[tuple[Needle, int, tuple[Event, ...]]], title: str) -> Table:
    """Fault in truth against faults named, needle by needle."""
    table = Table(title=title, title_justify="left")
    table.add_column("in truth")
    for column in ("needles", *EVENT_FAULTS, NOTHING, "only what is true"):
        table.add_column(column, justify="right")
    for fault in FAULTS:
        some = [
            {event.fault for event in events if event.dial == one.dial.id} or {NOTHING}
            for one, _, events in rows
            if one.fault == fault
        ]
        wanted = {NOTHING} if fault == "sound" else {fault}
        right = sum(wanted <= named <= wanted | ALSO.get(fault, set()) for named in some)
        counts = [sum(column in named for named in some) for column in (*EVENT_FAULTS, NOTHING)]
        cells = [str(count or "") for count in counts]
        table.add_row(fault, str(len(some)), *cells, f"{right}/{len(some)}")
    return table


def main() -> None:
    """Draw, follow, tell and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=8)
    faces = parser.parse_args().faces
    cv2.setNumThreads(1)
    console = Console(width=120)
    told_rows, plain_rows = [], []
    with TemporaryDirectory() as folder:
        for seed in range(FIRST_SEED, FIRST_SEED + faces):
            family = generate_family(seed, Path(folder) / f"face-{seed}")
            needles = needles_of(family, seed)
            video = written(Path(folder) / f"{seed}.mp4", family, needles, seed)
            dials = tuple(one.dial for one in needles)
            track, _ = follow_video(family, video)
            family = replace(family, dials=dials)  # its movements are those of the needles
            placed = place_told(told_of(needles, track), track)
            with_table = events_of(family, track, placed.commands)
            without = events_of(family, track)
            told_rows += [(one, seed, with_table) for one in needles]
            plain_rows += [(one, seed, without) for one in needles]
            off_s = "" if placed.clock is None else f"{placed.clock.offset_s + CLOCK_S:+.3f} s"
            console.print(f"face {seed}: clocks off by {off_s}")
            for event in with_table:
                fault = next(one.fault for one in needles if one.dial.id == event.dial)
                console.print(f"  {event.dial} ({fault}): {event.fault} {event.size_deg:+.2f}")
    console.print(table_of(told_rows, "named with the table"))
    console.print(table_of(plain_rows, "named without it"))


if __name__ == "__main__":
    main()
