"""Small videos with known truth, coded as a camera codes them."""

from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from needlewright.families.folder import load_family
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.rehearsal.shake import hand_shake

FAMILIES = Path(__file__).parents[1] / "data" / "families"
CAMERA = Camera(640, 426, 780.0, 319.5, 212.5)
TICKS = 1000
Picture = NDArray[np.uint8]


def needles_at(t_s: float) -> dict[str, float]:
    """Directions of the four needles in degrees: up for a second and a half, and back."""
    turn = 90.0 * float(1.5 - abs(t_s - 1.5))
    return {"engine": -110 + turn, "speed": -40 + turn, "fuel": -40 + turn / 2, "temp": turn / 3}


def drawing(*, shaken: bool = False) -> Callable[..., Picture]:
    """A camera before an invented cluster: RGB frames by time, and by needles moved or left out."""
    family = load_family(FAMILIES / "fam-a")
    across, down = family.face_size_mm
    pose = place_camera(distance_mm=450.0, target_mm=(across / 2, down / 2), yaw_deg=8.0)
    view = FixedView(family, CAMERA, pose)
    shake = hand_shake(np.random.default_rng(4))

    def frame(t_s: float, **moved: float | None) -> Picture:
        angles = {n: a for n, a in (needles_at(t_s) | moved).items() if a is not None}
        return view.frame(angles, shake.pose_at(pose, t_s) if shaken else None)

    return frame


def write_clip(
    path: Path,
    pictures: Iterable[tuple[float, Picture]],
    *,
    codec: str = "libx264",
    pixels: str = "yuv420p",
    rotation: int = 0,
) -> Path:
    """Code RGB pictures at their times in seconds."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=25)
        stream.pix_fmt, stream.time_base = pixels, Fraction(1, TICKS)
        stream.codec_context.time_base = Fraction(1, TICKS)
        stream.options = {"crf": "18", "preset": "veryfast", "x265-params": "log-level=none"}
        if rotation:
            stream.set_display_rotation(rotation)
        for t_s, picture in pictures:
            if not stream.codec_context.is_open:
                stream.height, stream.width = picture.shape[:2]
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
            frame.pts, frame.time_base = round(t_s * TICKS), Fraction(1, TICKS)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path
