"""Photos of one built unit whose needles rest, from different sides, by one camera."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from needlewright.families.model import Family
from needlewright.rehearsal.camera import Camera, Pose, place_camera
from needlewright.rehearsal.invent import generate_family
from needlewright.rehearsal.outline import Seat, seat_needles
from needlewright.rehearsal.scene import draw
from needlewright.rehearsal.sensor import to_jpeg
from needlewright.rehearsal.sheet import sheet_of
from needlewright.rehearsal.staging import stage

SIZE_PX: Final = (1600, 1067)
PHOTOS: Final = 5
PITCH_SPREAD_DEG: Final = 0.6
TILTS_DEG: Final = (18.0, 32.0)
"""All photos but the first, which is from about straight on."""


@dataclass(frozen=True, slots=True)
class RestingUnit:
    """One unit's photos, and what is true of it."""

    family: Family
    photos: tuple[Path, ...]
    seats: dict[str, Seat]


def draw_resting(folder: Path, seed: int, photos: int = PHOTOS) -> RestingUnit:
    """Invent a family, build one unit of it and take photos of it.

    Parameters
    ----------
    folder
        Gets the family's folder and the photos.
    seed
        0 or more; the same number gives the same photos.
    photos
        How many: the first from about straight on, the others all round.

    Returns
    -------
    RestingUnit
        Its needles stand in the same place in every photo.
    """
    family = generate_family(seed, folder / "family")
    sheet, rng = sheet_of(family), np.random.default_rng([seed, 77])
    seats = {
        dial: replace(seat, pitch_deg=float(rng.normal(0, PITCH_SPREAD_DEG)))
        for dial, seat in seat_needles(family, rng).items()
    }
    angles = {}
    for dial in family.dials:
        first, last = dial.scale.angles_deg[0], dial.scale.angles_deg[-1]
        angles[dial.id] = float(first + (last - first) * rng.uniform(0.05, 0.95))
    base = stage(family, "oblique", rng, SIZE_PX).scene
    taken = []
    for number in range(photos):
        scene = stage(family, "oblique" if number else "clean", rng, SIZE_PX).scene
        pose = _stand(family, base.camera, rng, number, photos)
        exif = base.sensor.exif_focal_35mm
        scene = replace(
            scene,
            camera=base.camera,
            pose=pose,
            angles_deg=angles,
            seats=seats,
            sensor=replace(scene.sensor, exif_focal_35mm=exif),
        )
        taken.append(folder / f"{number}.jpg")
        taken[-1].write_bytes(to_jpeg(draw(family, sheet, scene, rng).picture, scene.sensor))
    return RestingUnit(family, tuple(taken), seats)


def _stand(
    family: Family, camera: Camera, rng: np.random.Generator, number: int, photos: int
) -> Pose:
    width, height = family.face_size_mm
    fill = float(rng.uniform(0.62, 0.75))
    per_mm = fill * min(SIZE_PX[0] / width, 1.12 * SIZE_PX[1] / height)
    tilt = float(abs(rng.normal(0, 5)) if number == 0 else rng.uniform(*TILTS_DEG))
    way = 2 * np.pi * (number + float(rng.uniform(-0.3, 0.3))) / max(photos - 1, 1)
    return place_camera(
        pitch_deg=tilt * float(np.sin(way)),
        yaw_deg=tilt * float(np.cos(way)),
        roll_deg=float(rng.normal(0, 3)),
        distance_mm=camera.focal_px / per_mm,
        target_mm=(width / 2, height / 2),
        aside_mm=(float(rng.normal(0, 3)), float(rng.normal(0, 3))),
    )
