"""The drawn camera before a simulated cluster: frames in the process, and a video file."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Family
from needlewright.film import Film
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.cluster.cluster import SimulatedCluster
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.rehearsal.lamp_light import LampLight
from needlewright.rehearsal.light import Light
from needlewright.rehearsal.outline import seat_needles
from needlewright.rehearsal.sheet import sheet_of

SIZE_PX: Final = (960, 640)
FRAMES_HZ: Final = 10.0
"""Frames a second of the cluster's time, enough to see a needle settle."""
FILL: Final = 0.88
"""Share of the frame the face takes."""
FOCAL_WIDTHS: Final = 1.2
"""Focal length in widths of the frame: a phone's own, from memory."""
YAW_DEG: Final = 6.0
PITCH_DEG: Final = -4.0
"""Where the camera stands beside the straight line, as a hand puts it."""
Picture = NDArray[np.uint8]


def view_of(
    family: Family,
    *,
    size_px: tuple[int, int] = SIZE_PX,
    seed: int = 0,
    noise_seed: int | None = None,
) -> FixedView:
    """A camera that stands before a unit of a family; shafts and needles sit as chance has it.

    Parameters
    ----------
    family
        The design.
    size_px
        Width and height of the frames.
    seed
        Of the unit and of the camera's noise.
    noise_seed
        Of the camera's noise; None: that of the unit.

    Returns
    -------
    FixedView
        Ready to draw.
    """
    wide, high = size_px
    focal = FOCAL_WIDTHS * wide
    camera = Camera(wide, high, focal, (wide - 1) / 2, (high - 1) / 2)
    across, down = family.face_size_mm
    distance = focal * max(across / (FILL * wide), down / (FILL * high))
    pose = place_camera(
        distance_mm=distance,
        target_mm=(across / 2, down / 2),
        yaw_deg=YAW_DEG,
        pitch_deg=PITCH_DEG,
    )
    seats = seat_needles(family, np.random.default_rng([seed, 23]))
    return FixedView(
        family, camera, pose, seats=seats, seed=seed if noise_seed is None else noise_seed
    )


DARK: Final = Light(room=0.012, lamp=0.0)
"""A bench made dark for lamps to be looked at."""


class Bench:
    """What the camera sees beside the needles: the light on the bench, and that of the lamps.

    Parameters
    ----------
    view
        The camera, in light.
    """

    def __init__(self, view: FixedView) -> None:
        self.view, self.dark = view, False
        self._in_dark: FixedView | None = None
        self._lamps: LampLight | None = None

    def frame(self, cluster: SimulatedCluster) -> Picture:
        """What the camera sees of a cluster now.

        Parameters
        ----------
        cluster
            The cluster.

        Returns
        -------
        ndarray
            Height x width x 3, RGB.
        """
        return self.glance(cluster)()

    def glance(self, cluster: SimulatedCluster) -> Callable[[], Picture]:
        """The same, for a picture that may never be looked at.

        Parameters
        ----------
        cluster
            The cluster.

        Returns
        -------
        Callable
            Draws what was to be seen when it was made, as often as it is called.
        """
        lit, angles_deg = dict(cluster.lit()), dict(cluster.angles_deg())
        view = self._darkened() if self.dark else self.view
        grain = view.next_grain()

        def drawn() -> Picture:
            glow = None
            if lit:
                self._lamps = self._lamps or self._lamp_light()
                glow = self._lamps.glow(lit)
            return view.frame(angles_deg, glow=glow, grain=grain)

        return drawn

    def _lamp_light(self) -> LampLight:
        view = self.view
        return LampLight(view.family, view.camera, view.pose, sheet_of(view.family))

    def _darkened(self) -> FixedView:
        if self._in_dark is None:
            self._in_dark = self.view.in_light(DARK)
        return self._in_dark


class ClusterCamera:
    """Looks at a simulated cluster; the time between two frames passes while one is waited for.

    Parameters
    ----------
    cluster
        What is looked at.
    pass_time
        Lets the cluster's time pass, seconds.
    bench
        The camera and the light before it; None: that of `view_of`.
    frames_hz
        Frames a second of the cluster's time.
    """

    def __init__(
        self,
        cluster: SimulatedCluster,
        pass_time: Callable[[float], None] | None = None,
        *,
        bench: Bench | None = None,
        frames_hz: float = FRAMES_HZ,
    ) -> None:
        self.cluster = cluster
        self._pass = pass_time or cluster.run
        self._bench = bench or Bench(view_of(cluster.family))
        self._apart_s = 1.0 / frames_hz

    def frame(self) -> tuple[Picture, float]:
        """Wait for the next frame.

        Returns
        -------
        tuple
            Height x width x 3, blue, green, red; and its time, seconds of the cluster's clock.
        """
        drawn, t_s = self.glance()
        return drawn(), t_s

    def glance(self) -> tuple[Callable[[], Picture], float]:
        """Wait for the next frame, which may never be looked at.

        Returns
        -------
        tuple
            What draws it, as often as it is called, and each time the same; and its time.
        """
        self._pass(self._apart_s)
        drawn = self._bench.glance(self.cluster)

        def seen() -> Picture:
            return np.asarray(cv2.cvtColor(drawn(), cv2.COLOR_RGB2BGR), np.uint8)

        return seen, self.cluster.now_s

    def close(self) -> None:
        """Nothing is held."""


def write_video(path: Path, frames: Iterable[tuple[Picture, float]]) -> int:
    """Code frames as a video file that appears whole or not at all.

    Parameters
    ----------
    path
        Where to; its ending names the container, as `.mp4` or `.mkv`.
    frames
        Blue, green, red, and times in seconds, rising.

    Returns
    -------
    int
        How many frames it holds.

    Raises
    ------
    PictureError
        If it cannot be written.
    """
    with Film(path) as film:
        for seen, t_s in frames:
            film.add(seen, t_s)
    return film.frames
