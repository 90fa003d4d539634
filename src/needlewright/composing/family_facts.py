"""A family's dials as plain data: a document for programs and pages, and what a picture draws."""

from typing import Any

from needlewright.families.face import open_face
from needlewright.families.model import Dial, Family
from needlewright.papers.face_marks import FaceDial, Pixels, draw_face_marks


def dial_document(dial: Dial) -> dict[str, Any]:
    """Everything a family says of a dial, defaults filled in."""
    needle, movement = dial.needle, dial.movement
    programme = zip(dial.programme.true_values, dial.programme.shown_values, strict=True)
    return {
        "id": dial.id,
        "quantity": dial.quantity,
        "unit": dial.unit,
        "centre_mm": list(dial.centre_mm),
        "scale": [list(mark) for mark in scale_marks(dial)],
        "beyond_deg": dial.scale.beyond_deg,
        "direction": dial.direction,
        "rest_angle_deg": dial.rest_angle_deg,
        "rest_pin": dial.rest_pin,
        "rest_mark": dial.rest_mark,
        "view_u_deg": dial.view_u_deg,
        "stop_angle_deg": dial.stop_angle_deg,
        "graduation": dial.graduation,
        "programme": [list(point) for point in programme] or None,
        "rule": dial.rule,
        "needle": {
            "length_mm": needle.length_mm,
            "tail_mm": needle.tail_mm,
            "base_width_mm": needle.base_width_mm,
            "tip_width_mm": needle.tip_width_mm,
            "tip_width_deg": 1 / dial.tip_widths(1.0),
            "hub_radius_mm": needle.hub_radius_mm,
            "height_mm": needle.height_mm,
            "thickness_mm": needle.thickness_mm,
            "colour": None if needle.colour is None else list(needle.colour),
            "pitch_u_deg": needle.pitch_u_deg,
        },
        "movement": {
            "kind": movement.kind,
            "cycle_deg": movement.cycle_deg,
            "stop_below_deg": movement.stop_below_deg,
            "repeatability_deg": movement.repeatability_deg,
            "coil_axes_deg": movement.coil_axes_deg,
            "rate_deg_s": movement.rate_deg_s,
            "grease_k": None if movement.grease_k is None else list(movement.grease_k),
        },
    }


def face_dial(dial: Dial) -> FaceDial:
    """What the picture needs of a dial."""
    return FaceDial(
        name=f"{dial.id}, {dial.unit}",
        centre_mm=dial.centre_mm,
        marks=tuple((f"{value:g}", angle) for value, angle in scale_marks(dial)),
        rest_angle_deg=dial.rest_angle_deg,
        length_mm=dial.needle.length_mm,
        tail_mm=dial.needle.tail_mm,
        base_width_mm=dial.needle.base_width_mm,
        tip_width_mm=dial.needle.tip_width_mm,
        hub_radius_mm=dial.needle.hub_radius_mm,
    )


def scale_marks(dial: Dial) -> list[tuple[float, float]]:
    """Value and angle of each mark."""
    return list(zip(dial.scale.values, dial.scale.angles_deg, strict=True))


def face_title(family: Family, size_px: tuple[int, int]) -> str:
    """What stands under the picture of a face.

    Parameters
    ----------
    family
        The cluster design.
    size_px
        Width and height of its picture.

    Returns
    -------
    str
        Name, size, scale.
    """
    width, height = family.face_size_mm
    return (
        f"{family.name}: face {width:g} x {height:g} mm, "
        f"picture {size_px[0]} x {size_px[1]} px at {family.px_per_mm:g} px per mm"
    )


def marked_face(family: Family) -> Pixels:
    """The bare face with the dials drawn over it.

    Parameters
    ----------
    family
        The cluster design.

    Returns
    -------
    NDArray
        RGB, as `papers.face_marks.draw_face_marks` gives it.

    Raises
    ------
    PictureError
        If the face cannot be opened.
    """
    art = open_face(family.face_path)
    title = face_title(family, (art.shape[1], art.shape[0]))
    return draw_face_marks(art, family.px_per_mm, [face_dial(dial) for dial in family.dials], title)
