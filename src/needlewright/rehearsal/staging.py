"""Setting a scene for a condition: where the camera stands, the light, what goes wrong."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from needlewright.families.model import Dial, Family
from needlewright.rehearsal.camera import Camera, Pose, place_camera, project
from needlewright.rehearsal.housing import Bench, Housing
from needlewright.rehearsal.light import Glare, Light
from needlewright.rehearsal.occluder import Occluder, Thing
from needlewright.rehearsal.outline import seat_needles
from needlewright.rehearsal.scene import Scene
from needlewright.rehearsal.sensor import Sensor

CONDITIONS: Final = (
    "clean",
    "oblique",
    "far",
    "blur",
    "motion",
    "glare",
    "low_light",
    "backlight",
    "gradient",
    "noise",
    "jpeg",
    "occluded",
    "out_of_frame",
)
"""Each says what a picture suffers from; `clean` suffers from nothing in particular."""

SENSOR_MM: Final = 36.0
"""Width of the film that focal lengths are given for."""
BENCHES: Final = 40
"""Painted pieces of each kind of bench."""
_FOCALS_35MM: Final = (24, 26, 28, 35, 50, 70)

_BENCHES: Final[tuple[Bench, ...]] = ("wood", "mat", "cloth", "steel")
_THINGS: Final[tuple[Thing, ...]] = ("finger", "screwdriver", "cable")


@dataclass(frozen=True, slots=True)
class Staged:
    """A scene and what is said of it beside its measures."""

    scene: Scene
    tags: tuple[str, ...]
    said: Mapping[str, Any]
    """`glare`, `occluded_dial`: which dial is concerned."""


def stage(
    family: Family, condition: str, rng: np.random.Generator, size_px: tuple[int, int]
) -> Staged:
    """Set a scene.

    Parameters
    ----------
    family
        The design; every picture is of another built unit of it.
    condition
        One of `CONDITIONS`.
    rng
        Where chance comes from.
    size_px
        Width and height of the picture.

    Returns
    -------
    Staged
        Ready to be drawn.
    """
    camera, pose, exif = _view(family, condition, rng, size_px)
    angles, states = invent_angles(family, rng)
    light = _light(family, condition, rng)
    scene = Scene(
        camera=camera,
        pose=pose,
        angles_deg=angles,
        seats=seat_needles(family, rng),
        light=light,
        housing=_housing(rng),
        sensor=_sensor(condition, rng, light, size_px[0], exif),
    )
    tags = (condition, *states)
    if condition == "glare":
        glare = _glare(family, scene, rng)
        said = {"glare": {"dial": glare.dial, "kind": glare.kind}}
        return Staged(replace(scene, glares=(glare,)), tags, said)
    if condition == "occluded":
        occluder = _occluder(family, scene, rng)
        said_of = {"occluded_dial": occluder.dial}
        return Staged(replace(scene, occluder=occluder), (*tags, occluder.thing), said_of)
    return Staged(scene, tags, {})


def invent_angles(
    family: Family, rng: np.random.Generator
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Put each needle somewhere: on its scale, at rest, or a little past the end.

    Parameters
    ----------
    family
        The design.
    rng
        Where chance comes from.

    Returns
    -------
    tuple
        Dial to degrees, and the tags `at-rest`, `past-full-scale` where they apply.
    """
    angles, states = {}, []
    for dial in family.dials:
        state = str(rng.choice(["on", "rest", "past"], p=[0.86, 0.08, 0.06]))
        first, last = dial.scale.angles_deg[0], dial.scale.angles_deg[-1]
        if state == "rest":
            angle = dial.rest_angle_deg
            states.append("at-rest")
        elif state == "past":
            angle = last + dial.scale.sense * float(rng.uniform(0.5, 4.0))
            states.append("past-full-scale")
        else:
            angle = first + (last - first) * float(rng.uniform(0.0, 1.0))
        angles[dial.id] = round(angle, 6)
    return angles, tuple(dict.fromkeys(states))


def _view(
    family: Family, condition: str, rng: np.random.Generator, size_px: tuple[int, int]
) -> tuple[Camera, Pose, int | None]:
    wide, high = size_px
    focal_35mm = int(rng.choice(_FOCALS_35MM))
    focal = focal_35mm / SENSOR_MM * wide * float(rng.uniform(0.98, 1.02))
    corner2 = (wide / focal / 2) ** 2 + (high / focal / 2) ** 2
    camera = Camera(
        width_px=wide,
        height_px=high,
        focal_px=round(focal, 4),
        cx_px=round((wide - 1) / 2 + float(rng.normal(0, 0.004)) * wide, 2),
        cy_px=round((high - 1) / 2 + float(rng.normal(0, 0.004)) * wide, 2),
        k1=round(float(rng.uniform(-0.02, 0.012)) / corner2, 6),
        k2=round(float(rng.uniform(-0.003, 0.003)) / corner2**2, 6),
    )
    fill = {
        "far": float(rng.uniform(0.34, 0.46)),
        "oblique": float(rng.uniform(0.66, 0.8)),
        "out_of_frame": float(rng.uniform(1.3, 2.2)),
    }.get(condition, float(rng.uniform(0.72, 0.9)))
    face_w, face_h = family.face_size_mm
    # what limits a tall face is the frame's height
    per_mm = fill * min(wide / face_w, 1.12 * high / face_h)
    tilt = float(rng.uniform(20, 38) if condition == "oblique" else abs(rng.normal(0, 6)))
    way = float(rng.uniform(0, 2 * np.pi))
    roll = float(rng.normal(0, 2.5) if rng.random() < 0.8 else rng.uniform(-30, 30))
    aside_px = rng.normal(0, 0.015, 2) * wide
    if condition == "out_of_frame":
        aside_px = rng.uniform(-0.5, 0.5, 2) * np.array([face_w, face_h]) * per_mm * 0.9
    pose = place_camera(
        pitch_deg=tilt * float(np.sin(way)),
        yaw_deg=tilt * float(np.cos(way)),
        roll_deg=roll,
        distance_mm=focal / per_mm,
        target_mm=(face_w / 2, face_h / 2),
        aside_mm=(float(aside_px[0]) / per_mm, float(aside_px[1]) / per_mm),
    )
    return camera, pose, focal_35mm if rng.random() < 0.75 else None


def _light(family: Family, condition: str, rng: np.random.Generator) -> Light:
    way, slant = float(rng.uniform(0, 2 * np.pi)), float(rng.uniform(0.15, 1.1))
    lean = (slant * float(np.cos(way)), -slant * abs(float(np.sin(way))) - 0.1)
    tint = 1.0 + rng.normal(0, 0.05, 3) + np.array([1, 0, -1]) * rng.normal(0.03, 0.08)
    light = Light(
        room=float(rng.uniform(0.25, 0.5)),
        lamp=float(rng.uniform(0.3, 0.65)),
        lean=lean,
        softness=float(rng.uniform(0.15, 0.9)),
        fall=(float(rng.uniform(-0.2, 0.2)), float(rng.uniform(-0.15, 0.15))),
        tint=(float(tint[0]), float(tint[1]), float(tint[2])),
        veil=float(rng.uniform(0.0, 0.06)) if (family.raw or {}).get("lens", True) else 0.0,
        veil_at=(float(rng.uniform(0.1, 0.9)), float(rng.uniform(0.0, 0.6))),
    )
    if condition == "gradient":
        steep = float(rng.uniform(0.5, 0.9))
        fall = (steep * float(np.cos(way)), steep * float(np.sin(way)))
        return replace(light, room=0.6 * light.room, lamp=light.lamp + 0.2, fall=fall)
    if condition == "backlight":
        dark = float(rng.uniform(0.004, 0.04))
        return replace(
            light, room=dark, lamp=dark, veil=0.1 * dark, lit=float(rng.uniform(0.35, 0.9))
        )
    if condition == "glare":
        return replace(light, veil=float(rng.uniform(0.05, 0.15)))
    return light


def _sensor(
    condition: str, rng: np.random.Generator, light: Light, wide_px: int, exif: int | None
) -> Sensor:
    size = wide_px / 1600
    sensor = Sensor(
        exposure=float(rng.uniform(0.85, 1.15)),
        electrons=float(np.exp(rng.uniform(np.log(3000), np.log(20_000)))),
        read_noise=float(rng.uniform(2, 6)),
        camera_seed=int(rng.integers(1 << 16)),
        softness_px=float(rng.uniform(0.45, 0.8)),
        vignette=float(rng.uniform(0.02, 0.3)),
        denoise=float(rng.uniform(0.1, 0.5)),
        sharpen=float(rng.uniform(0.0, 0.6)),
        contrast=float(rng.uniform(0.0, 0.6)),
        jpeg_quality=int(rng.integers(72, 95)),
        exif_focal_35mm=exif,
    )
    few = float(np.exp(rng.uniform(np.log(130), np.log(550))))
    way, much = float(rng.uniform(0, 2 * np.pi)), float(rng.uniform(2.5, 8)) * size
    match condition:
        case "blur":
            sensor = replace(sensor, defocus_px=float(rng.uniform(1.2, 3.5)) * size)
        case "motion":
            moved = (much * float(np.cos(way)), much * float(np.sin(way)))
            sensor = replace(sensor, motion_px=moved)
        case "low_light":
            smooth, dim = float(rng.uniform(0.4, 1.0)), float(rng.uniform(0.25, 0.6))
            sensor = replace(sensor, electrons=few, denoise=smooth, exposure=dim)
        case "noise":
            sensor = replace(sensor, electrons=few, denoise=float(rng.uniform(0.0, 0.4)))
        case "backlight":
            sensor = replace(sensor, electrons=float(rng.uniform(400, 2000)))
        case "jpeg":
            sensor = replace(sensor, jpeg_quality=int(rng.integers(18, 45)))
    return sensor


def _housing(rng: np.random.Generator) -> Housing:
    shade = float(rng.uniform(0.03, 0.22))
    tint = rng.normal(0, 0.008, 3)
    bare = rng.random() < 0.12
    return Housing(
        depth_mm=0.3 if bare else float(rng.uniform(4, 13)),
        rim_mm=1.0 if bare else float(rng.uniform(7, 18)),
        corner_mm=float(rng.uniform(5, 24)),
        inset_mm=float(rng.uniform(0.3, 1.5)),
        colour=tuple(float(np.clip(shade + t, 0.01, 0.5)) for t in tint),  # type: ignore[arg-type]
        above_bench_mm=float(rng.uniform(8, 60)),
        bench=_BENCHES[int(rng.integers(len(_BENCHES)))],
        bench_seed=int(rng.integers(BENCHES)),
    )


def _glare(family: Family, scene: Scene, rng: np.random.Generator) -> Glare:
    dial = _any_dial(family, rng)
    per_mm = scene.camera.focal_px / float(scene.pose.shift_mm[2])
    at = _on_needle(dial, scene, float(rng.uniform(0.3, 0.9)))
    length = dial.needle.length_mm * per_mm
    size = length * float(rng.uniform(0.25, 0.9))
    kind = ("window", "softbox", "lamp")[int(rng.integers(3))]
    panes = (int(rng.integers(1, 3)), int(rng.integers(1, 4))) if kind == "window" else (1, 1)
    return Glare(
        kind=kind,  # type: ignore[arg-type]
        at_px=(at[0] + float(rng.normal(0, 0.2)) * size, at[1] + float(rng.normal(0, 0.2)) * size),
        size_px=(size, size * float(rng.uniform(0.5, 1.4) if kind != "lamp" else 1.0)),
        turn_deg=float(rng.uniform(-25, 25)),
        strength=float(rng.uniform(0.25, 1.6)),
        soft_px=float(rng.uniform(0.8, 4.0)) * scene.camera.width_px / 1600,
        dial=dial.id,
        panes=panes,
    )


def _occluder(family: Family, scene: Scene, rng: np.random.Generator) -> Occluder:
    dial = _any_dial(family, rng)
    per_mm = scene.camera.focal_px / float(scene.pose.shift_mm[2])
    thing = _THINGS[int(rng.integers(len(_THINGS)))]
    radius_mm = {"finger": 8.0, "screwdriver": 7.0, "cable": 2.2}[thing]
    at = _on_needle(dial, scene, float(rng.uniform(0.1, 1.1)))
    return Occluder(
        thing=thing,
        tip_px=at,
        comes_from_deg=float(rng.uniform(60, 300)),
        radius_px=radius_mm * per_mm * float(rng.uniform(0.9, 1.4)),
        dial=dial.id,
        look=int(rng.integers(3)),
    )


def _any_dial(family: Family, rng: np.random.Generator) -> Dial:
    return family.dials[int(rng.integers(len(family.dials)))]


def _on_needle(dial: Dial, scene: Scene, share: float) -> tuple[float, float]:
    angle = np.radians(scene.angles_deg[dial.id])
    reach = share * dial.needle.length_mm
    x = dial.centre_mm[0] + reach * float(np.sin(angle))
    y = dial.centre_mm[1] - reach * float(np.cos(angle))
    px = project(scene.camera, scene.pose, np.array([[x, y, dial.needle.height_mm]]))[0]
    return float(px[0]), float(px[1])
