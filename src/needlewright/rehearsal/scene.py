"""One picture of one cluster: everything in its place, and drawn in the order light meets it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Family
from needlewright.rehearsal.camera import Camera, Pose, frame_rays
from needlewright.rehearsal.housing import Housing, Surroundings, draw_surroundings
from needlewright.rehearsal.light import (
    Glare,
    Light,
    Picture,
    add_bloom,
    add_glare,
    add_veil,
    glow_of,
)
from needlewright.rehearsal.occluder import Occluder, lay_over
from needlewright.rehearsal.outline import Seat, bar_of, cap_of, finish_of
from needlewright.rehearsal.painting import Mounted, paint_needle, shadows_on_face
from needlewright.rehearsal.sensor import Sensor, expose
from needlewright.rehearsal.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Scene:
    """All that a picture depends on, but the noise."""

    camera: Camera
    pose: Pose
    angles_deg: Mapping[str, float]
    """Dial to direction; a dial that is missing has its needle pulled."""
    seats: Mapping[str, Seat]
    light: Light = field(default_factory=Light)
    housing: Housing = field(default_factory=Housing)
    glares: tuple[Glare, ...] = ()
    occluder: Occluder | None = None
    sensor: Sensor = field(default_factory=Sensor)


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A picture, and what stands before the cluster in it."""

    picture: NDArray[np.uint8]
    """Height x width x 3, RGB."""
    covered: NDArray[np.float32] | None
    """Share of each pixel that something between camera and cluster covers."""


def mounted_needles(family: Family, scene: Scene) -> dict[str, Mounted]:
    """The needles and caps of a scene.

    Parameters
    ----------
    family
        The design.
    scene
        Their directions and seats.

    Returns
    -------
    dict
        Dial id to what stands on it.
    """
    made = {}
    for dial in family.dials:
        if dial.id in scene.angles_deg:
            finish, seat = finish_of(family, dial), scene.seats[dial.id]
            bar = bar_of(dial, finish, seat, scene.angles_deg[dial.id])
            made[dial.id] = Mounted(bar, cap_of(dial, finish, seat), finish)
    return made


def draw(family: Family, sheet: Sheet, scene: Scene, rng: np.random.Generator) -> Drawn:
    """Draw a scene and take a picture of it.

    Parameters
    ----------
    family
        The design.
    sheet
        Its face.
    scene
        The scene.
    rng
        Where noise comes from.

    Returns
    -------
    Drawn
        The picture.
    """
    light, covered = draw_light(family, sheet, scene)
    return Drawn(expose(light, scene.sensor, rng), covered)


def draw_light(
    family: Family, sheet: Sheet, scene: Scene
) -> tuple[Picture, NDArray[np.float32] | None]:
    """Draw the light that reaches the camera, before its lens.

    Parameters
    ----------
    family
        The design.
    sheet
        Its face.
    scene
        The scene.

    Returns
    -------
    tuple
        Linear picture, and the share of each pixel that something before the cluster covers.
    """
    camera, pose, light = scene.camera, scene.pose, scene.light
    around = draw_surroundings(camera, pose, family.face_size_mm, scene.housing, light)
    mounted = list(mounted_needles(family, scene).values())
    shadows_on_face(camera, pose, mounted, light, around.lamp)
    picture = lit_face(sheet.seen(camera, pose, frame_rays(camera, pose)), around, light)
    for each in mounted:
        paint_needle(picture, camera, pose, each, light)
    share = around.face_share[..., None]
    picture -= around.picture
    picture *= share
    picture += around.picture
    add_veil(picture, light)
    for glare in scene.glares:
        add_glare(picture, glare)
    covered = None if scene.occluder is None else lay_over(picture, scene.occluder, light)
    add_bloom(picture, 0.10 if light.lit > 0 else 0.035)
    if light.tint != (1.0, 1.0, 1.0):
        picture *= np.array(light.tint, dtype=np.float32)
    return picture, covered


def lit_face(print_seen: Picture, around: Surroundings, light: Light) -> Picture:
    """The bare face under the light.

    Parameters
    ----------
    print_seen
        Linear reflectance, changed in place.
    around
        Light on the face.
    light
        Its strengths.

    Returns
    -------
    ndarray
        Linear light.
    """
    glow = glow_of(print_seen) * np.float32(light.lit) if light.lit > 0 else None
    around_light = around.lamp * np.float32(light.lamp) + around.room * np.float32(light.room)
    print_seen *= around_light[..., None]
    if glow is not None:
        print_seen += glow
    return print_seen
