"""How fast clusters are drawn: `python benchmarks/drawing.py`, printed as a table.

Frames of a camera that stands still, at 640 x 426 with four dials, as they are and shaken by a
hand; and whole photos at 1600 x 1067 in every condition. Beside each stands the time of blurring a
picture of the same size once, measured in the same run, so that machines compare.
"""

import time
from collections.abc import Callable
from importlib.resources import as_file, files
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
from rich.console import Console
from rich.table import Table

from needlewright.families.folder import load_family
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.rehearsal.invent import generate_family
from needlewright.rehearsal.photo_set import draw_photo
from needlewright.rehearsal.shake import hand_shake
from needlewright.rehearsal.sheet import sheet_of
from needlewright.rehearsal.staging import CONDITIONS

FRAMES = 120
LEAST_PER_S = 25.0


def seconds_each(work: Callable[[int], object], times: int) -> float:
    """CPU time of one call, seconds, after two that do not count."""
    for number in range(2):
        work(number)
    start = time.process_time()
    for number in range(times):
        work(number)
    return (time.process_time() - start) / times


def blur_s(width: int, height: int) -> float:
    """CPU time of blurring a colour picture once, seconds."""
    picture = np.zeros((height, width, 3), np.float32)
    return seconds_each(lambda _: cv2.GaussianBlur(picture, (0, 0), 2.0), 20)


def main() -> None:
    """Measure and print."""
    cv2.setNumThreads(1)
    table = Table(title="drawing, one core", title_justify="left")
    for column in ("what", "a second", "required", "in blurs of its size"):
        table.add_column(column, justify="left" if column == "what" else "right")
    with as_file(files("needlewright") / "demo_data" / "family") as folder:
        family = load_family(folder)
        width, height = family.face_size_mm
        camera = Camera(640, 426, 889.0, 319.5, 212.5)
        pose = place_camera(
            pitch_deg=8.0, distance_mm=1.45 * width, target_mm=(width / 2, height / 2)
        )
        view = FixedView(family, camera, pose)
        shake = hand_shake(np.random.default_rng(1))

        def angles(number: int) -> dict[str, float]:
            return {dial.id: -100.0 + number for dial in family.dials}

        def shaken(number: int) -> object:
            return view.frame(angles(number), shake.pose_at(pose, number / 30.0))

        unit = blur_s(640, 426)
        for name, work in (
            (f"frame, {len(family.dials)} dials", lambda n: view.frame(angles(n))),
            ("the same, shaken by a hand", shaken),
        ):
            each = seconds_each(work, FRAMES)
            table.add_row(name, f"{1 / each:.0f}", f"{LEAST_PER_S:.0f}", f"{each / unit:.1f}")
    with TemporaryDirectory() as place:
        invented = generate_family(3, Path(place) / "drawn-0003")
        sheet, unit = sheet_of(invented), blur_s(1600, 1067)
        each = seconds_each(
            lambda n: draw_photo(invented, sheet, CONDITIONS[n % len(CONDITIONS)], (3, n, 4)),
            len(CONDITIONS),
        )
        table.add_row("photo of 1600 x 1067", f"{1 / each:.2f}", "", f"{each / unit:.0f}")
    Console().print(table)


if __name__ == "__main__":
    main()
