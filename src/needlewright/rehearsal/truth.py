"""What is true of a drawn picture, in the words of the photo sets' truth.json."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import ScaleError
from needlewright.families.model import Dial, Family
from needlewright.rehearsal.camera import Camera, project
from needlewright.rehearsal.housing import opening_depth
from needlewright.rehearsal.painting import Mounted
from needlewright.rehearsal.scene import Scene, mounted_needles

CONVENTION: Final = (
    "pose_world_to_camera is a 3x4 matrix [A|t]: camera = A @ [x, y, z] + t, in mm. World: face mm "
    "coordinates, x right, y down, z toward the viewer (left-handed, so det A = -1). Camera: x "
    "right, y down, z forward. r2 = (X/Z)^2 + (Y/Z)^2; u = fx (X/Z)(1 + k1 r2 + k2 r2^2) + cx; "
    "v = fy (Y/Z)(1 + k1 r2 + k2 r2^2) + cy. The centre of the top-left pixel is (0, 0). "
    "true_angle_deg is the direction of the needle in the face plane, clockwise from 12 o'clock; "
    "pivot_mm is where its shaft stands on the print, pitch_deg its pitch against the face, "
    "positive when the tip is higher."
)

_ALONG: Final = 160
_ACROSS: Final = 5


def truth_of(family: Family, scene: Scene, covered: NDArray[np.float32] | None) -> dict[str, Any]:
    """Camera, pose and needles of a scene.

    Parameters
    ----------
    family
        The design.
    scene
        The scene.
    covered
        Share of each pixel covered by something before the cluster, or None.

    Returns
    -------
    dict
        `camera`, `pose_world_to_camera`, `tilt_deg`, `dials`, as plain JSON.
    """
    camera, pose = scene.camera, scene.pose
    standing = mounted_needles(family, scene)
    matrix = np.column_stack([pose.turn, pose.shift_mm])
    return {
        "tilt_deg": round(pose.tilt_deg, 3),
        "jpeg_quality": scene.sensor.jpeg_quality,
        "exif_focal_35mm": scene.sensor.exif_focal_35mm,
        "camera": {
            "width": camera.width_px,
            "height": camera.height_px,
            "fx": camera.focal_px,
            "fy": camera.focal_px,
            "cx": camera.cx_px,
            "cy": camera.cy_px,
            "k1": camera.k1,
            "k2": camera.k2,
        },
        "pose_world_to_camera": [[round(float(v), 9) for v in row] for row in matrix],
        "dials": {
            dial.id: _needle(family, dial, scene, standing[dial.id], covered)
            for dial in family.dials
            if dial.id in standing
        },
    }


def visible_fraction(
    family: Family,
    scene: Scene,
    mounted: Mounted,
    hub_radius_mm: float,
    covered: NDArray[np.float32] | None,
) -> float:
    """Share of a needle between hub and tip with nothing solid before it, inside the frame.

    Parameters
    ----------
    family
        The design.
    scene
        The scene.
    mounted
        The needle.
    hub_radius_mm
        Where the counting begins.
    covered
        As `truth_of`.

    Returns
    -------
    float
        0 to 1.
    """
    points = _top_points(mounted, hub_radius_mm)
    camera, eye = scene.camera, scene.pose.eye_mm
    px = project(camera, scene.pose, points)
    seen = _in_frame(px, camera) & ~mounted.cap.hides(points, eye)
    seen &= _through_opening(family, scene, points, eye)
    if covered is not None:
        column = np.clip(np.round(px[:, 0]).astype(int), 0, camera.width_px - 1)
        row = np.clip(np.round(px[:, 1]).astype(int), 0, camera.height_px - 1)
        seen &= covered[row, column] < 0.5
    return float(seen.mean())


def _needle(
    family: Family,
    dial: Dial,
    scene: Scene,
    mounted: Mounted,
    covered: NDArray[np.float32] | None,
) -> dict[str, Any]:
    angle, seat = scene.angles_deg[dial.id], scene.seats[dial.id]
    share = visible_fraction(family, scene, mounted, dial.needle.hub_radius_mm, covered)
    tip = mounted.bar.centre_line_mm(np.array([mounted.bar.along_mm[-1]]))
    tip_px = project(scene.camera, scene.pose, tip)[0]
    try:
        value = round(dial.scale.value_at(angle), 6)
    except ScaleError:
        value = None
    return {
        "true_angle_deg": round(angle, 6),
        "true_value": value,
        "on_scale": dial.scale.contains_angle(angle),
        "needle_visible_fraction": round(share, 4),
        "tip_px": [round(float(v), 4) for v in tip_px],
        "pivot_mm": [round(v, 5) for v in seat.pivot_mm],
        "pitch_deg": round(seat.pitch_deg, 5),
    }


def _top_points(mounted: Mounted, hub_radius_mm: float) -> NDArray[np.float64]:
    """Points spread evenly over the top surface from the hub to the tip."""
    bar = mounted.bar
    along = hub_radius_mm + (np.arange(_ALONG) + 0.5) / _ALONG * (bar.along_mm[-1] - hub_radius_mm)
    half = np.interp(along, bar.along_mm, bar.half_width_mm)
    line = bar.centre_line_mm(along)
    dx, dy = bar.direction
    shares = (np.arange(_ACROSS) + 0.5) / _ACROSS * 2 - 1
    side = np.array([-dy, dx, 0.0])
    return np.concatenate([line + share * half[:, None] * side for share in shares])


def _in_frame(px: NDArray[np.float64], camera: Camera) -> NDArray[np.bool_]:
    inside_x = (px[:, 0] >= 0) & (px[:, 0] <= camera.width_px - 1)
    return np.asarray(inside_x & (px[:, 1] >= 0) & (px[:, 1] <= camera.height_px - 1))


def _through_opening(
    family: Family, scene: Scene, points: NDArray[np.float64], eye: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether the way to the eye passes the housing's opening."""
    rise = scene.housing.depth_mm - points[:, 2]
    toward = eye - points
    x = points[:, 0] + toward[:, 0] / toward[:, 2] * rise
    y = points[:, 1] + toward[:, 1] / toward[:, 2] * rise
    inside = opening_depth(scene.housing, family.face_size_mm, x, y) > 0
    return np.asarray(inside | (rise <= 0))


def document_of(
    family_name: str, photos: Sequence[Mapping[str, Any]], **more: Any
) -> dict[str, Any]:
    """The whole of truth.json.

    Parameters
    ----------
    family_name
        Of the design.
    photos
        One entry each.
    **more
        Further facts of the set.

    Returns
    -------
    dict
        Plain JSON.
    """
    return {"family": family_name, "convention": CONVENTION, **more, "photos": list(photos)}
