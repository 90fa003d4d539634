"""A cluster design out of a number: its family document and its face picture."""

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from needlewright.errors import FamilyError
from needlewright.families.folder import FACE_FILE, load_family, write_family
from needlewright.families.model import Family
from needlewright.rehearsal.canvas import Canvas
from needlewright.rehearsal.decoration import (
    Room,
    print_border,
    print_display,
    print_emblem,
    print_name,
    print_tell_tales,
)
from needlewright.rehearsal.dial_print import SMALL_MM, Marks, invent_style, marks_of, print_dial
from needlewright.rehearsal.layout import Layout, Place, invent_layout
from needlewright.rehearsal.lettering import found_fonts
from needlewright.rehearsal.outline import OUTLINES
from needlewright.rehearsal.palette import Palette, invent_palette
from needlewright.rehearsal.scales import SMALL_QUANTITIES, InventedScale, invent_scale

INVENTED: Final = "Invented by needlewright rehearse; no such cluster is made."


@dataclass(frozen=True, slots=True, eq=False)
class InventedFamily:
    """A design that is not in a folder yet."""

    document: dict[str, Any]
    """What goes into family.json."""
    art: NDArray[np.uint8]
    """What goes into face.png: height x width x 3, RGB."""


def invent_family(seed: int) -> InventedFamily:
    """Invent a cluster design.

    Parameters
    ----------
    seed
        0 or more; the same number gives the same design on a machine with the same fonts.

    Returns
    -------
    InventedFamily
        The document and the picture.
    """
    rng = np.random.default_rng([seed, 1])
    layout, palette = invent_layout(rng), invent_palette(rng)
    style = invent_style(rng, found_fonts())
    px_per_mm = float(rng.choice([8.0, 9.0, 10.0, 12.0]))
    name = f"drawn-{seed:04d}"
    scales = _scales(rng, layout)
    canvas = Canvas(layout.size_mm, px_per_mm, palette.ground)
    print_border(canvas, rng, palette)
    # large dials first: an inset lies over the disc of the dial it is set in
    order = sorted(range(len(scales)), key=lambda i: -layout.places[i].radius_mm)
    for i in order:
        print_dial(canvas, layout.places[i], scales[i], style, palette)
    room = Room(layout.size_mm, [(p.centre_mm, p.radius_mm) for p in layout.places])
    displays = print_display(canvas, rng, room, palette, style.font) if rng.random() < 0.8 else []
    print_emblem(canvas, rng, room, palette)
    tell_tales = print_tell_tales(canvas, rng, room, palette)
    print_name(canvas, rng, room, palette, name=name, font=style.font)
    needles = _needles(rng, layout, scales, [marks_of(p, style) for p in layout.places], palette)
    document = {
        "name": name,
        "about": INVENTED,
        "face_size_mm": list(layout.size_mm),
        "px_per_mm": px_per_mm,
        "lens": bool(rng.random() < 0.7),
        "backlight": bool(palette.dark or rng.random() < 0.5),
        "dials": [
            _dial(rng, place, scale, needle)
            for place, scale, needle in zip(layout.places, scales, needles, strict=True)
        ],
        "tell_tales": tell_tales,
        "displays": displays,
    }
    return InventedFamily(document, canvas.finished())


def write_invented(invented: InventedFamily, folder: Path) -> Family:
    """Write an invented design as a family folder.

    Parameters
    ----------
    invented
        The design.
    folder
        Made if it is not there.

    Returns
    -------
    Family
        As loaded from the folder.

    Raises
    ------
    FamilyError
        If it cannot be written.
    """
    coded = io.BytesIO()
    Image.fromarray(invented.art).save(coded, "PNG", compress_level=4)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / FACE_FILE).write_bytes(coded.getvalue())
    except OSError as error:
        raise FamilyError(f"{folder}: cannot be written: {error.strerror or error}") from error
    write_family(invented.document, folder)
    return load_family(folder)


def generate_family(seed: int, folder: Path) -> Family:
    """Invent a cluster design and write it as a family folder.

    Parameters
    ----------
    seed
        As `invent_family`.
    folder
        As `write_invented`.

    Returns
    -------
    Family
        As loaded from the folder.
    """
    return write_invented(invent_family(seed), folder)


def _scales(rng: np.random.Generator, layout: Layout) -> list[InventedScale]:
    small = list(rng.permutation(SMALL_QUANTITIES[:2])) + list(
        rng.permutation(SMALL_QUANTITIES[2:])
    )
    scales = []
    for place in layout.places:
        quantity = str(small.pop(0)) if place.quantity == "small" else place.quantity
        scales.append(invent_scale(rng, place, quantity))
    return scales


def _needles(
    rng: np.random.Generator,
    layout: Layout,
    scales: list[InventedScale],
    marks: list[Marks],
    palette: Palette,
) -> list[dict[str, Any]]:
    """Needles of one make: one outline, heights that go with the dials' sizes."""
    outline = str(rng.choice(list(OUTLINES)))
    height, thick = float(rng.uniform(2.2, 4.6)), float(rng.uniform(0.5, 1.2))
    reach, tail = float(rng.uniform(0.0, 1.0)), float(rng.uniform(0.12, 0.38))
    stout, hub = float(rng.uniform(0.8, 1.25)), float(rng.uniform(0.10, 0.2))
    cap_rise = float(rng.uniform(0.4, 2.2))
    taper = float(rng.uniform(0.35, 1.0))
    made = []
    for place, mark in zip(layout.places, marks, strict=True):
        small = place.radius_mm < SMALL_MM
        tip = mark.minor_mm - (mark.minor_mm - mark.numeral_mm) * 0.6
        length = tip + (mark.outer_mm - tip) * reach
        base = (1.5 if small else 2.5) * stout
        inset = any(
            0 < np.hypot(*np.subtract(p.centre_mm, place.centre_mm)) < place.radius_mm
            for p in layout.places
        )
        made.append(
            {
                "length_mm": round(length, 2),
                "tail_mm": round(length * min(tail, 0.25 if inset else 0.4), 2),
                "base_width_mm": round(base, 2),
                "tip_width_mm": round(max(base * taper, 0.6), 2),
                "hub_radius_mm": round(length * hub * (1.15 if small else 1.0), 2),
                "height_mm": round(height * (0.85 if small else 1.0), 2),
                "thickness_mm": round(thick, 2),
                "colour": [round(c, 3) for c in palette.needle],
                "drawn": {
                    "outline": outline,
                    "line_colour": [round(c, 3) for c in palette.needle_tip],
                    "cap_colour": [round(c, 3) for c in palette.cap],
                    "cap_rise_mm": round(cap_rise, 2),
                },
            }
        )
    return made


def _dial(
    rng: np.random.Generator, place: Place, scale: InventedScale, needle: dict[str, Any]
) -> dict[str, Any]:
    pin = bool(rng.random() < 0.5)
    rest = scale.angles_deg[0] - (scale.sense * float(rng.uniform(3, 8)) if pin else 0.0)
    step = min(b - a for a, b in zip(scale.values, scale.values[1:], strict=False))
    return {
        "id": scale.id,
        "quantity": scale.quantity,
        "unit": scale.unit,
        "centre_mm": list(place.centre_mm),
        "scale": [list(m) for m in zip(scale.values, scale.angles_deg, strict=True)],
        "direction": "cw" if scale.sense > 0 else "ccw",
        "rest_angle_deg": round(rest, 3),
        "rest_pin": pin,
        "needle": needle,
        "graduation": round(step / scale.minor_parts, 6),
    }
