"""Where the sample families are, and small folders made for one test."""

import copy
import json
from pathlib import Path
from typing import Any

from PIL import Image

FAMILIES = Path(__file__).parents[1] / "data" / "families"
NAMES = ("fam-a", "fam-b", "fam-c", "fam-d", "fam-job")

PLAIN: dict[str, Any] = {
    "name": "plain",
    "face_size_mm": [100, 80],
    "px_per_mm": 4,
    "dials": [
        {
            "id": "speed",
            "quantity": "road speed",
            "unit": "km/h",
            "centre_mm": [50, 40],
            "scale": [[0, -120], [50, -50], [100, 0], [200, 120]],
            "direction": "cw",
            "rest_angle_deg": -126,
            "rest_pin": True,
            "needle": {
                "length_mm": 30,
                "tail_mm": 10,
                "base_width_mm": 2,
                "tip_width_mm": 1,
                "hub_radius_mm": 6,
                "height_mm": 3,
                "thickness_mm": 0.9,
            },
        },
        {
            "id": "fuel",
            "quantity": "fuel level",
            "unit": "fraction of full",
            "centre_mm": [80, 60],
            "scale": [[0, 60], [1, -60]],
            "direction": "ccw",
            "rest_angle_deg": 60,
            "rest_pin": False,
            "needle": {
                "length_mm": 15,
                "tail_mm": 5,
                "base_width_mm": 2,
                "tip_width_mm": 1,
                "hub_radius_mm": 4,
                "height_mm": 3,
                "thickness_mm": 0.9,
            },
        },
    ],
}


def plain() -> dict[str, Any]:
    """A family of core fields only, to be spoilt."""
    return copy.deepcopy(PLAIN)


def put(folder: Path, document: Any, face: tuple[int, int] | None = (400, 320)) -> Path:
    """Write a folder: any document, and a grey face of a size in pixels."""
    folder.mkdir(parents=True, exist_ok=True)
    text = document if isinstance(document, str) else json.dumps(document)
    (folder / "family.json").write_text(text, encoding="utf-8")
    if face is not None:
        Image.new("L", face, 90).save(folder / "face.png")
    return folder
