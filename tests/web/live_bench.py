"""A camera before an invented cluster for tests of the live place, and the page it is shown on."""

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Condition, Thread

import cv2
import numpy as np
import uvicorn
from fastapi import FastAPI
from numpy.typing import NDArray

from needlewright.composing.steps import proposed_steps
from needlewright.families.model import Family
from needlewright.records.runs import start_run
from needlewright.records.words import RunSide
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.web.app import create_app
from needlewright.web.live_desk import LiveDesk
from needlewright.web.live_frames import HEAD, LARGEST_FRAME
from needlewright.web.live_session import LiveSession
from web.sheet_desk import TAG, Desk, desk, received

CAMERA = Camera(640, 360, 720.0, 319.5, 179.5)
SHARE_UP = 0.55
"""Where on their scales the needles stand."""
MOVING_FRAMES = 24
STANDING_FRAMES = 330
"""Eleven seconds at the thirty frames a second of Chromium's made-up camera."""
Frame = NDArray[np.uint8]


def stands_at(family: Family, share: float = SHARE_UP) -> dict[str, float]:
    """Directions of the needles at a share of their scales."""
    ends = {dial.id: (dial.scale.angles_deg[0], dial.scale.angles_deg[-1]) for dial in family.dials}
    return {dial: first + share * (last - first) for dial, (first, last) in ends.items()}


class Drawn:
    """Frames of a fixed camera before a family's cluster."""

    def __init__(self, family: Family) -> None:
        self.family = family
        across, down = family.face_size_mm
        pose = place_camera(
            distance_mm=across * CAMERA.focal_px / CAMERA.width_px * 1.12,
            target_mm=(across / 2, down / 2),
            yaw_deg=6.0,
        )
        self._view = FixedView(family, CAMERA, pose)

    def frame(self, share: float = SHARE_UP) -> Frame:
        """Blue, green, red."""
        return np.ascontiguousarray(self._view.frame(stands_at(self.family, share))[..., ::-1])

    def jpeg(self, share: float = SHARE_UP) -> bytes:
        return jpeg_of(self.frame(share))


def jpeg_of(pixels: Frame) -> bytes:
    _, file = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 95])
    return file.tobytes()


def clip(path: Path, drawn: Drawn) -> Path:
    """A sweep of the needles, then needles that stand; Chromium plays it round and round."""
    sweep = np.linspace(0.05, SHARE_UP, MOVING_FRAMES, endpoint=False)
    moving = [drawn.jpeg(float(share)) for share in sweep]
    standing = [drawn.jpeg() for _ in range(6)]
    times = range(STANDING_FRAMES)
    path.write_bytes(b"".join([*moving, *(standing[i % len(standing)] for i in times)]))
    return path


class WatchedDesk(LiveDesk):
    """Can be waited for until the live pictures whose lines were closed have ended."""

    def __init__(self) -> None:
        super().__init__()
        self._ended = Condition()

    def close(self, session: LiveSession) -> None:
        super().close(session)
        with self._ended:
            self._ended.notify_all()

    def is_emptied(self) -> bool:
        """Whether none is left, once that is so; the bound only keeps a fault from hanging."""
        with self._ended:
            return self._ended.wait_for(lambda: len(self) == 0, 180)


@dataclass(frozen=True)
class Live:
    """A run that waits for its readings, its live place and the live pictures of its page."""

    desk: Desk
    run_id: int
    drawn: Drawn
    pictures: WatchedDesk

    @property
    def place(self) -> str:
        return f"/jobs/{TAG}/run/{self.run_id}/live"


@contextmanager
def live_run(folder: Path, side: RunSide = "found") -> Iterator[Live]:
    """A job received, with a run whose steps are told and that has no photo."""
    pictures = WatchedDesk()
    with desk(folder, live_desk=pictures) as one:
        received(one.shop)
        run = start_run(one.shop, TAG, side, proposed_steps(one.family))
        yield Live(one, run.id, drawn_of(one.family), pictures)


_prepared: dict[str, Drawn] = {}


def drawn_of(family: Family) -> Drawn:
    """Prepared once for each family."""
    return _prepared.setdefault(family.name, Drawn(family))


def message(number: int, t_s: float, file: bytes) -> bytes:
    """A frame as the page sends it."""
    return HEAD.pack(number, t_s) + file


@contextmanager
def served_live(folder: Path, live_desk: LiveDesk | None = None) -> Iterator[str]:
    """The page on a port of its own, as `needlewright serve` answers lines."""
    with served_app(create_app(folder, read_photos=False, live_desk=live_desk)) as url:
        yield url


@contextmanager
def served_app(app: FastAPI) -> Iterator[str]:
    """Any page on a port of its own."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        ws="websockets-sansio",
        ws_max_size=LARGEST_FRAME + 64 * 1024,
        ws_per_message_deflate=False,
    )
    server = uvicorn.Server(config)
    with socket.create_server(("127.0.0.1", 0)) as door:
        thread = Thread(target=server.run, kwargs={"sockets": [door]})
        thread.start()
        try:
            yield f"http://127.0.0.1:{door.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(180)
