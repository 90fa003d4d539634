"""How needles are followed through videos with truth: `python benchmarks/sweep.py`, as tables.

The videos under tests/data/videos, every frame of which has its true angles. Printed beside what is
asked: the error of every dial's frames, how many stated 95 % intervals hold the truth, every slip
with how far off it was found, and frames a second, decoded and read, at the videos' size and
enlarged to 1920 pixels. The load of the machine while it was measured is printed with the speed.
"""

import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import av
import cv2
import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.photo_set import DATA, family_folder
from benchmarks.scoring import COVERAGE_95
from needlewright.composing.sweeps import events_of
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.event import Event
from needlewright.readings.following import Follower
from needlewright.readings.sweep import follow_video, learn
from needlewright.readings.track import Track
from needlewright.readings.video import Video

VIDEOS = DATA / "videos"
MEDIAN_DEG, P95_DEG = 0.1, 0.4
SLIP_S, SLIP_DEG = 0.15, 0.3
LEAST_PER_S = {640: 250.0, 1920: 60.0}
LARGE = (1920, 1278)
ROUNDS = 3


@dataclass(frozen=True, slots=True)
class Followed:
    """One video with its truth, followed."""

    name: str
    family: Family
    truth: dict[str, Any]
    track: Track
    events: tuple[Event, ...]

    def errors_deg(self, dial: str) -> np.ndarray:
        """Stated less true angle of every frame; NaN where none is stated."""
        true = np.array(self.truth["true_angle_deg"][dial])
        return np.asarray(self.track.dials[dial].angle_deg - true)


def follow(path: Path) -> Followed:
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    family = load_family(family_folder(truth["family"]))
    track, _ = follow_video(family, path)
    return Followed(path.stem, family, truth, track, events_of(family, track))


def angles_table(every: list[Followed]) -> Table:
    table = Table(title="error of every frame, degrees", title_justify="left")
    for column in (
        "video",
        "dial",
        "frames",
        "read",
        "median",
        "95 %",
        "largest",
        "interval holds",
    ):
        table.add_column(column, justify="left" if column in ("video", "dial") else "right")
    pooled: list[np.ndarray] = []
    held: list[np.ndarray] = []
    for one in every:
        for name, dial in one.track.dials.items():
            errors = np.abs(one.errors_deg(name)[dial.seen])
            inside = errors <= COVERAGE_95 * dial.u_angle_deg[dial.seen]
            pooled.append(errors)
            held.append(inside)
            table.add_row(one.name, name, *_figures(len(dial.t_s), dial.share_seen, errors, inside))
    errors, inside = np.concatenate(pooled), np.concatenate(held)
    table.add_section()
    table.add_row("all", "", *_figures(len(errors), 1.0, errors, inside))
    table.add_row("asked", "", "", "", f"{MEDIAN_DEG:.3f}", f"{P95_DEG:.3f}", "", "95 %")
    return table


def _figures(frames: int, share: float, errors: np.ndarray, inside: np.ndarray) -> list[str]:
    return [
        str(frames),
        f"{100 * share:.0f} %",
        f"{np.median(errors):.3f}",
        f"{np.percentile(errors, 95):.3f}",
        f"{errors.max():.3f}",
        f"{100 * inside.mean():.0f} %",
    ]


def events_table(every: list[Followed]) -> Table:
    table = Table(title="slips", title_justify="left")
    for column in ("video", "at, s", "dial", "true, deg", "found, deg", "off, s", ""):
        table.add_column(column)
    for one in every:
        left = list(one.events)
        for true in one.truth["events"]:
            found = next((e for e in left if _is(e, true)), None)
            row = [one.name, f"{true['t']:.2f}", true["dial"], f"{true['slip_deg']:+.1f}"]
            if found is None:
                table.add_row(*row, "", "", "MISSED")
                continue
            left.remove(found)
            off = f"{found.t_s - true['t']:+.3f}"
            right = abs(found.size_deg - true["slip_deg"]) <= SLIP_DEG
            table.add_row(*row, f"{found.size_deg:+.1f}", off, "found" if right else "MISSED")
        for false in left:
            row = [one.name, f"{false.t_s:.2f}", false.dial, "", f"{false.size_deg:+.1f}"]
            table.add_row(*row, "", f"FALSE ({false.fault})")
        if not one.truth["events"] and not one.events:
            table.add_row(one.name, "", "", "none", "none", "", "found")
    return table


def _is(event: Event, true: dict[str, Any]) -> bool:
    near = abs(event.t_s - true["t"]) <= SLIP_S
    return near and event.dial == true["dial"] and event.fault == "lost_steps"


def speed_table(every: list[Followed]) -> Table:
    table = Table(title="frames a second, decoded and read", title_justify="left")
    for column in ("video", "size", "dials", "frames/s", "asked", "CPU ms/frame", "load"):
        table.add_column(column, justify="left" if column == "video" else "right")
    with TemporaryDirectory() as folder:
        for one in every:
            path = VIDEOS / f"{one.name}.mp4"
            for video in (path, enlarged(path, Path(folder) / f"{one.name}.mp4")):
                table.add_row(one.name, *_speed(one.family, video))
    return table


def _speed(family: Family, path: Path) -> list[str]:
    """Once learned and warm, several times through."""
    follower = Follower(family)
    learn(follower, path)
    for timed in _some(path, 5):
        follower.look(*timed)
    wall, cpu, frames = time.perf_counter(), time.process_time(), 0
    width = 0
    for _ in range(ROUNDS):
        for frame, t_s in _some(path, None):
            follower.look(frame, t_s)
            frames += 1
            width = frame.light.shape[1]
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    return [
        f"{width}",
        str(len(family.dials)),
        f"{frames / wall:.0f}",
        f"{LEAST_PER_S[width]:.0f}",
        f"{1000 * cpu / frames:.1f}",
        f"{os.getloadavg()[0]:.1f}",
    ]


def _some(path: Path, count: int | None) -> Iterator[tuple[Any, float]]:
    with Video(path) as video:
        for number, timed in enumerate(video.ahead()):
            if number == count:
                return
            yield timed.frame, timed.t_s


def enlarged(path: Path, to: Path) -> Path:
    """The same video at `LARGE`, coded again."""
    resize: Callable[..., Any] = cv2.resize
    with av.open(str(path)) as old, av.open(str(to), "w") as new:
        stream = new.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = *LARGE, "yuv420p"
        stream.options = {"preset": "veryfast", "crf": "20"}
        for number, picture in enumerate(old.decode(video=0)):
            large = resize(picture.to_ndarray(format="rgb24"), LARGE, interpolation=cv2.INTER_CUBIC)
            frame = av.VideoFrame.from_ndarray(large, format="rgb24")
            frame.pts, frame.time_base = number, Fraction(1, 25)
            new.mux(stream.encode(frame))
        new.mux(stream.encode())
    return to


def main() -> None:
    """Measure and print."""
    cv2.setNumThreads(1)
    console = Console()
    every = [follow(path) for path in sorted(VIDEOS.glob("*.mp4"))]
    console.print(angles_table(every))
    console.print(events_table(every))
    console.print(speed_table(every))


if __name__ == "__main__":
    main()
